"""Logistic models of a yes or no on several covariates, plain and with Firth's penalty."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from outcomes.statistics.result import Interval
from outcomes.statistics.validation import check_confidence_level, check_finite, check_weights, check_yes_no

Numbers = NDArray[np.float64]
MOST_STEPS = 1000  # where lids hang together much the penalised climb is slow, and 300 are not always enough
LONGEST_STEP = 5.0
SMALLEST_STEP = 1e-8
HAIR = 1e-10
UNKNOWN = 3 * HAIR  # information of no more than this is the hair itself
CONSTANT = 1e-12  # a spread that is all rounding
FARTHEST = 1e6
CERTAIN = 15.0  # fitted log odds beyond this (one in three million) are running away to infinity


@dataclass(frozen=True)
class Fit:
    """A logistic model: the intercept first, then one log odds ratio a covariate, per unit of that covariate.

    `separated` says that the covariates tell the outcomes apart perfectly somewhere, so that the most likely
    coefficients are infinite and those given mean nothing. `log_likelihood` includes the penalty where there is one.
    """

    coefficients: Numbers
    fitted: Numbers
    converged: bool
    separated: bool
    log_likelihood: float


@dataclass(frozen=True)
class Profile:
    """One coefficient with its profile likelihood interval, and the p value of the likelihood ratio against 0.

    Where a fit on the way did not converge, limits and p are nan, and `converged` is False.
    """

    interval: Interval
    p: float
    converged: bool


@dataclass(frozen=True)
class _Design:
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
class _Slope:
    """Where the climb stands, one row a resample: log likelihood, its gradient, and the information."""

    height: Numbers
    gradient: Numbers
    information: Numbers


_Likelihood = Callable[[_Design, Numbers, Numbers], _Slope]


def maximum_likelihood(covariates: ArrayLike, outcome: ArrayLike, *, weight: ArrayLike | None = None) -> Fit:
    """Return the logistic model under which the outcomes (0 or 1) were most likely.

    `covariates` has a row a lid and a column a covariate, without the intercept; `weight` counts a row several times.
    Check `separated` before believing a coefficient, and then use `firth`. Weighted means of the covariates
    are the same for outcomes and fitted chances, which `overlap_weights` depends on.

    Source: McCullagh P, Nelder JA. Generalized Linear Models, 2nd ed. 1989, chapter 4 (from memory).

    >>> fit = maximum_likelihood([[1], [1], [1], [0], [0], [0]], [1, 1, 0, 1, 0, 0])
    >>> round(float(fit.coefficients[1]), 6)
    1.386294
    """
    return _fit(covariates, outcome, weight, _plain)


def firth(covariates: ArrayLike, outcome: ArrayLike, *, weight: ArrayLike | None = None) -> Fit:
    """Return the logistic model under the penalised likelihood, which stays finite where the covariates separate.

    Arguments as for `maximum_likelihood`. Coefficients lie nearer to 0; for one yes-or-no covariate they are those of
    the four-fold table with a half added to each cell. The fitted chances do not add up to the number of outcomes.

    Source: Firth D. Biometrika 1993;80:27-38; Heinze G, Schemper M. Stat Med 2002;21:2409-2419.

    >>> fit = firth([[1], [1], [0], [0]], [1, 1, 0, 0])
    >>> round(float(fit.coefficients[1]), 6), round(math.log(25), 6), fit.separated
    (3.218876, 3.218876, False)
    """
    return _fit(covariates, outcome, weight, _penalised)


def firth_profile(covariates: ArrayLike, outcome: ArrayLike, column: int, *, confidence_level: float = 0.95) -> Profile:
    """Return one coefficient of `firth` (0 is the intercept) with its profile penalised likelihood interval and p.

    The interval holds the values whose penalised likelihood, the others refitted, is not too far below the best.

    Source: Heinze G, Schemper M. Stat Med 2002;21:2409-2419.

    >>> profile = firth_profile([[1]] * 15 + [[0]] * 12, [1] * 9 + [0] * 6 + [0] * 12, 1)
    >>> round(profile.interval.low, 3), round(profile.interval.high, 3), round(profile.p, 6)
    (1.288, 8.516, 0.000692)
    """
    design, weight = _design(covariates, outcome), np.ones((1, np.size(outcome)))
    if column not in range(design.scale.size):
        raise ValueError(
            f"column is {column}: must be a whole number from 0 (the intercept) to {design.scale.size - 1}"
        )
    check_confidence_level(confidence_level)
    best, settled = _climb(design, weight, _penalised)
    profile = _ConstrainedFits(design, design.in_own_units()[column], best)
    estimate = float(profile.contrast @ best[0])
    if not settled[0]:
        return Profile(Interval(estimate, math.nan, math.nan, confidence_level), math.nan, converged=False)
    allowed = float(special.chdtri(1, 1 - confidence_level))
    low, high = (profile.value_that_falls(allowed, direction) for direction in (-1.0, 1.0))
    p = float(special.chdtrc(1, max(profile.fall(0.0), 0.0)))
    if not profile.converged:
        low = high = p = math.nan
    return Profile(Interval(estimate, low, high, confidence_level), p, profile.converged)


class _ConstrainedFits:
    """Fits with one combination of the coefficients, `contrast`, held at a value and the others free.

    Each starts from the one before, moved along the direction in which the free coefficients follow.
    """

    def __init__(self, design: _Design, contrast: Numbers, best: Numbers) -> None:
        self.design, self.contrast, self.place, self.converged = design, contrast, best, True
        self.weight = np.ones((1, design.outcome.size))
        slope = _penalised(design, best, self.weight)
        along = np.linalg.solve(slope.information[0], contrast)
        self.top, self.error = float(slope.height[0]), math.sqrt(float(contrast @ along))
        self.following = along / float(contrast @ along)
        self.estimate = float(contrast @ best[0])

    def fall(self, value: float) -> float:
        """By how much twice the penalised log likelihood lies below its best when the contrast is held at the value."""
        start = self.place + self.following * (value - float(self.contrast @ self.place[0]))
        place, settled = _climb(self.design, self.weight, _penalised, start=start, fixed=self.contrast)
        self.converged &= bool(settled[0])
        self.place = place
        return 2 * (self.top - float(_penalised(self.design, place, self.weight).height[0]))

    def value_that_falls(self, allowed: float, direction: float) -> float:
        """The value at which the likelihood has fallen that far; infinite where it never does."""
        from scipy.optimize import brentq

        reach = 2 * self.error
        while self.fall(self.estimate + direction * reach) < allowed:
            reach *= 2
            if reach > FARTHEST * self.error or not self.converged:
                return direction * math.inf
        return self.estimate + direction * float(
            brentq(lambda far: self.fall(self.estimate + direction * far) - allowed, 0.0, reach, xtol=1e-10)
        )


def fit_resamples(covariates: ArrayLike, outcome: ArrayLike, resample_weights: ArrayLike) -> Numbers:
    """Return the fitted chances of every lid in every resample: a row a resample, a column a lid.

    `resample_weights` has the same shape and says how often each lid was drawn. Each resample is fitted by maximum
    likelihood, or by the penalised one where its lids separate. Lids not drawn get the chance that the model gives
    them. A resample in which neither settles is nan throughout.

    >>> fitted = fit_resamples([[1], [1], [0], [0]], [1, 0, 1, 0], [[1, 1, 1, 1], [2, 0, 0, 2]])
    >>> fitted.round(3)
    array([[0.5  , 0.5  , 0.5  , 0.5  ],
           [0.833, 0.833, 0.167, 0.167]])
    """
    design, weights = _design(covariates, outcome), check_finite("resample_weights", resample_weights, least=0)
    if weights.ndim != 2 or weights.shape[1] != design.outcome.size:
        raise ValueError(f"resample_weights has the shape {weights.shape}: must have {design.outcome.size} columns")
    coefficients, settled = _climb(design, weights, _plain)
    apart = np.flatnonzero(~settled)
    if apart.size:
        coefficients[apart], settled[apart] = _climb(design, weights[apart], _penalised)
    fitted = np.asarray(special.expit(coefficients @ design.columns.T), dtype=float)
    fitted[~settled] = math.nan
    return fitted


def _fit(covariates: ArrayLike, outcome: ArrayLike, weight: ArrayLike | None, likelihood: _Likelihood) -> Fit:
    design = _design(covariates, outcome)
    weights = check_weights(weight, design.outcome.size)[np.newaxis]
    best, settled = _climb(design, weights, likelihood)
    log_odds = best[0] @ design.columns.T
    # The penalty in the covariates' own units.
    shrunk = 0.0 if likelihood is _plain else float(np.log(design.scale).sum())
    return Fit(
        coefficients=design.in_own_units() @ best[0],
        fitted=np.asarray(special.expit(log_odds), dtype=float),
        converged=bool(settled[0]),
        separated=likelihood is _plain and not settled[0],
        log_likelihood=float(likelihood(design, best, weights).height[0]) + shrunk,
    )


def _design(covariates: ArrayLike, outcome: ArrayLike) -> _Design:
    """Standardised, so that neither the origin nor the unit of a covariate decides how well the climb goes."""
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
    return _Design(columns, products, centre, scale, answers.astype(np.float64))


def _plain(design: _Design, coefficients: Numbers, weights: Numbers) -> _Slope:
    log_odds = coefficients @ design.columns.T
    chance = special.expit(log_odds)
    height = (weights * (design.outcome * log_odds - np.logaddexp(0, log_odds))).sum(axis=1)
    gradient = (weights * (design.outcome - chance)) @ design.columns
    return _Slope(height, gradient, _information(design, weights * chance * (1 - chance)))


def _penalised(design: _Design, coefficients: Numbers, weights: Numbers) -> _Slope:
    plain = _plain(design, coefficients, weights)
    chance = special.expit(coefficients @ design.columns.T)
    inverse, penalty = _inverse_and_penalty(plain.information)
    leverage = chance * (1 - chance) * (inverse.reshape(inverse.shape[0], -1) @ design.products.T)
    pull = (weights * leverage * (0.5 - chance)) @ design.columns
    # As if each lid stood for 1 + leverage lids: the steps of the plain information overshoot, and may never settle.
    steadied = _information(design, weights * (1 + leverage) * chance * (1 - chance))
    return _Slope(plain.height + penalty, plain.gradient + pull, steadied)


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


def _information(design: _Design, spread: Numbers) -> Numbers:
    """The information of each resample, with a hair on the diagonal so that a covariate that it lacks does no harm."""
    size = design.columns.shape[1]
    information = (spread @ design.products).reshape(-1, size, size)
    return np.asarray(information + HAIR * np.eye(size), dtype=float)


def _climb(
    design: _Design,
    weights: Numbers,
    likelihood: _Likelihood,
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
        going = ~settled[active] & ~(lost & (likelihood is _plain))
        active, slope = active[going], _pick(slope, going)
        if not active.size:
            break
        step = _step(design, slope, fixed)
    return place, settled


def _step(design: _Design, slope: _Slope, fixed: Numbers | None) -> Numbers:
    """The Newton step of each resample, shortened where it would move a log odds too far; a fixed contrast stays."""
    step = np.linalg.solve(slope.information, slope.gradient[:, :, np.newaxis])[:, :, 0]
    if fixed is not None:
        along = np.linalg.solve(slope.information, fixed)
        step -= along * ((step @ fixed) / (along @ fixed))[:, np.newaxis]
    far = np.abs(step @ design.columns.T).max(axis=1)
    shortened: Numbers = LONGEST_STEP / np.maximum(far, LONGEST_STEP)
    return step * shortened[:, np.newaxis]


def _choose(which: NDArray[np.bool_], there: _Slope, here: _Slope) -> _Slope:
    return _Slope(
        np.where(which, there.height, here.height),
        np.where(which[:, np.newaxis], there.gradient, here.gradient),
        np.where(which[:, np.newaxis, np.newaxis], there.information, here.information),
    )


def _pick(slope: _Slope, which: NDArray[np.bool_]) -> _Slope:
    return _Slope(slope.height[which], slope.gradient[which], slope.information[which])
