"""Contrasts of one measure in one window between the cohorts.

Each measure in each window is told twice: as the share with a poor result, where the protocol has a rule, and as the value
itself. Readings are left open here; they need the correction over all findings.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from outcomes.cohort import MISSING
from outcomes.findings.arrays import Flags, Lids, Numbers
from outcomes.findings.estimable import estimable, excludes_none
from outcomes.findings.propensity import CoverChoice
from outcomes.findings.results import Adjusted, Contrast, Range, Share, Values
from outcomes.protocol import Measure, Protocol, Threshold
from outcomes.statistics.clusters import EffectiveProportion, effective_difference, effective_proportion
from outcomes.statistics.e_value import e_value, risk_ratio_of_shift
from outcomes.statistics.hodges_lehmann import (
    allow_for_rounding,
    hodges_lehmann,
    resampled_hodges_lehmann,
    weighted_hodges_lehmann,
)
from outcomes.statistics.overlap import effective_size
from outcomes.statistics.permutation import PermutationTest, midranks, permute_patients
from outcomes.statistics.quantiles import quartiles
from outcomes.statistics.resampling import percentile_interval

POOR, VALUE = "difference of proportions", "Hodges-Lehmann shift"
ADJUSTED_POOR, ADJUSTED_VALUE = "overlap-weighted difference of proportions", "overlap-weighted Hodges-Lehmann shift"


@dataclass(frozen=True)
class Compared:
    """One question answered for both cohorts, before its reading."""

    grafted: Share | Values
    advanced: Share | Values
    contrast: Contrast
    adjusted: Adjusted | None
    if_missing: Range
    last_known: Contrast | None
    as_planned: Contrast | None


def is_poor(value: Numbers, rule: Threshold) -> Flags:
    """Which values are a poor result by the rule; a value that is not there is not."""
    there = np.nan_to_num(value, nan=-np.inf if rule.at_least is not None else np.inf)
    return np.asarray(there >= rule.at_least if rule.at_least is not None else there <= rule.bound)


def compare_shares(lids: Lids, rule: Threshold, choice: CoverChoice, level: float) -> Compared:
    """Compare the shares with a poor result: counts, intervals, exact test, weighted contrast, bounds, last known state."""
    seen, poor = lids.seen, is_poor(lids.value, rule).astype(float)
    groups = [_proportion(lids, poor, seen, second=side, level=level) for side in (False, True)]
    grafted, advanced = (
        _share(lids, seen, group, second=side) for group, side in zip(groups, (False, True), strict=True)
    )
    return Compared(
        grafted,
        advanced,
        _difference(groups, _permuted(lids, poor, seen)),
        _adjusted_shares(lids, poor, seen, choice, level),
        _bounds_of_shares(grafted, advanced),
        _last_known_shares(lids, rule, level),
        contrast_of_shares(lids.as_planned(), rule, level) if lids.converted else None,
    )


def contrast_of_shares(lids: Lids, rule: Threshold, level: float) -> Contrast:
    """The difference of the shares with a poor result, with its interval and no test."""
    poor = is_poor(lids.value, rule).astype(float)
    return _difference([_proportion(lids, poor, lids.seen, second=side, level=level) for side in (False, True)], None)


def _proportion(lids: Lids, poor: Numbers, seen: Flags, *, second: bool, level: float) -> EffectiveProportion:
    here = seen & (lids.second == second)
    return effective_proportion(poor[here], lids.patient[here], confidence_level=level)


def _share(lids: Lids, seen: Flags, group: EffectiveProportion, *, second: bool) -> Share:
    here = seen & (lids.second == second)
    return Share(
        n=group.n,
        **lids.counts(second=second),
        patients=int(np.unique(lids.patient[here]).size),
        events=group.events,
        proportion=estimable(group.estimate),
        low=estimable(group.low),
        high=estimable(group.high),
    )


def _difference(groups: list[EffectiveProportion], test: PermutationTest | None) -> Contrast:
    interval = effective_difference(groups[0], groups[1])
    return _contrast(POOR, interval.estimate, interval.low, interval.high, test)


def _contrast(kind: str, estimate: float, low: float, high: float, test: PermutationTest | None = None) -> Contrast:
    if test is None:
        return Contrast(kind, estimable(estimate), estimable(low), estimable(high))
    p = estimable(test.p)
    error = None if p is None or test.exact else test.monte_carlo_error
    return Contrast(
        kind,
        estimable(estimate),
        estimable(low),
        estimable(high),
        p,
        exact=test.exact and p is not None,
        monte_carlo_error=error,
    )


def _permuted(lids: Lids, score: Numbers, seen: Flags) -> PermutationTest | None:
    if not seen.any():
        return None
    return permute_patients(score[seen], lids.second[seen], lids.patient[seen])


def _adjusted_shares(lids: Lids, poor: Numbers, seen: Flags, choice: CoverChoice, level: float) -> Adjusted | None:
    if choice.weight is None:
        return None
    sides = [seen & ~lids.second, seen & lids.second]
    if not all(side.any() for side in sides):
        return None
    groups = [
        effective_proportion(poor[s], lids.patient[s], weight=choice.weight[s], confidence_level=level) for s in sides
    ]
    interval = effective_difference(groups[0], groups[1])
    ratio, limit = _ratios(groups[0].estimate, groups[1].estimate, interval.low, interval.high)
    return Adjusted(
        ADJUSTED_POOR,
        estimable(interval.estimate),
        estimable(interval.low),
        estimable(interval.high),
        groups[0].effective_n,
        groups[1].effective_n,
        *_e_values(interval.low, interval.high, ratio, limit),
    )


def _ratios(first: float, second: float, low: float, high: float) -> tuple[float, float]:
    """The risk ratio, and that of the limit nearer to none, with the grafted share held where it is."""
    if first <= 0:
        return float("inf"), float("inf")
    nearer = low if low > 0 else high
    return second / first, max(0.0, first + nearer) / first


def _e_values(low: float, high: float, ratio: float, limit: float) -> tuple[float | None, float | None]:
    if not excludes_none(estimable(low), estimable(high)):
        return None, None
    return estimable(e_value(ratio)), estimable(e_value(limit))


def _bounds_of_shares(grafted: Share, advanced: Share) -> Range:
    """Every missing lid poor in one cohort and none in the other, both ways round."""
    if grafted.due == 0 or advanced.due == 0:
        return Range(None, None)
    (grafted_least, grafted_most), (advanced_least, advanced_most) = (
        (side.events / side.due, (side.events + side.due - side.n) / side.due) for side in (grafted, advanced)
    )
    return Range(advanced_least - grafted_most, advanced_most - grafted_least)


def _last_known_shares(lids: Lids, rule: Threshold, level: float) -> Contrast | None:
    known = _last_known(lids)
    if known is None:
        return None
    poor = is_poor(lids.last, rule).astype(float)
    return _difference([_proportion(lids, poor, known, second=side, level=level) for side in (False, True)], None)


def _last_known(lids: Lids) -> Flags | None:
    """Lids that were seen, or missed the window but were known before it; None when that adds nobody."""
    known = ~np.isnan(lids.last) & (lids.seen | (lids.status == MISSING))
    adds = known & ~lids.seen
    both = (known & lids.second).any() and (known & ~lids.second).any()
    return known if adds.any() and both else None


def compare_values(lids: Lids, measure: Measure, protocol: Protocol, choice: CoverChoice) -> Compared:
    """Compare the values themselves: middle, quartiles, every value, shift with interval, test of ranks, weighted shift, bounds."""
    seen, level = lids.seen, protocol.rules.confidence_level
    sides = [seen & ~lids.second, seen & lids.second]
    test = _permuted(lids, _ranks(lids.value, seen), seen)
    return Compared(
        _values(lids, sides[0], second=False),
        _values(lids, sides[1], second=True),
        _shift(lids, lids.value, sides, level, test),
        _adjusted_values(lids, sides, choice, level),
        _bounds_of_values(lids, sides, protocol.limits(measure)),
        _last_known_values(lids, level),
        contrast_of_values(lids.as_planned(), level) if lids.converted else None,
    )


def contrast_of_values(lids: Lids, level: float) -> Contrast:
    """The shift of the values, with its interval and no test."""
    return _shift(lids, lids.value, [lids.seen & ~lids.second, lids.seen & lids.second], level, None)


def _ranks(value: Numbers, seen: Flags) -> Numbers:
    ranks = np.zeros(value.size)
    ranks[seen] = midranks(value[seen])
    return ranks


def _values(lids: Lids, here: Flags, *, second: bool) -> Values:
    q1, median, q3 = quartiles(lids.value[here])
    levels, counts = np.unique(lids.value[here], return_counts=True)
    return Values(
        n=int(here.sum()),
        **lids.counts(second=second),
        patients=int(np.unique(lids.patient[here]).size),
        median=estimable(median),
        q1=estimable(q1),
        q3=estimable(q3),
        counts=tuple((float(level), int(count)) for level, count in zip(levels, counts, strict=True)),
    )


def _shift(lids: Lids, value: Numbers, sides: list[Flags], level: float, test: PermutationTest | None) -> Contrast:
    first, second = sides
    interval = hodges_lehmann(
        value[first],
        value[second],
        first_patient=lids.patient[first],
        second_patient=lids.patient[second],
        confidence_level=level,
    )
    told = allow_for_rounding(interval, lids.step)
    return _contrast(VALUE, told.estimate, told.low, told.high, test)


def _adjusted_values(lids: Lids, sides: list[Flags], choice: CoverChoice, level: float) -> Adjusted | None:
    if choice.weight is None or choice.resampled_weight is None or not all(side.any() for side in sides):
        return None
    first, second = (lids.value[side] for side in sides)
    estimate = weighted_hodges_lehmann(first, second, *(choice.weight[side] for side in sides))
    again = resampled_hodges_lehmann(first, second, *(choice.resampled_weight[:, side] for side in sides))
    # Where all values are equal so is every resample, which is not certainty: no interval, as without weights.
    fewest = min(np.unique(lids.patient[side]).size for side in sides) if np.ptp([*first, *second]) else 0
    interval = allow_for_rounding(percentile_interval(estimate, again, fewest, confidence_level=level), lids.step)
    spread = float(np.sqrt((np.var(first) + np.var(second)) / 2))
    nearer = interval.low if interval.low > 0 else interval.high
    ratios = (
        (risk_ratio_of_shift(estimate / spread), risk_ratio_of_shift(nearer / spread)) if spread > 0 else (1.0, 1.0)
    )
    return Adjusted(
        ADJUSTED_VALUE,
        estimable(estimate),
        estimable(interval.low),
        estimable(interval.high),
        effective_size(choice.weight[sides[0]]),
        effective_size(choice.weight[sides[1]]),
        *_e_values(interval.low, interval.high, *ratios),
    )


def _bounds_of_values(lids: Lids, sides: list[Flags], limits: tuple[float, float]) -> Range:
    """The shift with every missing lid at one end of what the protocol allows, and at the other; none where it has no end."""
    missing = lids.status == MISSING
    if not all(side.any() for side in sides):
        return Range(None, None)
    ends = [_shift_with(lids, sides, missing, *each) for each in ((limits[1], limits[0]), limits)]
    return Range(*(estimable(end) for end in ends))


def _shift_with(lids: Lids, sides: list[Flags], missing: Flags, grafted: float, advanced: float) -> float:
    first, second = (
        np.concatenate([lids.value[side], np.full(int((missing & (lids.second == which)).sum()), filling)])
        for side, which, filling in zip(sides, (False, True), (grafted, advanced), strict=True)
    )
    if not np.isfinite(first).all() or not np.isfinite(second).all():
        return float("nan")
    return weighted_hodges_lehmann(first, second, np.ones(first.size), np.ones(second.size))


def _last_known_values(lids: Lids, level: float) -> Contrast | None:
    known = _last_known(lids)
    if known is None:
        return None
    return _shift(lids, lids.last, [known & ~lids.second, known & lids.second], level, None)
