"""What must the reader know before believing a figure?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import polars as pl

from outcomes.cohort import CaseSeries
from outcomes.findings.balance import balance
from outcomes.findings.cover_choice import CoverChoice
from outcomes.findings.estimable import excludes_none
from outcomes.findings.families import reviewed_apart, reviewed_shares
from outcomes.findings.lids import patient_of
from outcomes.findings.masking import masking_tells
from outcomes.findings.results import Caution, Finding


def cautions(series: CaseSeries, choice: CoverChoice, findings: tuple[Finding, ...]) -> tuple[Caution, ...]:
    """Give every warning that holds for this series, in the order of their weight."""
    primary = [finding for finding in findings if finding.primary]
    return (
        *_too_few(series, primary), *_overlap(choice), *_imbalance(series, choice), *_follow_up(series, primary),
        *_missing(series, primary), *_clock(series, findings), *_masking(series, findings), *_assessor(series),
        *_clustered(series), *_converted(series),
    )


def _too_few(series: CaseSeries, primary: list[Finding]) -> Iterator[Caution]:
    least = series.protocol.rules.too_few_lids
    thin = [f for f in primary if min(f.grafted.n, f.advanced.n) < least]
    if thin:
        names = ", ".join(_label(series, finding) for finding in thin)
        yield Caution("too_few", f"Fewer than {least} lids of a cover were seen in the primary window for: {names}. Nothing can be said of these.")


def _overlap(choice: CoverChoice) -> Iterator[Caution]:
    if choice.no_overlap:
        yield Caution(
            "no_overlap",
            "The covers do not overlap: lids given one cover were hardly ever like lids given the other, so a difference in result "
            "cannot be told from the choice of cover. Adjusted figures are left out.",
        )


def _imbalance(series: CaseSeries, choice: CoverChoice) -> Iterator[Caution]:
    bound = series.protocol.rules.imbalance_smd
    apart = [line for line in balance(series, choice) if not line.consequence and line.smd is not None and abs(line.smd) > bound]
    if apart:
        names = ", ".join(dict.fromkeys(line.label.lower() for line in sorted(apart, key=lambda line: -abs(line.smd or 0))))
        yield Caution("imbalance", f"The cohorts differed before anything was compared, most in this order: {names}. Crude differences may be due to that.")


def _follow_up(series: CaseSeries, primary: list[Finding]) -> Iterator[Caution]:
    points = series.protocol.rules.follow_up_difference_points
    apart = [f for f in primary if reviewed_apart(f, points)]
    if apart:
        worst = max(apart, key=lambda f: abs(np.subtract(*(reviewed_shares(f) or (0, 0)))))
        grafted, advanced = reviewed_shares(worst) or (0.0, 0.0)
        yield Caution(
            "follow_up_differs",
            f"The covers were not followed alike: of lids due for {_label(series, worst)} in the primary window, {grafted:.0%} grafted and "
            f"{advanced:.0%} advanced were reviewed. Such differences must survive everything that the missing lids could have been.",
        )


def _missing(series: CaseSeries, primary: list[Finding]) -> Iterator[Caution]:
    turned = [
        f for f in primary
        if excludes_none(f.contrast.low, f.contrast.high) and not _same_side(f.contrast.estimate, f.if_missing.low, f.if_missing.high)
    ]
    if turned:
        names = ", ".join(_label(series, finding) for finding in turned)
        yield Caution("missing_could_reverse", f"Lids that were due and not reviewed could reverse the difference in: {names}.")


def _same_side(estimate: float | None, low: float | None, high: float | None) -> bool:
    return estimate is not None and excludes_none(low, high) and low is not None and (low > 0) == (estimate > 0)


def _clock(series: CaseSeries, findings: tuple[Finding, ...]) -> Iterator[Caution]:
    """The reading changes, or the crude interval stops excluding none, when days are counted from the operation."""
    other = {(f.measure, f.window, f.outcome): f for f in findings if f.clock == "operation"}
    moved = [
        f for f in findings
        if f.clock == "division" and series.protocol.measure(f.measure).main and _turns(f, other.get((f.measure, f.window, f.outcome)))
    ]
    if moved:
        names = ", ".join(dict.fromkeys(f"{_label(series, f)} at {series.protocol.window(f.window).label}" for f in moved))
        yield Caution(
            "clock_matters",
            f"Counting from the operation instead of from division changes what is seen in: {names}. The covers are divided at "
            "different times, so the two clocks are not the same.",
        )


def _turns(finding: Finding, other: Finding | None) -> bool:
    if other is None or "too few to say" in {finding.reading, other.reading}:
        return False
    if finding.reading != other.reading:
        return True
    both = [excludes_none(each.contrast.low, each.contrast.high) for each in (finding, other)]
    estimates = [each.contrast.estimate or 0.0 for each in (finding, other)]
    return both[0] != both[1] and min(map(abs, estimates)) < max(map(abs, estimates)) / 2


def _masking(series: CaseSeries, findings: tuple[Finding, ...]) -> Iterator[Caution]:
    told = [f for f in findings if f.clock == "division" and masking_tells(f)]
    if told:
        names = ", ".join(_label(series, finding) for finding in told)
        yield Caution("masking_matters", f"Reviews by assessors who did not know the cover tell another story in: {names}. Believe the masked ones.")


def _assessor(series: CaseSeries) -> Iterator[Caution]:
    known = series.values.drop_nulls("assessor").unique(["case_id", "reviewed_on", "assessor"])
    if not known.height:
        return
    counts = known.group_by("assessor").len().sort(["len", "assessor"], descending=[True, False])
    share = counts.get_column("len")[0] / known.height
    if share >= series.protocol.rules.single_assessor_share:
        yield Caution("single_assessor", f"One person made {share:.0%} of the reviews: how far another would agree is not known.")


def _clustered(series: CaseSeries) -> Iterator[Caution]:
    patients = patient_of(series)
    shared = patients.size - np.unique(patients).size
    if shared:
        yield Caution("clustered", f"{patients.size} lids belong to {np.unique(patients).size} patients: lids of one patient are not independent, and every interval allows for it.")


def _converted(series: CaseSeries) -> Iterator[Caution]:
    planned = series.cases.filter(pl.col("cover_planned").is_not_null() & (pl.col("cover_planned") != pl.col("cover"))).height
    if planned:
        yield Caution("converted", f"In {planned} lids the cover was not the one planned; the cohorts go by what was done.")


def _label(series: CaseSeries, finding: Finding) -> str:
    return series.protocol.measure(finding.measure).label.lower()


