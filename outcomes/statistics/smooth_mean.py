"""A smooth mean over an order, with pointwise limits, by a natural cubic spline."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from outcomes.statistics.result import Interval
from outcomes.statistics.validation import check_confidence_level, check_finite, check_labels, check_lengths, numbered

Numbers = NDArray[np.float64]
KNOTS = (0.10, 0.50, 0.90)
TERMS = 3


def smooth_mean(
    place: ArrayLike, value: ArrayLike, patient: ArrayLike, *, at: ArrayLike, confidence_level: float = 0.95
) -> tuple[Interval, ...]:
    """Return the mean at each of the places `at`, smoothed over the places of the lids.

    One entry a lid: `place` a number such as the order of operation, `value` in any unit, `patient` any label. Three knots,
    at the 10th, 50th and 90th percentile; straight beyond the outer ones. The limits are pointwise, with a standard error
    that holds for lids of one patient and Student's t with patients less terms. nan with fewer patients than terms and two
    more, or where the knots coincide.

    Source: Harrell FE. Regression Modeling Strategies, 2001, section 2.4 (from memory), with the cluster-robust variance of
    Liang KY, Zeger SL. Biometrika 1986;73:13-22 (from memory) times G/(G-1) x (n-1)/(n-p).

    >>> found = smooth_mean(range(8), [1, 2, 3, 4, 5, 6, 7, 8.5], range(8), at=[0, 7])
    >>> [round(each.estimate, 2) for each in found]
    [1.04, 8.34]
    """
    check_confidence_level(confidence_level)
    check_lengths(place=place, value=value, patient=patient)
    places, values, wanted = check_finite("place", place), check_finite("value", value), check_finite("at", at)
    who = numbered(check_labels("patient", patient, places.size))
    patients = int(who.max(initial=-1)) + 1
    knots = np.quantile(places, KNOTS) if places.size else np.zeros(TERMS)
    if patients < TERMS + 2 or knots[0] == knots[1] or knots[1] == knots[2]:
        return tuple(Interval(math.nan, math.nan, math.nan, confidence_level) for _ in wanted)
    columns, rows = _columns(places, knots), _columns(wanted, knots)
    inverse = np.linalg.pinv(columns.T @ columns)
    coefficients = inverse @ columns.T @ values
    residuals = values - columns @ coefficients
    scores = np.stack([np.bincount(who, residuals * column, patients) for column in columns.T])
    factor = patients / (patients - 1) * (places.size - 1) / (places.size - TERMS)
    covariance = factor * inverse @ (scores @ scores.T) @ inverse
    errors = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", rows, covariance, rows), 0.0))
    reach = float(special.stdtrit(patients - TERMS, 0.5 + confidence_level / 2)) * errors
    middle = rows @ coefficients
    return tuple(
        Interval(float(mean), float(mean - half), float(mean + half), confidence_level)
        for mean, half in zip(middle, reach, strict=True)
    )


def _columns(places: Numbers, knots: Numbers) -> Numbers:
    """The intercept, the place, and the one bent term of a natural cubic spline with three knots."""
    first, middle, last = knots
    cubes = [np.maximum(places - knot, 0.0) ** 3 for knot in (first, middle, last)]
    bent = cubes[0] - cubes[1] * (last - first) / (last - middle) + cubes[2] * (middle - first) / (last - middle)
    return np.column_stack([np.ones(places.size), places, bent / (last - first) ** 2])
