"""Logistic models of a yes or no on several covariates, plain and with Firth's penalty."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from outcomes.statistics.crossing import crossing
from outcomes.statistics.logistic_likelihood import Design, Likelihood, climb, penalised, plain, standardised_design
from outcomes.statistics.result import Interval
from outcomes.statistics.validation import check_confidence_level, check_weights

Numbers = NDArray[np.float64]
FARTHEST = 1e6


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
    return _fit(covariates, outcome, weight, plain)


def firth(covariates: ArrayLike, outcome: ArrayLike, *, weight: ArrayLike | None = None) -> Fit:
    """Return the logistic model under the penalised likelihood, which stays finite where the covariates separate.

    Arguments as for `maximum_likelihood`. Coefficients lie nearer to 0; for one yes-or-no covariate they are those of
    the four-fold table with a half added to each cell. The fitted chances do not add up to the number of outcomes.

    Source: Firth D. Biometrika 1993;80:27-38; Heinze G, Schemper M. Stat Med 2002;21:2409-2419.

    >>> fit = firth([[1], [1], [0], [0]], [1, 1, 0, 0])
    >>> round(float(fit.coefficients[1]), 6), round(math.log(25), 6), fit.separated
    (3.218876, 3.218876, False)
    """
    return _fit(covariates, outcome, weight, penalised)


def firth_profile(covariates: ArrayLike, outcome: ArrayLike, column: int, *, confidence_level: float = 0.95) -> Profile:
    """Return one coefficient of `firth` (0 is the intercept) with its profile penalised likelihood interval and p.

    The interval holds the values whose penalised likelihood, the others refitted, is not too far below the best.

    Source: Heinze G, Schemper M. Stat Med 2002;21:2409-2419.

    >>> profile = firth_profile([[1]] * 15 + [[0]] * 12, [1] * 9 + [0] * 6 + [0] * 12, 1)
    >>> round(profile.interval.low, 3), round(profile.interval.high, 3), round(profile.p, 6)
    (1.288, 8.516, 0.000692)
    """
    design, weight = standardised_design(covariates, outcome), np.ones((1, np.size(outcome)))
    if column not in range(design.scale.size):
        raise ValueError(
            f"column is {column}: must be a whole number from 0 (the intercept) to {design.scale.size - 1}"
        )
    check_confidence_level(confidence_level)
    best, settled = climb(design, weight, penalised)
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

    Each starts from the one whose value is nearest, moved along the direction in which the free coefficients follow.
    """

    def __init__(self, design: Design, contrast: Numbers, best: Numbers) -> None:
        self.design, self.contrast, self.converged = design, contrast, True
        self.weight = np.ones((1, design.outcome.size))
        slope = penalised(design, best, self.weight)
        along = np.linalg.solve(slope.information[0], contrast)
        self.top, self.error = float(slope.height[0]), math.sqrt(float(contrast @ along))
        self.following = along / float(contrast @ along)
        self.estimate = float(contrast @ best[0])
        self.known = {self.estimate: best}

    def fall(self, value: float) -> float:
        """By how much twice the penalised log likelihood lies below its best when the contrast is held at the value."""
        nearest = min(self.known, key=lambda known: abs(known - value))
        start = self.known[nearest] + self.following * (value - nearest)
        place, settled = climb(self.design, self.weight, penalised, start=start, fixed=self.contrast)
        self.converged &= bool(settled[0])
        self.known[value] = place
        return 2 * (self.top - float(penalised(self.design, place, self.weight).height[0]))

    def value_that_falls(self, allowed: float, direction: float) -> float:
        """The value at which the likelihood has fallen that far; infinite where it never does."""
        inner, reach = 0.0, 2 * self.error
        while self.fall(self.estimate + direction * reach) < allowed:
            inner, reach = reach, 2 * reach
            if reach > FARTHEST * self.error or not self.converged:
                return direction * math.inf
        return self.estimate + direction * crossing(
            lambda far: self.fall(self.estimate + direction * far) - allowed, inner, reach, within=1e-9 * self.error
        )


def _fit(covariates: ArrayLike, outcome: ArrayLike, weight: ArrayLike | None, likelihood: Likelihood) -> Fit:
    design = standardised_design(covariates, outcome)
    weights = check_weights(weight, design.outcome.size)[np.newaxis]
    best, settled = climb(design, weights, likelihood)
    log_odds = best[0] @ design.columns.T
    # The penalty in the covariates' own units.
    shrunk = 0.0 if likelihood is plain else float(np.log(design.scale).sum())
    return Fit(
        coefficients=design.in_own_units() @ best[0],
        fitted=np.asarray(special.expit(log_odds), dtype=float),
        converged=bool(settled[0]),
        separated=likelihood is plain and not settled[0],
        log_likelihood=float(likelihood(design, best, weights).height[0]) + shrunk,
    )
