"""The warnings that hold for a comparison."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import polars as pl

from outcomes.cohort import CaseSeries
from outcomes.findings.arrays import patient_of
from outcomes.findings.estimable import excludes_none
from outcomes.findings.propensity import CoverChoice
from outcomes.findings.results import BalanceLine, Caution, Fact, Finding, Group, Range, exact

HAIR = 1e-9
SHORTER_SHARE, SHORTER_MONTHS = 2 / 3, 6


def cautions(
    series: CaseSeries,
    choice: CoverChoice,
    lines: tuple[BalanceLine, ...],
    findings: tuple[Finding, ...],
    groups: tuple[Group, Group],
) -> tuple[Caution, ...]:
    """Give every warning that holds for this series, in the order of their weight.

    `lines` are those of the baseline table, `groups` are grafted and advanced.
    """
    primary = [finding for finding in findings if finding.family == "planned"]
    return (
        *_too_few(series, primary),
        *_overlap(choice),
        *_imbalance(series, lines),
        *_follow_up(series, primary, groups),
        *_missing(series, primary),
        *_clock(series, primary),
        *_masking(series, findings),
        *_assessor(series),
        *_clustered(series),
        *_converted(series),
    )


def _too_few(series: CaseSeries, primary: list[Finding]) -> Iterator[Caution]:
    least = series.protocol.rules.too_few_lids
    thin = [f for f in primary if min(exact(f.grafted.n), exact(f.advanced.n)) < least]
    if not series.cases.height:
        yield Caution("too_few", (Fact("no_lids"),))
    elif thin:
        yield Caution("too_few", (Fact("few_lids_seen", _labels(series, thin), (least,)),))


def _overlap(choice: CoverChoice) -> Iterator[Caution]:
    if choice.no_overlap:
        apart = any(each.reason == "one_surgeon_a_cover" for each in choice.adjustment.left_out)
        yield Caution("no_overlap", (Fact("surgeon_is_cover" if apart else "no_overlap"),))


def _imbalance(series: CaseSeries, lines: tuple[BalanceLine, ...]) -> Iterator[Caution]:
    bound = series.protocol.rules.imbalance_smd
    apart = [line for line in lines if not line.consequence and line.smd is not None and abs(line.smd) > bound]
    if apart:
        largest_first = sorted(apart, key=lambda line: -abs(line.smd or 0))
        labels = tuple(dict.fromkeys(line.label.lower() for line in largest_first))
        yield Caution("imbalance", (Fact("cohorts_differed", labels),))


def _follow_up(series: CaseSeries, primary: list[Finding], groups: tuple[Group, Group]) -> Iterator[Caution]:
    points = series.protocol.rules.follow_up_difference_points
    facts = (*_reviewed_apart(series, primary, points), *_followed_apart(groups, points))
    if facts:
        yield Caution("follow_up_differs", facts)


def _reviewed_apart(series: CaseSeries, primary: list[Finding], points: float) -> Iterator[Fact]:
    shared = [(shares, f) for f in primary if (shares := _reviewed_shares(f)) is not None]
    apart = [(shares, f) for shares, f in shared if abs(shares[0] - shares[1]) * 100 > points + HAIR]
    if apart:
        shares, worst = max(apart, key=lambda each: abs(each[0][0] - each[0][1]))
        yield Fact("reviewed_apart", _labels(series, [worst]), shares)


def _reviewed_shares(finding: Finding) -> tuple[float, float] | None:
    """The share reviewed of the lids that were due in the window, grafted then advanced; None when none was due in one."""
    due = [side.due for side in (finding.grafted, finding.advanced)]
    return (exact(finding.grafted.n) / due[0], exact(finding.advanced.n) / due[1]) if all(due) else None


def _followed_apart(groups: tuple[Group, Group], points: float) -> Iterator[Fact]:
    grafted, advanced = groups
    medians = grafted.median_followup_months, advanced.median_followup_months
    if medians[0] is not None and medians[1] is not None and (_disjoint(groups) or _far_apart(medians[0], medians[1])):
        yield Fact("median_apart", numbers=(medians[0], medians[1]))
    complete = grafted.followup_completeness, advanced.followup_completeness
    if complete[0] is not None and complete[1] is not None and abs(complete[0] - complete[1]) * 100 > points:
        yield Fact("completeness_apart", numbers=(complete[0], complete[1]))


def _far_apart(first: float, second: float) -> bool:
    """Tell whether one median follow-up is less than two thirds of the other, and half a year or more shorter (own choice)."""
    shorter, longer = sorted((first, second))
    return shorter < SHORTER_SHARE * longer and longer - shorter >= SHORTER_MONTHS


def _disjoint(groups: tuple[Group, Group]) -> bool:
    """Tell whether the intervals of two medians lie apart; an upper limit that was not reached has no end."""
    first, second = groups
    ends = [float("inf") if each.followup_high is None else each.followup_high for each in groups]
    if first.followup_low is None or second.followup_low is None:
        return False
    return ends[0] < second.followup_low or ends[1] < first.followup_low


def _missing(series: CaseSeries, primary: list[Finding]) -> Iterator[Caution]:
    turned = [
        f
        for f in primary
        if excludes_none(f.judged.low, f.judged.high) and not _same_side(f.judged.estimate, f.unseen.worst_case)
    ]
    if turned:
        yield Caution("missing_could_reverse", (Fact("missing_could_reverse", _labels(series, turned)),))


def _same_side(estimate: float | None, worst: Range | None) -> bool:
    if estimate is None or worst is None or worst.low is None:
        return False
    return excludes_none(worst.low, worst.high) and (worst.low > 0) == (estimate > 0)


def _clock(series: CaseSeries, primary: list[Finding]) -> Iterator[Caution]:
    moved = [f for f in primary if _turns(f)]
    if moved:
        yield Caution("clock_matters", (Fact("clock_matters", _labels(series, moved)),))


def _turns(finding: Finding) -> bool:
    """Only one of the two clocks excludes no difference, with less than half of it on the other."""
    other, judged = finding.check("operation_clock"), finding.judged
    if other is None or other.low is None or judged.low is None:
        return False
    seen = excludes_none(judged.low, judged.high), excludes_none(other.low, other.high)
    sizes = abs(judged.estimate or 0.0), abs(other.estimate or 0.0)
    return seen[0] != seen[1] and min(sizes) < max(sizes) / 2


def _masking(series: CaseSeries, findings: tuple[Finding, ...]) -> Iterator[Caution]:
    less = [f for f in findings if f.withheld == "masked"]
    if less:
        places = (f"{label} at {window}" for label, window in ((_label(series, f), _window(series, f)) for f in less))
        yield Caution("masking_matters", (Fact("masked_saw_less", tuple(dict.fromkeys(places))),))


def _assessor(series: CaseSeries) -> Iterator[Caution]:
    """Warn where one person who was not recorded as masked made most of the reviews: then most grades rest on one pair of eyes."""
    known = series.measured.select("lid", "reviewed_on", "masked", "assessor").drop_nulls("assessor")
    differs = pl.any_horizontal(pl.all().ne_missing(pl.all().shift()))  # equal ones lie side by side
    known = known.select("assessor", "masked", differs.alias("new")).filter("new")
    unmasked = known.filter(~pl.col("masked").fill_null(value=False)).group_by("assessor").len()
    if not unmasked.height:
        return
    share = max(unmasked.get_column("len").to_list()) / known.height
    if share >= series.protocol.rules.single_assessor_share:
        yield Caution("single_assessor", (Fact("single_assessor", numbers=(share,)),))


def _clustered(series: CaseSeries) -> Iterator[Caution]:
    patients = patient_of(series)
    people = np.unique(patients).size
    if patients.size > people:
        yield Caution("clustered", (Fact("clustered", numbers=(patients.size, people)),))


def _converted(series: CaseSeries) -> Iterator[Caution]:
    planned = series.cases.filter(
        pl.col("cover_planned").is_not_null() & (pl.col("cover_planned") != pl.col("cover"))
    ).height
    if planned:
        yield Caution("converted", (Fact("converted", numbers=(planned,)),))


def _labels(series: CaseSeries, findings: list[Finding]) -> tuple[str, ...]:
    return tuple(_label(series, finding) for finding in findings)


def _label(series: CaseSeries, finding: Finding) -> str:
    return series.protocol.measure(finding.measure).label.lower()


def _window(series: CaseSeries, finding: Finding) -> str:
    return series.protocol.window(finding.window).label
