"""The two shares among lids that could have had either cover in a large register, and what each patient does to them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import special

from outcomes.statistics.cover_model import CoverModel
from outcomes.statistics.design_matrix import COVER
from outcomes.statistics.linearised import left_out_values
from outcomes.statistics.logistic_model import LogisticModel, all_columns, logistic_model

Numbers = NDArray[np.float64]


def linearised_shares(events: Numbers, cover: CoverModel, *, augmented: bool) -> Numbers:
    """Return the two shares (columns) of all lids, and then without each patient, from derivatives.

    See `overlap_share_difference`, of which this takes the place of fitting both models again without each patient.
    """
    columns = cover.cohorts.columns
    model = logistic_model(columns, events, all_columns(columns)) if augmented else None
    return np.column_stack([_share(events, cover, model, cohort) for cohort in (0, 1)])


def _expected(model: LogisticModel, cohort: int) -> Numbers:
    """The chance of the event of every lid as if all had had one cover."""
    log_odds = model.columns.times(np.where(np.arange(model.columns.size) == COVER, 0.0, model.coefficients))
    return np.asarray(special.expit(log_odds + cohort * model.coefficients[COVER]), dtype=np.float64)


def _share(events: Numbers, cover: CoverModel, model: LogisticModel | None, cohort: int) -> Numbers:
    side, chance = cover.cohorts.second == bool(cohort), cover.chance[0]
    spread, total = chance * (1 - chance), cover.weights[0][side].sum()
    expected = np.zeros(events.size) if model is None else _expected(model, cohort)
    weight = np.where(side, cover.weights[0], 0.0) / total
    open_choice = np.zeros(events.size) if model is None else spread / spread.sum()
    rest, mean = events - expected, float(open_choice @ expected)
    left = float(weight @ rest)
    own = open_choice * (expected - mean) + weight * (rest - left)
    turned = spread * (-1.0 if cohort else 1.0) * np.where(side, rest - left, 0.0) / total
    slope = open_choice * (1 - 2 * chance) * (expected - mean) + turned
    influence = own + cover.influence_of_chances(slope)
    if model is not None:
        slope = (open_choice - weight) * expected * (1 - expected)
        moved = model.columns.transposed_times(slope)
        moved[COVER] = cohort * float(slope.sum())
        influence += model.influence(moved)
    return left_out_values(mean + left, influence, cover.cohorts.patient)
