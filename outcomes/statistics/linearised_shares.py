"""The two shares among lids that could have had either cover in a large register, and what each patient does to them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from outcomes.statistics.cover_model import CoverModel, fit_each_left_out
from outcomes.statistics.linearised import left_out_values, through_model
from outcomes.statistics.log_f_logistic import log_f

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class _OutcomeModel:
    """The logistic model of an event on the cover and the characteristics."""

    columns: Numbers
    coefficients: Numbers

    def columns_with(self, cover: float) -> Numbers:
        """The columns as if every lid had had one cover."""
        columns = self.columns.copy()
        columns[:, 1] = cover
        return columns

    def chances(self, columns: Numbers) -> Numbers:
        """The chance of the event of every lid."""
        return np.asarray(special.expit(columns @ self.coefficients), dtype=np.float64)


def linearised_shares(events: Numbers, cover: CoverModel, *, augmented: bool) -> Numbers:
    """Return the two shares (columns) of all lids, and then without each patient, from derivatives.

    See `overlap_share_difference`, of which this takes the place of fitting both models again without each patient.
    """
    model = _outcome_model(events, cover) if augmented else None
    return np.column_stack([_share(events, cover, model, cohort) for cohort in (0, 1)])


def _outcome_model(events: Numbers, cover: CoverModel) -> _OutcomeModel:
    cohorts = cover.cohorts
    columns = np.column_stack([np.ones(events.size), cohorts.second, cohorts.covariates]).astype(np.float64)
    return _OutcomeModel(columns, fit_each_left_out(columns, events, cover.counted, log_f)[0])


def _share(events: Numbers, cover: CoverModel, model: _OutcomeModel | None, cohort: int) -> Numbers:
    side, chance = cover.cohorts.second == bool(cohort), cover.chance[0]
    spread = chance * (1 - chance)
    columns = np.empty((events.size, 0)) if model is None else model.columns_with(cohort)
    expected = np.zeros(events.size) if model is None else model.chances(columns)
    weight = np.where(side, cover.weights[0], 0.0) / cover.weights[0][side].sum()
    open_choice = np.zeros(events.size) if model is None else spread / spread.sum()
    rest, mean = events - expected, float(open_choice @ expected)
    left = float(weight @ rest)
    own = open_choice * (expected - mean) + weight * (rest - left)
    turned = spread * (-1.0 if cohort else 1.0) * np.where(side, rest - left, 0.0) / cover.weights[0][side].sum()
    slope = open_choice * (1 - 2 * chance) * (expected - mean) + turned
    influence = own + cover.influence_of_chances(slope)
    if model is not None:
        moved = ((open_choice - weight) * expected * (1 - expected)) @ columns
        fitted = model.coefficients, model.chances(model.columns)
        influence += through_model(model.columns, events, fitted, moved)
    return left_out_values(mean + left, influence, cover.cohorts.patient)
