"""The likelihoods of a logistic model, plain and penalised, and the climb to their top for many resamples at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from outcomes.statistics.validation import check_finite, check_yes_no

Numbers = NDArray[np.float64]
MOST_STEPS = 5000  # the penalised climb is slow where covariates nearly separate: 1,000 are not always enough
LONGEST_STEP = 5.0
SMALLEST_STEP = 1e-8
HAIR = 1e-10
UNKNOWN = 3 * HAIR  # information of no more than this is the hair itself
CONSTANT = 1e-12  # a spread that is all rounding
CERTAIN = 15.0  # fitted log odds beyond this (one in three million) are running away to infinity


@dataclass(frozen=True)
class Design:
    """Columns (the intercept first, then standardised covariates), the products of every two, and the outcome.

    `centre` and `scale` are what was taken from the covariates and what they were divided by, 0 and 1 for the intercept.
    """

    columns: Numbers
    products: Numbers
    centre: Numbers
    scale: Numbers
    outcome: Numbers

    def in_own_units(self) -> Numbers:
        """The matrix that turns coefficients of these columns into those of the covariates as they were given."""
        turned = np.diag(1 / self.scale)
        turned[0] -= self.centre / self.scale
        return turned


@dataclass(frozen=True)
class Slope:
    """Where the climb stands, one row a resample: log likelihood, its gradient, and the information."""

    height: Numbers
    gradient: Numbers
    information: Numbers


Likelihood = Callable[[Design, Numbers, Numbers], Slope]


def standardised_design(covariates: ArrayLike, outcome: ArrayLike) -> Design:
    """Return the columns standardised, so that neither the origin nor the unit of a covariate decides how the climb goes."""
    given, answers = check_finite("covariates", covariates), check_yes_no("outcome", outcome)
    if given.ndim != 2 or given.shape[0] != answers.size:
        raise ValueError(
            f"covariates has the shape {given.shape}: must be {answers.size} rows, one an outcome, of columns"
        )
    centre, scale = (given.mean(axis=0), given.std(axis=0)) if answers.size else np.zeros((2, given.shape[1]))
    scale[scale <= CONSTANT * np.abs(given).max(axis=0, initial=0.0)] = 1.0
    columns = np.column_stack([np.ones(answers.size), (given - centre) / scale])
    products = (columns[:, :, np.newaxis] * columns[:, np.newaxis, :]).reshape(columns.shape[0], -1)
    centre, scale = np.append(0.0, centre), np.append(1.0, scale)
    return Design(columns, products, centre, scale, answers.astype(np.float64))


def plain(design: Design, coefficients: Numbers, weights: Numbers) -> Slope:
    """Return the log likelihood of each resample at its coefficients, with gradient and information."""
    log_odds = coefficients @ design.columns.T
    chance = special.expit(log_odds)
    height = (weights * (design.outcome * log_odds - np.logaddexp(0, log_odds))).sum(axis=1)
    gradient = (weights * (design.outcome - chance)) @ design.columns
    return Slope(height, gradient, _information(design, weights * chance * (1 - chance)))


def penalised(design: Design, coefficients: Numbers, weights: Numbers) -> Slope:
    """Return the same with Firth's penalty, half the logarithm of the determinant of the information."""
    unpenalised = plain(design, coefficients, weights)
    chance = special.expit(coefficients @ design.columns.T)
    inverse, penalty = _inverse_and_penalty(unpenalised.information)
    leverage = chance * (1 - chance) * (inverse.reshape(inverse.shape[0], -1) @ design.products.T)
    pull = (weights * leverage * (0.5 - chance)) @ design.columns
    # As if each lid stood for 1 + leverage lids: the steps of the plain information overshoot, and may never settle.
    steadied = _information(design, weights * (1 + leverage) * chance * (1 - chance))
    return Slope(unpenalised.height + penalty, unpenalised.gradient + pull, steadied)


def _inverse_and_penalty(information: Numbers) -> tuple[Numbers, Numbers]:
    """The inverse of each resample's information, and half the logarithm of its determinant.

    A direction of which nothing is known, as where a covariate is constant, is left out of both: inverted, it would be
    noise so loud that the climb never comes to rest.
    """
    values, vectors = np.linalg.eigh(information)
    known = values > UNKNOWN
    inverted = np.divide(1.0, values, out=np.zeros_like(values), where=known)
    inverse = (vectors * inverted[:, np.newaxis, :]) @ vectors.transpose(0, 2, 1)
    return inverse, np.log(values, out=np.zeros_like(values), where=known).sum(axis=1) / 2


def _information(design: Design, spread: Numbers) -> Numbers:
    """The information of each resample, with a hair on the diagonal so that a covariate that it lacks does no harm."""
    size = design.columns.shape[1]
    information = (spread @ design.products).reshape(-1, size, size)
    return np.asarray(information + HAIR * np.eye(size), dtype=float)


def climb(
    design: Design,
    weights: Numbers,
    likelihood: Likelihood,
    *,
    start: Numbers | None = None,
    fixed: Numbers | None = None,
) -> tuple[Numbers, NDArray[np.bool_]]:
    """Climb every resample's likelihood by Newton steps, halved where they lead down; say which came to rest.

    A plain likelihood whose fitted log odds pass `CERTAIN` is left where it stands, and has not come to rest.
    """
    resamples, size = weights.shape[0], design.columns.shape[1]
    place = np.zeros((resamples, size)) if start is None else start.copy()
    settled, active, pace = np.zeros(resamples, dtype=bool), np.arange(resamples), np.ones(resamples)
    slope = likelihood(design, place, weights)
    step = _step(design, slope, fixed)
    for _ in range(MOST_STEPS):
        trial = place[active] + pace[active, np.newaxis] * step
        slope_there = likelihood(design, trial, weights[active])
        up = slope_there.height >= slope.height - 1e-10 * (1 + np.abs(slope.height))
        far = np.abs((trial - place[active]) @ design.columns.T).max(axis=1)
        place[active[up]] = trial[up]
        pace[active] = np.where(up, np.minimum(1.0, 2 * pace[active]), pace[active] / 2)
        slope = _choose(up, slope_there, slope)
        settled[active] = up & (far < SMALLEST_STEP)
        lost = (np.abs(place[active] @ design.columns.T) * (weights[active] > 0)).max(axis=1) > CERTAIN
        going = ~settled[active] & ~(lost & (likelihood is plain))
        active, slope = active[going], _pick(slope, going)
        if not active.size:
            break
        step = _step(design, slope, fixed)
    return place, settled


def _step(design: Design, slope: Slope, fixed: Numbers | None) -> Numbers:
    """The Newton step of each resample, shortened where it would move a log odds too far; a fixed contrast stays."""
    step = np.linalg.solve(slope.information, slope.gradient[:, :, np.newaxis])[:, :, 0]
    if fixed is not None:
        along = np.linalg.solve(slope.information, fixed)
        step -= along * ((step @ fixed) / (along @ fixed))[:, np.newaxis]
    far = np.abs(step @ design.columns.T).max(axis=1)
    shortened: Numbers = LONGEST_STEP / np.maximum(far, LONGEST_STEP)
    return step * shortened[:, np.newaxis]


def _choose(which: NDArray[np.bool_], there: Slope, here: Slope) -> Slope:
    return Slope(
        np.where(which, there.height, here.height),
        np.where(which[:, np.newaxis], there.gradient, here.gradient),
        np.where(which[:, np.newaxis, np.newaxis], there.information, here.information),
    )


def _pick(slope: Slope, which: NDArray[np.bool_]) -> Slope:
    return Slope(slope.height[which], slope.gradient[which], slope.information[which])
