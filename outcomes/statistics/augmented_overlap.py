"""The difference of two shares among lids that could have had either cover, by augmented overlap weights."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from outcomes.statistics.clusters import independent_lids
from outcomes.statistics.cover_model import CoverModel, row_means
from outcomes.statistics.design_matrix import COVER
from outcomes.statistics.effective_shares import (
    EffectiveShare,
    ShareDifference,
    effective_share_difference,
    shares_without_limits,
)
from outcomes.statistics.jackknife import jackknife_covariance, patients_minus_terms, refitting_factor
from outcomes.statistics.linearised_shares import linearised_shares
from outcomes.statistics.log_f_logistic import Penalty, log_f
from outcomes.statistics.logistic_model import all_columns, fit_each_left_out, logistic_model
from outcomes.statistics.validation import check_confidence_level, check_yes_no

Numbers = NDArray[np.float64]
FEWEST_EVENTS = 5


def overlap_share_difference(event: ArrayLike, cover: CoverModel, *, confidence_level: float = 0.95) -> ShareDifference:
    """Return the shares of lids with the event, and their difference, among lids that could have had either cover.

    `event` has a 0 or 1 for every lid of the cover model. The outcome model is logistic on the cover and the same
    characteristics with the same penalty; with fewer than five events, or lids without, in a cohort it is left out,
    and no share is then worth more lids than it has. The variance leaves out one patient at a time and fits both models
    again. Limits are score limits on the number of lids that this variance is worth, with Student's t, squared and
    added; p is the level at which a limit of the difference touches 0. Not estimable where all lids of a cohort are
    one patient's.

    Source: Mao H, Li L, Greene T. Stat Methods Med Res 2019;28:2439-2454 (from memory); Zou GY. Psychol Methods
    2007;12:399-413 (from memory).

    >>> from outcomes.statistics.cover_model import cover_model
    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> lids = two_cohorts([0] * 20 + [1] * 20, range(40), covariates=[[n % 4] for n in range(40)])
    >>> found = overlap_share_difference([1, 0] * 10 + [1, 0, 0, 0] * 5, cover_model(lids))
    >>> round(found.difference.estimate, 3), found.augmented, found.difference.excludes_none
    (-0.25, True, False)
    """
    check_confidence_level(confidence_level)
    events = cover.cohorts.one_a_lid("event", check_yes_no("event", event))
    augmented = _bears_an_outcome_model(events, cover.cohorts.second)
    if cover.is_linearised:
        shares = linearised_shares(events, cover, augmented=augmented)
    else:
        shares = _overlap_shares(events, cover, _outcome_chances(events, cover, log_f) if augmented else None)
    if min(cover.cohorts.patients_a_cohort) < 2 or not np.isfinite(shares).all():
        first, second = np.clip(shares[0], 0.0, 1.0).tolist()
        return shares_without_limits(first, second, confidence_level, augmented=augmented)
    covariance = refitting_factor(cover.cohorts) * jackknife_covariance(shares[1:])
    most = (math.inf, math.inf) if augmented else cover.cohorts.lids
    first, last = (
        EffectiveShare(share, _effective_n(share, covariance[place, place], most[place], cover, place))
        for place, share in enumerate(np.clip(shares[0], 0.0, 1.0).tolist())
    )
    correlation = _correlation(covariance)
    freedom = patients_minus_terms(cover.cohorts, beside=2 if augmented else 1)
    difference = effective_share_difference(
        first, last, correlation=correlation, degrees_of_freedom=freedom, confidence_level=confidence_level
    )
    return ShareDifference.of(first, last, difference, correlation, augmented=augmented)


def _bears_an_outcome_model(events: Numbers, second: NDArray[np.bool_]) -> bool:
    counts = [int(answers.sum()) for side in (events[~second], events[second]) for answers in (side, 1 - side)]
    return min(counts) >= FEWEST_EVENTS


def _outcome_chances(events: Numbers, cover: CoverModel, penalty: Penalty) -> tuple[Numbers, Numbers]:
    """m0 and m1: each lid's chance of the event had it had the first cover, and the second (row by row)."""
    columns = cover.cohorts.columns
    model = logistic_model(columns, events, all_columns(columns), penalty=penalty)
    coefficients, told_first = fit_each_left_out(model, cover.counted), columns.dense()
    told_first[:, COVER] = 0.0
    log_odds = coefficients @ told_first.T
    return special.expit(log_odds), special.expit(log_odds + coefficients[:, COVER : COVER + 1])


def _overlap_shares(events: Numbers, cover: CoverModel, chances: tuple[Numbers, Numbers] | None) -> Numbers:
    """The two weighted shares, a row for all patients and each left out; augmented where there are outcome chances.

    sum h m1 / sum h + sum Z (1 - e) (Y - m1) / sum Z (1 - e) for the second, h = e (1 - e), and likewise the first.
    """
    if chances is None:
        return cover.weighted_means(events)
    h = cover.chance * (1 - cover.chance) * cover.counted
    parts = [row_means(m, h) + cover.weighted_means(events - m)[:, place] for place, m in enumerate(chances)]
    return np.column_stack(parts)


def _effective_n(share: float, variance: float, most: float, cover: CoverModel, cohort: int) -> float:
    """The n of share (1 - share) / n = variance, at most so many; without variance the lids, those of a patient as one."""
    if variance <= 0 or share in {0.0, 1.0}:
        patient = cover.cohorts.patient[cover.cohorts.second == bool(cohort)]
        return independent_lids(np.ones(patient.size), patient, alike=1.0)
    return min(float(most), share * (1 - share) / float(variance))


def _correlation(covariance: Numbers) -> float:
    both = math.sqrt(covariance[0, 0] * covariance[1, 1])
    return float(np.clip(covariance[0, 1] / both, -1.0, 1.0)) if both > 0 else 0.0
