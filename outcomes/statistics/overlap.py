"""Overlap weights, and what a weighted comparison is worth."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from outcomes.statistics.validation import check_finite, check_lengths, check_yes_no

Numbers = NDArray[np.float64]


def overlap_weights(propensity: ArrayLike, second: ArrayLike) -> Numbers:
    """Return each lid's weight: its chance of having had the other cover.

    `propensity` is the fitted chance of the second cover, from 0 to 1; `second` whether the lid had it. It may be one
    row, or a row a resample. A lid whose cover was certain weighs nothing. After `maximum_likelihood` the weighted
    means of every covariate of the model are exactly equal under both covers; after `firth` only nearly. What is then
    estimated belongs to the lids for which the choice was open, not to all.

    Source: Li F, Morgan KL, Zaslavsky AM. J Am Stat Assoc 2018;113:390-400.

    >>> overlap_weights([0.25, 0.25, 0.75], [True, False, False])
    array([0.75, 0.25, 0.75])
    """
    later = check_yes_no("second", second)
    chance = _rows("propensity", propensity, later.size, most=1.0)
    return np.asarray(np.where(later, 1 - chance, chance), dtype=float)


def effective_size(weight: ArrayLike) -> float:
    """Return how many equally weighted lids would know as much: the square of the sum over the sum of squares.

    Never more than the number of lids; 0 where nothing weighs anything. Lids of one patient are counted as if of two:
    `clusters.effective_proportion` counts them together.

    Source: Kish L. Survey Sampling, 1965 (from memory).

    >>> effective_size([1.0, 1.0, 0.0, 0.0])
    2.0
    """
    weights = check_finite("weight", weight, least=0)
    squares = float((weights**2).sum())
    return float(weights.sum()) ** 2 / squares if squares > 0 else 0.0


def weighted_difference(value: ArrayLike, second: ArrayLike, weight: ArrayLike) -> Numbers:
    """Return the weighted mean of the second cover's lids minus that of the first's, one for each row of weights.

    `value` has an entry a lid, in any unit (a proportion for 0 and 1); `weight` is a row, or a row a resample. nan in
    a row where one cover weighs nothing.

    >>> weighted_difference([1.0, 3.0, 2.0], [False, False, True], [[1.0, 3.0, 1.0], [1.0, 1.0, 0.0]])
    array([-0.5,  nan])
    """
    check_lengths(value=value, second=second)
    values, later = check_finite("value", value), check_yes_no("second", second)
    weights = np.atleast_2d(_rows("weight", weight, values.size, most=math.inf))
    return _mean(values[later], weights[:, later]) - _mean(values[~later], weights[:, ~later])


def _rows(name: str, given: ArrayLike, lids: int, *, most: float) -> Numbers:
    """A row of numbers from 0 on, one a lid, or a row a resample; a row that is nan throughout is a fit that failed."""
    numbers = np.asarray(given, dtype=float)
    if numbers.ndim not in {1, 2} or numbers.shape[-1] != lids:
        raise ValueError(
            f"{name} has the shape {numbers.shape}: must have a number for each of {lids} lids in every row"
        )
    failed = np.isnan(numbers).all(axis=-1, keepdims=True) & (numbers.ndim == 2)
    check_finite(name, np.where(failed, 0.0, numbers), least=0, most=most)
    return numbers


def _mean(value: Numbers, weight: Numbers) -> Numbers:
    total = weight.sum(axis=1)
    means = np.full(total.shape, math.nan)
    np.divide(weight @ value, total, out=means, where=total > 0)
    return means
