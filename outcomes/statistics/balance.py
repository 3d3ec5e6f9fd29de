"""Standardised differences between two cohorts before anything was done."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from outcomes.statistics.validation import check_finite, check_weights, check_yes_no


def standardised_difference(
    first: ArrayLike,
    second: ArrayLike,
    *,
    first_weight: ArrayLike | None = None,
    second_weight: ArrayLike | None = None,
) -> float:
    """Return the mean of `second` minus that of `first`, in standard deviations, for a measured covariate.

    The standard deviation is the root of the mean of the two plain variances (n - 1), also where the means are
    weighted: the yardstick stays the same before and after weighting. nan where it is 0 or a cohort has fewer than
    two values: two constants that differ are as unlike as can be, and have no standardised difference, so look at the
    means then.

    Source: Austin PC. Stat Med 2009;28:3083-3107.

    >>> round(standardised_difference([25, 27, 22, 31], [23, 30, 35, 28, 40]), 4)
    0.9276
    """
    earlier, later = check_finite("first", first), check_finite("second", second)
    if min(earlier.size, later.size) < 2:
        return math.nan
    gap = _mean(later, second_weight) - _mean(earlier, first_weight)
    return _standardise(gap, _variance(earlier, 1), _variance(later, 1))


def standardised_difference_of_shares(
    first: ArrayLike,
    second: ArrayLike,
    *,
    first_weight: ArrayLike | None = None,
    second_weight: ArrayLike | None = None,
) -> float:
    """Return the share having something in `second` minus that in `first`, in standard deviations; values are 0 or 1.

    A covariate with several levels has one difference a level. The plain variances p (1 - p) are used with and
    without weights; nan where both are 0, even if one share is 0 and the other 1: look at the shares then.

    Source: Austin PC. Stat Med 2009;28:3083-3107.

    >>> round(standardised_difference_of_shares([1] * 5 + [0] * 25, [1] * 12 + [0] * 28), 4)
    0.3192
    """
    earlier, later = (check_yes_no(*each).astype(np.float64) for each in (("first", first), ("second", second)))
    if min(earlier.size, later.size) < 1:
        return math.nan
    gap = _mean(later, second_weight) - _mean(earlier, first_weight)
    return _standardise(gap, _variance(earlier, 0), _variance(later, 0))


def _mean(value: NDArray[np.float64], weight: ArrayLike | None) -> float:
    return float(np.average(value, weights=check_weights(weight, value.size)))


def _variance(value: NDArray[np.float64], lost: int) -> float:
    constant = bool(np.all(value == value[0]))  # rounding must not lend a constant a hair of variance
    return 0.0 if constant else float(value.var(ddof=lost))


def _standardise(gap: float, first_variance: float, second_variance: float) -> float:
    yardstick = math.sqrt((first_variance + second_variance) / 2)
    return gap / yardstick if yardstick > 0 else math.nan
