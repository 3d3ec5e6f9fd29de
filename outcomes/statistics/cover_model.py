"""Each lid's chance of having had the second cover, with all patients and with each of them left out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import special

from outcomes.statistics.jackknife import all_and_each_left_out, in_blocks
from outcomes.statistics.linearised import is_large, through_model
from outcomes.statistics.log_f_logistic import Penalty, fit_log_f, log_f
from outcomes.statistics.logistic import maximum_likelihood
from outcomes.statistics.overlap import effective_size
from outcomes.statistics.two_cohorts import TwoCohorts

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class CoverModel:
    """The cover model of some lids; made once for all outcomes measured on just these lids.

    `counted` says which lids count in a row, and `chance` is the fitted chance of the second cover: in the first row
    with all patients, and then a row for each patient left out. A row whose model did not settle is nan. A model of so
    many patients that none is left out in fact (see `linearised.is_large`) has the first row only, and `coefficients`.
    """

    cohorts: TwoCohorts
    counted: Numbers
    chance: Numbers
    coefficients: Numbers

    @property
    def is_linearised(self) -> bool:
        """Tell whether what leaving out a patient does is worked out from derivatives."""
        return is_large(self.cohorts.patients)

    def influence_of_chances(self, slope: Numbers) -> Numbers:
        """Return what each lid does to an estimate by moving the chances; `slope` has the move with each lid's log odds."""
        columns = np.column_stack([np.ones(self.cohorts.second.size), self.cohorts.covariates])
        fitted = self.coefficients[0], self.chance[0]
        return through_model(columns, self.cohorts.second.astype(np.float64), fitted, slope @ columns)

    @cached_property
    def weights(self) -> Numbers:
        """The overlap weights, row by row: each lid's chance of the other cover, 0 for the lids left out."""
        return np.where(self.cohorts.second, 1 - self.chance, self.chance) * self.counted

    def weighted_means(self, value: Numbers) -> Numbers:
        """Return the weighted mean of the first cohort and of the second (columns), row by row; nan without weight.

        `value` has an entry a lid, or a row of them for each row of the model.
        """
        sides = [np.where(side, self.weights, 0.0) for side in (~self.cohorts.second, self.cohorts.second)]
        return np.column_stack([row_means(value, side) for side in sides])

    @property
    def effective_sizes(self) -> tuple[float, float]:
        """How many equally weighted lids would know as much, in the first cohort and the second; 0 without a model."""
        weight, second = np.nan_to_num(self.weights[0]), self.cohorts.second
        return effective_size(weight[~second]), effective_size(weight[second])

    @property
    def open_choices(self) -> tuple[float, float]:
        """To how many lids whose choice was even the lids of each cohort add up; a certain one counts nothing."""
        weight, second = np.nan_to_num(self.weights[0]), self.cohorts.second
        return float(2 * weight[~second].sum()), float(2 * weight[second].sum())

    @cached_property
    def separated(self) -> bool:
        """Tell whether the characteristics tell the covers apart, so that without the penalty there were no model."""
        if min(self.cohorts.lids) == 0:
            return True
        return maximum_likelihood(self.cohorts.covariates, self.cohorts.second).separated


def cover_model(cohorts: TwoCohorts) -> CoverModel:
    """Return the logistic model of the cover on the standardised characteristics, penalised by log-F(1,1).

    The penalty keeps every chance off 0 and 1, also where the characteristics tell the covers apart; look at
    `separated` and `effective_sizes` before comparing anything.

    Source: Greenland S, Mansournia MA. Stat Med 2015;34:3133-3143 (from memory).

    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> model = cover_model(two_cohorts([0, 0, 1, 1], range(4), covariates=[[0], [1], [0], [1]]))
    >>> model.chance[0], model.separated
    (array([0.5, 0.5, 0.5, 0.5]), False)
    """
    return _cover_model(cohorts, log_f)


def cover_model_of_all(cohorts: TwoCohorts) -> CoverModel:
    """Return the same model with the row of all patients alone, for weights and overlap without any variance.

    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> cover_model_of_all(two_cohorts([0, 0, 1, 1], range(4), covariates=[[0], [1], [0], [1]])).chance
    array([[0.5, 0.5, 0.5, 0.5]])
    """
    return _cover_model(cohorts, log_f, np.ones((1, cohorts.second.size)))


def _cover_model(cohorts: TwoCohorts, penalty: Penalty, counted: Numbers | None = None) -> CoverModel:
    if counted is None:
        all_lids = np.ones((1, cohorts.second.size))
        counted = all_lids if is_large(cohorts.patients) else all_and_each_left_out(cohorts.patient)
    columns = np.column_stack([np.ones(cohorts.second.size), cohorts.covariates])
    coefficients = fit_each_left_out(columns, cohorts.second.astype(np.float64), counted, penalty)
    chance = np.asarray(special.expit(coefficients @ columns.T), dtype=np.float64)
    return CoverModel(cohorts, counted, chance, coefficients)


def row_means(value: Numbers, weight: Numbers) -> Numbers:
    """Return the weighted mean of each row; nan where a row weighs nothing.

    >>> row_means(np.array([1.0, 3.0]), np.array([[1.0, 3.0], [0.0, 0.0]]))
    array([2.5, nan])
    """
    total = weight.sum(axis=1)
    means = np.full(total.shape, np.nan)
    np.divide((weight * value).sum(axis=1), total, out=means, where=total > 0)
    return means


def fit_each_left_out(columns: Numbers, outcome: Numbers, counted: Numbers, penalty: Penalty) -> Numbers:
    """Return the coefficients of the model of all lids, then of those of each row; nan where a model did not settle.

    Each row starts from the model of all lids, from where three or four Newton steps are enough.
    """
    best, settled = fit_log_f(columns, outcome, counted[:1], penalty=penalty)
    if not settled[0]:
        return np.full((counted.shape[0], columns.shape[1]), np.nan)
    coefficients = [best]
    if counted.shape[0] == 1:
        return best
    for block in in_blocks(counted[1:], columns.size * (columns.shape[1] + 1) // 2):
        others, settled = fit_log_f(columns, outcome, block, start=best[0], penalty=penalty)
        others[~settled] = np.nan
        coefficients.append(others)
    return np.concatenate(coefficients)
