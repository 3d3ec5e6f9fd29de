"""The adjusted difference with each measured lid standing for those like it that were not measured."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from outcomes.statistics.design_matrix import COVER, DesignMatrix
from outcomes.statistics.jackknife import all_and_each_left_out, in_blocks, jackknife_difference
from outcomes.statistics.linear_model import independent_columns
from outcomes.statistics.linearised import is_large, left_out_values
from outcomes.statistics.logistic_model import all_columns, fit_each_left_out, logistic_model
from outcomes.statistics.result import TestedEstimate
from outcomes.statistics.two_cohorts import TwoCohorts
from outcomes.statistics.validation import check_confidence_level, check_finite

Numbers = NDArray[np.float64]
LEAST_CHANCE = 0.1
HAIR = 1e-10


def inverse_measured_difference(
    value: ArrayLike, due: TwoCohorts, *, step: float = 0.0, confidence_level: float = 0.95
) -> TestedEstimate:
    """Return the mean of the second cohort minus that of the first, as if those like the unmeasured had been measured.

    `due` holds every lid that was due, measured or not, and `value` has an entry for each, nan where it was not
    measured; 0 and 1 for a share. The chance of being measured is a logistic model on the cover and the
    characteristics, penalised by log-F(1,1); each measured lid then weighs one over its chance, at most ten, in the
    linear model on the same. The variance leaves out one patient at a time and fits both models again. What lids like
    those measured cannot tell, this cannot either: if the result itself decided who came, it is as wrong as the plain
    difference. `step` as in `linear_difference`.

    Source: Robins JM, Rotnitzky A, Zhao LP. J Am Stat Assoc 1995;90:106-121 (from memory); the limit of ten is this
    project's own choice.

    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> due = two_cohorts([0] * 6 + [1] * 6, range(12), covariates=[[0], [0], [0], [1], [1], [1]] * 2)
    >>> value = [1.0, 2.0, 1.5, 4.0, float("nan"), float("nan"), 2.0, 3.0, 2.5, 5.0, 5.5, 4.5]
    >>> round(inverse_measured_difference(value, due).estimate, 2)
    1.0
    """
    check_confidence_level(confidence_level)
    given = np.asarray(value, dtype=np.float64)
    known = ~np.isnan(given)
    check_finite("value", given[known])
    values = due.one_a_lid("value", np.where(known, given, 0.0))
    measured = known[due.columns.order]
    kept = due.of_rows(measured)
    if is_large(due.patients):
        differences = _linearised(due.columns, values, measured, due.patient)
    else:
        counted = all_and_each_left_out(due.patient)
        weights = counted * measured / _chance_of_being_measured(due.columns, measured, counted)
        differences = _weighted_cover_coefficients(due.columns, values, weights)
    return jackknife_difference(
        differences,
        kept,
        least_error=kept.least_error(step),
        beside=2,
        confidence_level=confidence_level,
    )


def _chance_of_being_measured(columns: DesignMatrix, measured: NDArray[np.bool_], counted: Numbers) -> Numbers:
    """Row by row; 1 where nobody counted is unmeasured, as there is nothing to make up for."""
    complete = counted @ ~measured == 0
    if complete[0]:
        return np.ones_like(counted)
    model = logistic_model(columns, measured.astype(np.float64), all_columns(columns))
    coefficients = fit_each_left_out(model, counted)
    chance = np.maximum(special.expit(coefficients @ columns.dense().T), LEAST_CHANCE)
    chance[complete] = 1.0
    return np.asarray(chance, dtype=np.float64)


def _weighted_cover_coefficients(columns: DesignMatrix, values: Numbers, weights: Numbers) -> Numbers:
    """The coefficient of the cover in the weighted linear model of each row of weights."""
    kept = independent_columns(columns, weights[0] > 0)
    if COVER not in kept:
        return np.full(weights.shape[0], np.nan)
    model, size = columns.dense()[:, kept], len(kept)
    products = (model[:, :, np.newaxis] * model[:, np.newaxis, :]).reshape(values.size, -1)
    found = []
    for block in in_blocks(weights, products.size):
        information = (block @ products).reshape(-1, size, size) + HAIR * np.eye(size)
        moments = ((block * values) @ model)[:, :, np.newaxis]
        found.append(np.linalg.solve(information, moments)[:, COVER, 0])
    return np.concatenate(found)


def _linearised(
    columns: DesignMatrix, values: Numbers, measured: NDArray[np.bool_], patient: NDArray[np.intp]
) -> Numbers:
    """The coefficient of the cover, and what it is without each patient, from derivatives."""
    came = None if measured.all() else logistic_model(columns, measured.astype(np.float64), all_columns(columns))
    chance = np.ones(values.size) if came is None else came.chance
    weight = measured / np.maximum(chance, LEAST_CHANCE)
    kept = independent_columns(columns, measured)
    if COVER not in kept:
        return np.full(int(patient.max()) + 2, np.nan)
    inverse = np.zeros((columns.size, columns.size))
    information = columns.cross_products(weight)[np.ix_(kept, kept)] + HAIR * np.eye(len(kept))
    inverse[np.ix_(kept, kept)] = np.linalg.inv(information)
    coefficients = inverse @ columns.transposed_times(weight * values)
    influence = weight * columns.times(inverse[COVER]) * (values - columns.times(coefficients))
    if came is None:
        return left_out_values(float(coefficients[COVER]), influence, patient)
    slope = np.where(chance > LEAST_CHANCE, -(1 - chance) * influence, 0.0)
    through = came.influence(columns.transposed_times(slope))
    return left_out_values(float(coefficients[COVER]), influence + through, patient)
