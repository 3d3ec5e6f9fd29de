"""The win probability: the chance that a lid of the second cohort is better than one of the first, ties counted half."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from outcomes.statistics.cover_model import CoverModel
from outcomes.statistics.jackknife import in_blocks, jackknife_covariance, patients_minus_terms, refitting_factor
from outcomes.statistics.linearised import left_out_values
from outcomes.statistics.result import TestedEstimate, not_estimable
from outcomes.statistics.two_cohorts import TwoCohorts
from outcomes.statistics.validation import check_confidence_level

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]
EVEN = 0.5
VANISHING = 1e-14


@dataclass(frozen=True)
class _Placements:
    """The win probability, and the variance of it that comes from each cohort's patients and from those in both."""

    estimate: float
    first: float
    second: float
    shared: float

    @property
    def variance(self) -> float:
        return self.first + self.second + 2 * self.shared


def win_probability(score: ArrayLike, cohorts: TwoCohorts, *, confidence_level: float = 0.95) -> TestedEstimate:
    """Return P(a lid of the second cohort is better) + P(equal)/2 among all pairs, with limits and p against one half.

    `score` has an entry a lid; higher is better, so turn a measure round that is worse the higher it is. A patient
    with lids in both cohorts counts once. Limits and p are those of Student's t on the logit scale. Where every lid of
    one cohort is better, which is no certainty, the estimate is taken half a lid of the smaller cohort from the end;
    there, and where all are equal, the standard error is that of half a lid too (lids of one patient counted as one). Not estimable where
    all lids of a cohort are one patient's.

    Source: Brunner E, Munzel U. Biom J 2000;42:17-25, with lids of one patient added up first as in Obuchowski NA.
    Biometrics 1997;53:567-578 (both from memory); the logit scale, Perme MP, Manevski D. Stat Methods Med Res
    2019;28:3755-3768 (from memory).

    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> found = win_probability([0, 1, 1, 2, 3, 1, 2, 2, 3], two_cohorts([0] * 5 + [1] * 4, range(9)))
    >>> round(found.estimate, 3), round(found.low, 3), round(found.high, 3)
    (0.675, 0.204, 0.944)
    """
    check_confidence_level(confidence_level)
    scores = cohorts.one_a_lid("score", score)
    if min(cohorts.lids) == 0:
        return not_estimable(confidence_level, none=EVEN)
    found = _placements(scores, cohorts)
    if min(cohorts.patients_a_cohort) < 2:
        return not_estimable(confidence_level, estimate=found.estimate, none=EVEN)
    fewest, freedom = min(cohorts.patients_a_cohort), _satterthwaite(found, cohorts)
    return _on_logit_scale(
        found.estimate, found.variance, fewest=fewest, freedom=freedom, confidence_level=confidence_level
    )


def overlap_win_probability(score: ArrayLike, cover: CoverModel, *, confidence_level: float = 0.95) -> TestedEstimate:
    """Return the win probability among lids that could have had either cover, with limits and p against one half.

    As `win_probability`, each pair weighted by the chances of both lids of having had the other cover. The variance
    leaves out one patient at a time and fits the cover model again.

    Source: Mao H, Li L, Greene T. Stat Methods Med Res 2019;28:2439-2454 (from memory) for the weights.

    >>> from outcomes.statistics.cover_model import cover_model
    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> lids = two_cohorts([0] * 5 + [1] * 5, range(10), covariates=[[0], [1]] * 5)
    >>> round(overlap_win_probability([0, 1, 1, 2, 3, 1, 2, 2, 3, 3], cover_model(lids)).estimate, 3)
    0.74
    """
    check_confidence_level(confidence_level)
    cohorts = cover.cohorts
    scores = cohorts.one_a_lid("score", score)
    if min(cohorts.lids) == 0:
        return not_estimable(confidence_level, none=EVEN)
    if cover.is_linearised:
        rows = _linearised(scores, cover)
    else:
        sides = cover.weights[:, ~cohorts.second], cover.weights[:, cohorts.second]
        rows = _weighted_wins(_wins(scores, cohorts), *sides)
    if min(cohorts.patients_a_cohort) < 2 or not np.isfinite(rows).all():
        return not_estimable(confidence_level, estimate=float(rows[0]), none=EVEN)
    variance = refitting_factor(cohorts) * float(jackknife_covariance(rows[1:, np.newaxis])[0, 0])
    freedom = patients_minus_terms(cohorts, beside=1)
    fewest = min(*cover.effective_sizes, *cohorts.patients_a_cohort)
    estimate = _rounded_to_the_end(float(rows[0]))
    return _on_logit_scale(estimate, variance, fewest=fewest, freedom=freedom, confidence_level=confidence_level)


