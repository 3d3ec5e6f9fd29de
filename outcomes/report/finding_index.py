"""Findings by measure, window and family, and the addresses of their numbers."""

from __future__ import annotations

from typing import Literal

from outcomes.findings.results import DECIDED, Clock, Comparison, Family, Finding, TimedFinding, Values, exact
from outcomes.protocol import COHORTS, Measure, Protocol
from outcomes.report import formats
from outcomes.report.traced_text import Phrase, Place, say


def finding_place(finding: Finding) -> Place:
    """Give a finding with its address; those counted from the operation stand under a name of their own."""
    among = "findings" if finding.clock == "division" else "findings_since_operation"
    return Place(f"{among}.{finding.measure}.{finding.window}.{finding.outcome}", finding)


def timed_place(finding: TimedFinding) -> Place:
    """Give a timed finding with its address."""
    return Place(f"timing.{finding.event}.{finding.at_months}", finding)


def who_phrase(comparison: Comparison) -> Phrase:
    """Say how many lids of each cohort are compared and as of which day, for a caption."""
    counts = (Place(cohort, getattr(comparison, cohort)).figure("cases", formats.count) for cohort in COHORTS)
    return say("{} grafted and {} advanced lids, as of {}.", *counts, comparison.stamp.as_of.isoformat())


def drawn_words(comparison: Comparison) -> tuple[Phrase, ...]:
    """Say how many lids of each cohort are drawn one by one, for a caption; nothing where all are."""
    drawn = {cohort: sum(each.cohort == cohort for each in comparison.followed) for cohort in COHORTS}
    of_all = {cohort: exact(getattr(comparison, cohort).cases) for cohort in COHORTS}
    if all(drawn[cohort] == of_all[cohort] for cohort in COHORTS):
        return ()
    parts = (f"{formats.count(drawn[cohort])} of {formats.count(of_all[cohort])} {cohort} lids" for cohort in COHORTS)
    return ((f"Drawn: {' and '.join(parts)}, evenly spaced in order of operation.",),)


def rule_place(protocol: Protocol) -> Place:
    """Give the rules of the protocol with their address."""
    return Place("protocol.rules", protocol.rules)


def main_outcomes(comparison: Comparison, protocol: Protocol) -> tuple[Finding, ...]:
    """Give the main outcome of each main measure in the primary window, in the protocol's order."""
    names = [measure.id for measure in protocol.main_measures]
    return tuple(
        sorted(
            (each for each in of_family(comparison, "planned") if each.measure in names),
            key=lambda finding: names.index(finding.measure),
        )
    )


def main_findings(comparison: Comparison, protocol: Protocol) -> tuple[Finding, ...]:
    """Give the main outcome of each main measure in the primary window, and after it the share with a poor result."""
    names = [measure.id for measure in protocol.main_measures]
    findings = [
        each
        for each in by_clock(comparison, "division")
        if each.measure in names and each.window == protocol.primary_window and each.outcome != "value"
    ]
    return tuple(sorted(findings, key=lambda finding: (names.index(finding.measure), finding.outcome)))


def other_differences(comparison: Comparison, protocol: Protocol) -> tuple[Finding, ...]:
    """Give each planned finding of a further measure that reads better, or may be better, with a cover."""
    names = {measure.id for measure in protocol.main_measures}
    return tuple(
        each for each in of_family(comparison, "planned") if each.measure not in names and each.verdict in DECIDED
    )


def of_family(comparison: Comparison, family: Family) -> tuple[Finding, ...]:
    """Give the findings of one family, in their order."""
    return tuple(each for each in comparison.findings if each.family == family and each.clock == "division")


def family_place(comparison: Comparison, family: Family) -> Place | None:
    """Give the summary of one family with its address."""
    return next(
        (Place(f"families.{at}", each) for at, each in enumerate(comparison.families) if each.family == family), None
    )


def by_clock(comparison: Comparison, clock: Clock) -> tuple[Finding, ...]:
    """Give the findings that are counted from the operation, or those from division."""
    return tuple(finding for finding in comparison.findings if finding.clock == clock)


ShownOutcome = Literal["poor", "value"]


def shown_as(finding: Finding) -> ShownOutcome:
    """How a finding is drawn: as a share with a poor result, or as the value itself."""
    return "poor" if finding.is_share else "value"


def findings_of(comparison: Comparison, measure: Measure, shown: ShownOutcome) -> tuple[Finding, ...]:
    """Give the findings of one measure drawn one way, by time since division, in the order of the windows."""
    return tuple(
        each
        for each in by_clock(comparison, "division")
        if each.measure == measure.id and each.outcome != "value" and shown_as(each) == shown
    )


def left_out(finding: Finding) -> bool:
    """Tell whether what a finding found was left out of public output, though lids were seen."""
    return finding.withheld == "public"


def is_public(comparison: Comparison) -> bool:
    """Tell whether small counts, and what would give them away, are left out."""
    return comparison.level == "public"


def bounded(comparison: Comparison) -> bool:
    """Tell whether anything is said of what the missing lids could have changed; public output says nothing of it."""
    return any(each.unseen.worst_case and each.unseen.worst_case.low is not None for each in comparison.findings)


def seen(finding: Finding) -> bool:
    """Tell whether any lid of either cohort was seen."""
    return bool(finding.grafted.n or finding.advanced.n)


def lid_by_lid(finding: Finding) -> bool:
    """Tell whether the value of every lid is told; public output tells none."""
    return any(isinstance(side, Values) and side.counts for side in (finding.grafted, finding.advanced))
