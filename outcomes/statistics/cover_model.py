"""Each lid's chance of having had the second cover, with all patients and with each of them left out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import special

from outcomes.statistics.jackknife import all_and_each_left_out
from outcomes.statistics.linearised import is_large
from outcomes.statistics.log_f_logistic import Penalty, log_f
from outcomes.statistics.logistic import maximum_likelihood
from outcomes.statistics.logistic_model import LogisticModel, all_but_cover, fit_each_left_out, logistic_model
from outcomes.statistics.overlap import effective_size
from outcomes.statistics.two_cohorts import TwoCohorts

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class CoverModel:
    """The cover model of some lids; made once for all outcomes measured on just these lids.

    `counted` says which lids count in a row, and `chance` is the fitted chance of the second cover: in the first row
    with all patients, and then a row for each patient left out. A row whose model did not settle is nan. A model of so
    many patients that none is left out in fact (see `linearised.is_large`) has the first row only. `of_all` is the model
    of all patients.
    """

    cohorts: TwoCohorts
    counted: Numbers
    chance: Numbers
    of_all: LogisticModel

    @property
    def is_linearised(self) -> bool:
        """Tell whether what leaving out a patient does is worked out from derivatives."""
        return is_large(self.cohorts.patients)

    def influence_of_chances(self, slope: Numbers) -> Numbers:
        """Return what each lid does to an estimate by moving the chances; `slope` has the move with each lid's log odds."""
        return self.of_all.influence(self.cohorts.columns.transposed_times(slope))

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
    model = logistic_model(
        cohorts.columns, cohorts.second.astype(np.float64), all_but_cover(cohorts.columns), penalty=penalty
    )
    if counted is None:
        all_lids = np.ones((1, cohorts.second.size))
        counted = all_lids if is_large(cohorts.patients) else all_and_each_left_out(cohorts.patient)
    if counted.shape[0] == 1:
        return CoverModel(cohorts, counted, model.chance[np.newaxis], model)
    columns = cohorts.columns.dense()[:, model.places]
    chance = special.expit(fit_each_left_out(model, counted) @ columns.T)
    return CoverModel(cohorts, counted, np.asarray(chance, dtype=np.float64), model)


def row_means(value: Numbers, weight: Numbers) -> Numbers:
    """Return the weighted mean of each row; nan where a row weighs nothing.

    >>> row_means(np.array([1.0, 3.0]), np.array([[1.0, 3.0], [0.0, 0.0]]))
    array([2.5, nan])
    """
    total = weight.sum(axis=1)
    means = np.full(total.shape, np.nan)
    np.divide((weight * value).sum(axis=1), total, out=means, where=total > 0)
    return means