def _wins(scores: Numbers, cohorts: TwoCohorts) -> Numbers:
    """1, 1/2 or 0 as the lid of the second cohort (column) is better than, equal to or worse than that of the first (row)."""
    first, second = scores[~cohorts.second, np.newaxis], scores[cohorts.second]
    return np.asarray((first < second) + (first == second) / 2, dtype=np.float64)


def _placed(scores: Numbers, second: Flags, weight: Numbers) -> Numbers:
    """For each lid the weighted share of the lids of the other cohort over which the second cohort wins, ties counted half."""
    placed = np.empty(scores.size)
    for here in (second, ~second):
        order = np.argsort(scores[~here], kind="stable")
        others, weights = scores[~here][order], np.concatenate([[0.0], np.cumsum(weight[~here][order])])
        below = weights[np.searchsorted(others, scores[here], "left")]
        level = weights[np.searchsorted(others, scores[here], "right")]
        placed[here] = (below + level) / 2 / weights[-1]
    return np.where(second, placed, 1 - placed)


def _linearised(scores: Numbers, cover: CoverModel) -> Numbers:
    """The weighted win probability, and what it is without each patient, from derivatives."""
    second, weight = cover.cohorts.second, cover.weights[0]
    placed = _placed(scores, second, weight)
    estimate = float(np.average(placed[second], weights=weight[second]))
    away = (placed - estimate) / np.where(second, weight[second].sum(), weight[~second].sum())
    spread = cover.chance[0] * (1 - cover.chance[0])
    influence = weight * away + cover.influence_of_chances(np.where(second, -spread, spread) * away)
    return left_out_values(estimate, influence, cover.cohorts.patient)


def _placements(scores: Numbers, cohorts: TwoCohorts) -> _Placements:
    """Theta and its variance: s_x/n + s_y/m + 2 s_xy/(n m), each from placements added up by patient."""
    placed = _placed(scores, cohorts.second, np.ones(scores.size))
    estimate = float(placed[cohorts.second].mean())
    sums = [
        np.bincount(cohorts.patient[side], placed[side] - estimate, cohorts.patients) / side.sum()
        for side in (~cohorts.second, cohorts.second)
    ]
    n_first, n_second = cohorts.patients_a_cohort
    return _Placements(
        estimate,
        _unbiased(n_first) * float((sums[0] ** 2).sum()),
        _unbiased(n_second) * float((sums[1] ** 2).sum()),
        _unbiased(cohorts.patients) * float((sums[0] * sums[1]).sum()),
    )


def _unbiased(patients: int) -> float:
    return patients / (patients - 1) if patients > 1 else math.nan


def _satterthwaite(found: _Placements, cohorts: TwoCohorts) -> float:
    """(a + b)^2 / (a^2/(I_x - 1) + b^2/(I_y - 1)), never more than all patients less one."""
    n_first, n_second = cohorts.patients_a_cohort
    spread = found.first**2 / (n_first - 1) + found.second**2 / (n_second - 1)
    if spread == 0:
        return float(min(n_first, n_second) - 1)
    return min((found.first + found.second) ** 2 / spread, cohorts.patients - 1.0)


def _weighted_wins(wins: Numbers, first: Numbers, second: Numbers) -> Numbers:
    """sum_ij Z_i (1 - Z_j) (1 - e_i) e_j psi_ij / sum_ij Z_i (1 - Z_j) (1 - e_i) e_j, row by row."""
    pairs = first.sum(axis=1) * second.sum(axis=1)
    found = np.full(pairs.shape, math.nan)
    won = np.concatenate([block @ wins for block in in_blocks(first, wins.size)])
    np.divide((won * second).sum(axis=1), pairs, out=found, where=pairs > 0)
    return found


def _rounded_to_the_end(estimate: float) -> float:
    """0 or 1 where only the rounding of the weights says otherwise."""
    return float(round(estimate)) if abs(estimate - round(estimate)) < VANISHING else estimate


def _on_logit_scale(
    estimate: float, variance: float, *, fewest: float, freedom: float, confidence_level: float
) -> TestedEstimate:
    """Limits and p; where there is no variance, that of one lid of the smaller cohort being level with all others."""
    half_a_lid = EVEN / fewest
    if estimate in {0.0, 1.0}:
        estimate = abs(estimate - half_a_lid)
    error = math.sqrt(variance) if variance > VANISHING else half_a_lid
    place, spread = float(special.logit(estimate)), error / (estimate * (1 - estimate))
    reach = float(special.stdtrit(freedom, 0.5 + confidence_level / 2)) * spread
    low, high = (float(special.expit(place + end)) for end in (-reach, reach))
    p = 2 * float(special.stdtr(freedom, -abs(place) / spread))
    return TestedEstimate(estimate, low, high, p, error, freedom, confidence_level, EVEN)
