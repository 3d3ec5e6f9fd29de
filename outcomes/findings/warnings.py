"""The warnings that hold for a comparison."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import polars as pl

from outcomes.cohort import CaseSeries
from outcomes.findings.arrays import patient_of
from outcomes.findings.balance import balance
from outcomes.findings.estimable import excludes_none
from outcomes.findings.propensity import CoverChoice
from outcomes.findings.results import Caution, Finding, Group, Range

HAIR = 1e-9


def cautions(
    series: CaseSeries, choice: CoverChoice, findings: tuple[Finding, ...], groups: tuple[Group, Group]
) -> tuple[Caution, ...]:
    """Give every warning that holds for this series, in the order of their weight; `groups` are grafted and advanced."""
    primary = [finding for finding in findings if finding.family == "planned"]
    return (
        *_too_few(series, primary),
        *_overlap(choice),
        *_imbalance(series, choice),
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
    thin = [f for f in primary if min(f.grafted.n, f.advanced.n) < least]
    if not series.cases.height:
        yield Caution("too_few", "There is no lid of either cover, so that nothing can be compared.")
    if thin:
        names = ", ".join(_label(series, finding) for finding in thin)
        yield Caution(
            "too_few",
            f"Fewer than {least} lids of a cover were seen in the primary window for: {names}. Nothing can be said of these.",
        )


def _overlap(choice: CoverChoice) -> Iterator[Caution]:
    if choice.no_overlap:
        yield Caution(
            "no_overlap",
            "The covers do not overlap: lids given one cover were hardly ever like lids given the other, so a difference in result "
            "cannot be told from the choice of cover. Adjusted figures are left out.",
        )


def _imbalance(series: CaseSeries, choice: CoverChoice) -> Iterator[Caution]:
    bound = series.protocol.rules.imbalance_smd
    apart = [
        line
        for line in balance(series, choice)
        if not line.consequence and line.smd is not None and abs(line.smd) > bound
    ]
    if apart:
        names = ", ".join(
            dict.fromkeys(line.label.lower() for line in sorted(apart, key=lambda line: -abs(line.smd or 0)))
        )
        yield Caution(
            "imbalance",
            f"The cohorts differed before anything was compared; the largest differences first: {names}. "
            "Differences in result may be due to that, and adjustment may not remove it all.",
        )


def _follow_up(series: CaseSeries, primary: list[Finding], groups: tuple[Group, Group]) -> Iterator[Caution]:
    points = series.protocol.rules.follow_up_difference_points
    told = [*_reviewed_apart(series, primary, points), *_followed_apart(groups, points)]
    if told:
        yield Caution("follow_up_differs", "The covers were not followed alike: " + "; ".join(told) + ".")


def _reviewed_apart(series: CaseSeries, primary: list[Finding], points: float) -> Iterator[str]:
    shared = [(shares, f) for f in primary if (shares := _reviewed_shares(f)) is not None]
    apart = [(shares, f) for shares, f in shared if abs(shares[0] - shares[1]) * 100 > points + HAIR]
    if apart:
        (grafted, advanced), worst = max(apart, key=lambda each: abs(each[0][0] - each[0][1]))
        yield (
            f"of lids due for {_label(series, worst)} in the primary window, {grafted:.0%} grafted and {advanced:.0%} advanced were "
            "reviewed, so a difference must survive everything that the missing lids could have been"
        )


def _reviewed_shares(finding: Finding) -> tuple[float, float] | None:
    """The share reviewed of the lids that were due in the window, grafted then advanced; None when none was due in one."""
    due = [side.due for side in (finding.grafted, finding.advanced)]
    return (finding.grafted.n / due[0], finding.advanced.n / due[1]) if all(due) else None


def _followed_apart(groups: tuple[Group, Group], points: float) -> Iterator[str]:
    grafted, advanced = groups
    lengths = (grafted.followup_low, grafted.followup_high, advanced.followup_low, advanced.followup_high)
    medians = grafted.median_followup_months, advanced.median_followup_months
    if None not in medians and _disjoint(*lengths):
        yield f"median follow-up since division is {medians[0]:.0f} months grafted and {medians[1]:.0f} months advanced"
    complete = grafted.followup_completeness, advanced.followup_completeness
    if complete[0] is not None and complete[1] is not None and abs(complete[0] - complete[1]) * 100 > points:
        yield f"follow-up was {complete[0]:.0%} complete grafted and {complete[1]:.0%} complete advanced (Clark's index)"


def _disjoint(
    first_low: float | None, first_high: float | None, second_low: float | None, second_high: float | None
) -> bool:
    """Tell whether two intervals lie apart; an upper limit that was not reached has no end."""
    ends = [float("inf") if high is None else high for high in (first_high, second_high)]
    return first_low is not None and second_low is not None and (ends[0] < second_low or ends[1] < first_low)


def _missing(series: CaseSeries, primary: list[Finding]) -> Iterator[Caution]:
    turned = [
        f
        for f in primary
        if excludes_none(f.judged.low, f.judged.high) and not _same_side(f.judged.estimate, f.unseen.worst_case)
    ]
    if turned:
        names = ", ".join(_label(series, finding) for finding in turned)
        yield Caution(
            "missing_could_reverse", f"Lids that were due and not measured could reverse the difference in: {names}."
        )


def _same_side(estimate: float | None, worst: Range | None) -> bool:
    if estimate is None or worst is None or worst.low is None:
        return False
    return excludes_none(worst.low, worst.high) and (worst.low > 0) == (estimate > 0)


def _clock(series: CaseSeries, primary: list[Finding]) -> Iterator[Caution]:
    moved = [f for f in primary if _turns(f)]
    if moved:
        names = ", ".join(_label(series, finding) for finding in moved)
        yield Caution(
            "clock_matters",
            f"Counting from the operation instead of from division changes what is seen in: {names}. The covers are divided at "
            "different times, so the two clocks are not the same.",
        )


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
        names = ", ".join(
            dict.fromkeys(f"{_label(series, f)} at {series.protocol.window(f.window).label}" for f in less)
        )
        yield Caution(
            "masking_matters",
            f"Assessors who did not know the cover saw less in the same lids in: {names}. Believe the masked ones.",
        )


def _assessor(series: CaseSeries) -> Iterator[Caution]:
    known = series.values.drop_nulls("assessor").unique(["case_id", "reviewed_on", "assessor"])
    if not known.height:
        return
    counts = known.group_by("assessor").len().sort(["len", "assessor"], descending=[True, False])
    share = counts.get_column("len")[0] / known.height
    if share >= series.protocol.rules.single_assessor_share:
        yield Caution(
            "single_assessor", f"One person made {share:.0%} of the reviews: how far another would agree is not known."
        )


def _clustered(series: CaseSeries) -> Iterator[Caution]:
    patients = patient_of(series)
    shared = patients.size - np.unique(patients).size
    if shared:
        yield Caution(
            "clustered",
            f"{patients.size} lids belong to {np.unique(patients).size} patients: lids of one patient are not independent, "
            "and every interval allows for it. A patient with a lid of each cover counts in both cohorts.",
        )


def _converted(series: CaseSeries) -> Iterator[Caution]:
    planned = series.cases.filter(
        pl.col("cover_planned").is_not_null() & (pl.col("cover_planned") != pl.col("cover"))
    ).height
    if planned:
        yield Caution(
            "converted", f"In {planned} lids the cover was not the one planned; the cohorts go by what was done."
        )


def _label(series: CaseSeries, finding: Finding) -> str:
    return series.protocol.measure(finding.measure).label.lower()
