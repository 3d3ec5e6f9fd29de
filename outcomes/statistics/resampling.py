"""The bootstrap over patients, and its percentile interval widened for small numbers."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from outcomes.statistics.result import Interval
from outcomes.statistics.validation import (
    check_confidence_level,
    check_labels,
    check_lengths,
    check_whole,
    check_yes_no,
)

Numbers = NDArray[np.float64]
MOST_LOST = 0.05


def resample_patients(patient: ArrayLike, second: ArrayLike, *, resamples: int = 2_000, seed: int = 1979) -> Numbers:
    """Return how often each lid was drawn in each resample: a row a resample, a column a lid.

    Patients are drawn with replacement, with all their lids. Those with only the first cover, only the second, and
    both are drawn apart, so that each cohort keeps its number of patients and is never empty. One matrix serves every
    question: take the columns of the lids that have an answer. Equal arguments give equal draws, and so do the two covers
    exchanged, so that an exchange turns every interval round and moves none. ValueError for a `second` other than 0 and
    1, a missing patient, columns of unequal length, or fewer resamples than 1.

    Source: Davison AC, Hinkley DV. Bootstrap Methods and their Application, 1997, sections 3.2 and 3.8 (from memory).

    >>> resample_patients(["a", "a", "b"], [False, False, True], resamples=2)
    array([[1., 1., 1.],
           [1., 1., 1.]])
    """
    check_lengths(patient=patient, second=second)
    later, count = check_yes_no("second", second), int(check_whole("resamples", resamples, least=1))
    _, place = np.unique(check_labels("patient", patient, later.size), return_inverse=True)
    patients = int(place.max(initial=-1)) + 1
    has_first = np.bincount(place[~later], minlength=patients) > 0
    has_second = np.bincount(place[later], minlength=patients) > 0
    generator = np.random.default_rng(seed)
    drawn = np.zeros((count, patients))
    kinds = (has_first & ~has_second, ~has_first & has_second, has_first & has_second)
    for members in sorted((kind for kind in kinds if kind.any()), key=lambda kind: int(kind.argmax())):
        size = int(members.sum())
        drawn[:, members] = generator.multinomial(size, np.full(size, 1 / size), size=count)
    return drawn[:, place]


def percentile_interval(
    estimate: float, resampled: ArrayLike, patients: int, *, confidence_level: float = 0.95
) -> Interval:
    """Return the estimate with the interval that the resampled estimates give, widened for small numbers.

    `resampled` holds the estimate of every resample, nan where it could not be made; `patients` is the number in the
    smaller cohort. Plain percentiles cover too seldom in tens of patients, so that those taken lie further out, as
    far as Student's t with `patients - 1` degrees of freedom lies beyond the normal curve. Limits are values that
    occurred. They are nan below two patients, or where more than 5 % of the resamples gave nothing. Not for a
    proportion: with no events every resample has none, and the interval collapses; use
    `clusters.effective_difference` there. ValueError for a confidence level outside 0 to 1, and for a number of patients
    that is negative or no whole number.

    Source: the expanded percentile of Hesterberg TC. Am Stat 2015;69:371-386 (from memory).

    >>> percentile_interval(0.5, [0.0, 0.5, 0.5, 1.0], 20)
    Interval(estimate=0.5, low=0.0, high=1.0)
    """
    check_confidence_level(confidence_level)
    check_whole("patients", patients)
    every = np.asarray(resampled, dtype=float)
    found = every[~np.isnan(every)]
    if patients < 2 or found.size < (1 - MOST_LOST) * max(every.size, 1) or math.isnan(estimate):
        return Interval(estimate, math.nan, math.nan)
    student = float(special.stdtrit(patients - 1, 0.5 + confidence_level / 2))
    tail = float(special.ndtr(-student * math.sqrt(patients / (patients - 1))))
    low = np.quantile(found, tail, method="inverted_cdf")
    high = -np.quantile(-found, tail, method="inverted_cdf")
    return Interval(estimate, float(low), float(high))
