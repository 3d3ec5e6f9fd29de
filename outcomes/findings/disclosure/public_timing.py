"""The timed events of a comparison as the public sees them.

The main month is kept first; other months are kept where nobody can be counted out between any two. A main month that points at
somebody keeps its verdict alone. The test of whole curves is about every event: it is kept where the last month is. Curves,
mean times, what the lids lost to follow-up could change, and the lids in a state at a review, whose grade may be another than the
one of a poor result, are left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import groupby

from outcomes.findings.disclosure.counts import public_count, public_events, safe, safe_events, safe_part
from outcomes.findings.disclosure.public_findings import Rules, notes_beside_nothing, public_notes
from outcomes.findings.disclosure.rounding import (
    hundredths,
    rounded_adjusted,
    rounded_contrast,
    share_limits,
    upwards,
    without_numbers,
)
from outcomes.findings.results import Contrast, TimedFinding, TimedShare, exact
from outcomes.statistics.difference import square_and_add
from outcomes.statistics.result import Interval

Sides = tuple[TimedShare, TimedShare]


def public_timing(timed: Iterable[TimedFinding], rules: Rules) -> tuple[TimedFinding, ...]:
    """The timed findings, without anything that points at a person."""
    shown: list[TimedFinding] = []
    for _, group in groupby(timed, key=lambda finding: (finding.event, finding.method)):
        of_event = list(group)
        kept = safe_months(of_event, rules)
        whole_curve = max(each.at_months for each in of_event) in kept
        for each in of_event:
            if each.at_months in kept:
                shown.append(_month(each if whole_curve else replace(each, p_curve=None), rules))
            elif each.verdict is not None:
                shown.append(_verdict_alone(each, rules))
    return tuple(shown)


def safe_months(of_event: Sequence[TimedFinding], rules: Rules) -> frozenset[int]:
    """The months between which nobody can be counted out: every step from one to another is none, or safe, in both cohorts."""
    kept: list[TimedFinding] = []
    for finding in sorted(of_event, key=lambda each: (each.verdict is None, each.at_months)):
        if _points_at_nobody(finding, rules) and all(_safe_step(finding, other, rules.threshold) for other in kept):
            kept.append(finding)
    return frozenset(each.at_months for each in kept)


def _sides(finding: TimedFinding) -> Sides:
    return finding.grafted, finding.advanced


def _points_at_nobody(finding: TimedFinding, rules: Rules) -> bool:
    return all(
        safe_part(exact(side.n), whole, rules.threshold)
        and safe_events(exact(side.events), exact(side.n), rules.threshold)
        for side, whole in zip(_sides(finding), rules.cases, strict=True)
    )


def _safe_step(finding: TimedFinding, other: TimedFinding, threshold: int) -> bool:
    return all(
        safe(abs(exact(one.events) - exact(another.events)), threshold)
        for one, another in zip(_sides(finding), _sides(other), strict=True)
    )


def _month(finding: TimedFinding, rules: Rules) -> TimedFinding:
    grafted, advanced = (
        _side(side, pairs, rules.level) for side, pairs in zip(_sides(finding), rules.second_lids, strict=True)
    )
    return TimedFinding(
        finding.event,
        finding.method,
        finding.clock,
        finding.at_months,
        grafted,
        advanced,
        _contrast(finding.contrast, (grafted, advanced), rules.level),
        rounded_adjusted(finding.adjusted),
        p_curve=None if finding.p_curve is None else rounded_contrast(finding.p_curve),
        q=upwards(finding.q),
        verdict=finding.verdict,
        withheld=finding.withheld,
        notes=public_notes(finding.notes),
    )


def _side(side: TimedShare, pairs: int, level: float) -> TimedShare:
    """One cohort at one month; where nobody's end of follow-up moves the share, its limits follow from the counts alone."""
    n, events, estimate = exact(side.n), exact(side.events), hundredths(side.estimate)
    low, high = side.low, side.high
    if n and estimate == hundredths(events / n):
        found = share_limits(events / n, n, pairs, level)
        low, high = found.low, found.high
    return TimedShare(n, events, estimate, hundredths(low), hundredths(high), due=None, lost=None)


def _contrast(contrast: Contrast, sides: Sides, level: float) -> Contrast:
    """The difference of the shares as they are shown: the real limits would tell what the sides' own do not."""
    intervals = [
        Interval(side.estimate, side.low, side.high, level)
        for side in sides
        if side.estimate is not None and side.low is not None and side.high is not None
    ]
    if len(intervals) < len(sides):
        return without_numbers(contrast)
    found = square_and_add(*intervals)
    return Contrast(contrast.kind, hundredths(found.estimate), hundredths(found.low), hundredths(found.high))


def _verdict_alone(finding: TimedFinding, rules: Rules) -> TimedFinding:
    grafted, advanced = (
        _few(side, whole, rules.threshold) for side, whole in zip(_sides(finding), rules.cases, strict=True)
    )
    return TimedFinding(
        finding.event,
        finding.method,
        finding.clock,
        finding.at_months,
        grafted,
        advanced,
        without_numbers(finding.contrast),
        verdict=None if finding.adjusted is None else finding.verdict,
        withheld="public",
        notes=notes_beside_nothing(finding.notes),
    )


def _few(side: TimedShare, whole: int, threshold: int) -> TimedShare:
    n = public_count(exact(side.n), whole, threshold)
    events = public_events(exact(side.events), n, threshold) if isinstance(n, int) else None
    return TimedShare(n, events, None, None, None, due=None, lost=None)
