"""The variance of an estimate by leaving out one patient at a time."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from outcomes.statistics.linearised import is_large
from outcomes.statistics.result import TestedEstimate, not_estimable, student_estimate
from outcomes.statistics.two_cohorts import TwoCohorts

Numbers = NDArray[np.float64]
SHRUNK_FROM_LIDS = 25
FEWEST_DEGREES = 2.0
WORK_WITHOUT_THREADS = 250_000  # multiplications
VANISHING = 1e-18  # what rounding leaves of no variance


def all_and_each_left_out(patient: NDArray[np.intp]) -> Numbers:
    """Return a row of ones, and for each patient a row that counts the lids of the others once and theirs not at all.

    >>> all_and_each_left_out(np.array([0, 0, 1]))
    array([[1., 1., 1.],
           [0., 0., 1.],
           [1., 1., 0.]])
    """
    rows = np.ones((int(patient.max(initial=-1)) + 2, patient.size))
    rows[patient + 1, np.arange(patient.size)] = 0.0
    return rows


def in_blocks(rows: Numbers, work_a_row: int) -> list[Numbers]:
    """Return the rows in blocks whose products are too small for the linear algebra library to start threads for.

    On products of this size threads cost more than they save, and far more where the processors are shared.

    >>> [block.shape[0] for block in in_blocks(np.ones((5, 2)), 100_000)]
    [2, 2, 1]
    """
    at_once = max(1, WORK_WITHOUT_THREADS // max(work_a_row, 1))
    return [rows[start : start + at_once] for start in range(0, rows.shape[0], at_once)]


def jackknife_covariance(left_out: Numbers) -> Numbers:
    """Return the covariance of estimates (columns) from their values with each patient left out (rows).

    Centred on the mean of the rows, with the factor (G - 1)/G for G patients.

    Source: Efron B, Stein C. Ann Stat 1981;9:586-596 (from memory).

    >>> jackknife_covariance(np.array([[1.0], [2.0], [3.0]])).round(4).tolist()
    [[1.3333]]
    """
    patients = left_out.shape[0]
    from_mean = left_out - left_out.mean(axis=0)
    return np.asarray((patients - 1) / patients * from_mean.T @ from_mean, dtype=np.float64)


def refitting_factor(cohorts: TwoCohorts) -> float:
    """Return what a jackknife variance is multiplied by: leaving a patient out and refitting makes it too large.

    (G - 1 - p)/(G - 1) for G patients and p characteristics from 25 lids in the smaller cohort on, 1 below. Where the
    refitting is taken from derivatives (see `linearised.is_large`) it is too small by as much, and this is one over that.

    This project's own choice, by simulation.

    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> refitting_factor(two_cohorts([0, 1] * 26, range(52), covariates=np.arange(52)[:, None] ** [1, 2, 3]))
    0.9411764705882353
    """
    others = cohorts.patients - 1
    if min(cohorts.lids) < SHRUNK_FROM_LIDS or others <= cohorts.terms:
        return 1.0
    factor = (others - cohorts.terms) / others
    return 1 / factor if is_large(cohorts.patients) else factor


def jackknife_difference(
    differences: Numbers, cohorts: TwoCohorts, *, least_error: float, beside: int, confidence_level: float
) -> TestedEstimate:
    """Return the first difference with limits and p from the others, which have one patient left out each.

    `least_error` is what the standard error is at least; `beside` as in `patients_minus_terms`. Not estimable where
    all lids of a cohort are one patient's, or a difference could not be had.

    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> lids = two_cohorts([0, 0, 1, 1], range(4))
    >>> found = jackknife_difference(np.array([1.0, 0.5, 1.5, 0.5, 1.5]), lids, least_error=0.0, beside=2,
    ...     confidence_level=0.95)
    >>> round(found.standard_error, 4), found.degrees_of_freedom
    (0.866, 2.0)
    """
    estimate = float(differences[0])
    if min(cohorts.patients_a_cohort) < 2 or not np.isfinite(differences).all():
        return not_estimable(confidence_level, estimate=estimate)
    variance = refitting_factor(cohorts) * float(jackknife_covariance(differences[1:, np.newaxis])[0, 0])
    error = math.sqrt(variance) if variance > VANISHING else 0.0
    freedom = patients_minus_terms(cohorts, beside=beside)
    return student_estimate(estimate, max(error, least_error), freedom, confidence_level=confidence_level)


def patients_minus_terms(cohorts: TwoCohorts, *, beside: int) -> float:
    """Return the degrees of freedom: patients less characteristics and `beside` further coefficients, at least 2.

    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> patients_minus_terms(two_cohorts([0, 1] * 10, range(20)), beside=2)
    18.0
    """
    return max(FEWEST_DEGREES, float(cohorts.patients - cohorts.terms - beside))
