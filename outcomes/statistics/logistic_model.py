"""A logistic model of many lids with a weak log-F penalty on the slopes, and what each lid does to it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import special

from outcomes.statistics.design_matrix import CHARACTERISTICS, INTERCEPT, DesignMatrix
from outcomes.statistics.jackknife import in_blocks
from outcomes.statistics.log_f_logistic import HAIR, LONGEST_STEP, MOST_STEPS, SETTLED, Penalty, fit_log_f, log_f

Numbers = NDArray[np.float64]
PART = 4096  # lids that tell where to begin
WORTH_A_PART = 4  # times as many lids


@dataclass(frozen=True)
class LogisticModel:
    """The model of an outcome (from 0 to 1, a row a lid) on the columns at `places`, of which the first is the intercept.

    `coefficients` has an entry a column, 0 for those that are not in the model; nan where the model did not settle.
    """

    columns: DesignMatrix
    places: NDArray[np.intp]
    outcome: Numbers
    coefficients: Numbers
    penalty: Penalty = log_f

    @property
    def settled(self) -> bool:
        """Tell whether there is a model."""
        return bool(np.isfinite(self.coefficients[INTERCEPT]))

    @cached_property
    def chance(self) -> Numbers:
        """The chance of the outcome of each lid."""
        return np.asarray(special.expit(self.columns.times(self.coefficients)), dtype=np.float64)

    @cached_property
    def information(self) -> Numbers:
        """The information on the coefficients in the model."""
        return _information(self, self.chance, self.coefficients[self.places[1:]])

    def influence(self, slope: Numbers) -> Numbers:
        """Return what each lid does to an estimate by moving the model; `slope` is how that moves with each coefficient."""
        moved = np.zeros(self.columns.size)
        moved[self.places] = np.linalg.solve(self.information, slope[self.places])
        return (self.outcome - self.chance) * self.columns.times(moved)


def all_columns(columns: DesignMatrix) -> NDArray[np.intp]:
    """Return the places of the columns of a model of an outcome: the intercept, the cover and the characteristics."""
    return np.arange(columns.size)


def all_but_cover(columns: DesignMatrix) -> NDArray[np.intp]:
    """Return the places of the columns of a model of the cover."""
    return np.array([INTERCEPT, *range(CHARACTERISTICS, columns.size)], dtype=np.intp)


def logistic_model(
    columns: DesignMatrix, outcome: Numbers, places: NDArray[np.intp], *, penalty: Penalty = log_f
) -> LogisticModel:
    """Return the model of all lids; see `log_f_logistic.fit_log_f`.

    Of very many lids a part, one in so many, is modelled first, to begin close to where the model of all ends.

    >>> from outcomes.statistics.design_matrix import design_matrix
    >>> columns = design_matrix(np.array([[1.0], [1], [0], [0]]))
    >>> logistic_model(columns, np.array([1.0, 1, 0, 0]), all_but_cover(columns)).coefficients.round(3)
    array([0.   , 0.   , 2.197])
    """
    start = np.zeros(columns.size)
    step = columns.rows // PART
    if step >= WORTH_A_PART:
        part = LogisticModel(columns.every(step), places, outcome[::step], start, penalty)
        start = np.nan_to_num(_climbed(part).coefficients)
    return _climbed(LogisticModel(columns, places, outcome, start, penalty))


def _climbed(model: LogisticModel) -> LogisticModel:
    """The model after Newton steps from its coefficients, where it settled."""
    columns, places, outcome = model.columns, model.places, model.outcome
    place, log_odds = model.coefficients.copy(), columns.times(model.coefficients)
    mixed = 0 < float(outcome.sum()) < outcome.size  # otherwise the intercept runs away to infinity
    for _ in range(MOST_STEPS if mixed else 0):
        chance = special.expit(log_odds)
        gradient = columns.transposed_times(outcome - chance)[places]
        gradient[1:] += model.penalty(place[places[1:]])[0]
        step = np.zeros_like(place)
        step[places] = np.linalg.solve(_information(model, chance, place[places[1:]]), gradient)
        moved = columns.times(step)
        far = float(np.abs(moved).max())
        pace = LONGEST_STEP / max(far, LONGEST_STEP)
        place += pace * step
        log_odds += pace * moved
        if far < SETTLED:
            return LogisticModel(columns, places, outcome, place, model.penalty)
    return LogisticModel(columns, places, outcome, np.full_like(place, np.nan), model.penalty)


def _information(model: LogisticModel, chance: Numbers, slopes: Numbers) -> Numbers:
    information = model.columns.cross_products(chance * (1 - chance))[np.ix_(model.places, model.places)]
    diagonal = np.arange(1, model.places.size)
    information[diagonal, diagonal] += model.penalty(slopes)[1]
    information[0, 0] += HAIR
    return np.asarray(information, dtype=np.float64)


def fit_each_left_out(model: LogisticModel, counted: Numbers) -> Numbers:
    """Return the coefficients of the columns in the model of all lids, then of that of each further row of lids counted.

    Each row starts from the model of all lids, from where three or four Newton steps are enough; nan where one did not
    settle.
    """
    best = model.coefficients[model.places]
    if not model.settled:
        return np.full((counted.shape[0], best.size), np.nan)
    columns, coefficients = model.columns.dense()[:, model.places], [best[np.newaxis]]
    for block in in_blocks(counted[1:], columns.size * (columns.shape[1] + 1) // 2):
        others, settled = fit_log_f(columns, model.outcome, block, start=best, penalty=model.penalty)
        others[~settled] = np.nan
        coefficients.append(others)
    return np.concatenate(coefficients)
