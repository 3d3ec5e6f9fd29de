"""Findings by measure, window and family, and the addresses of their numbers."""

from __future__ import annotations

from outcomes.findings.results import Clock, Comparison, Finding, Outcome, TimedFinding, Values
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


def rule_place(protocol: Protocol) -> Place:
    """Give the rules of the protocol with their address."""
    return Place("protocol.rules", protocol.rules)


def main_findings(comparison: Comparison, protocol: Protocol) -> tuple[Finding, ...]:
    """Give the main measures in the primary window, in the protocol's order, shares of poor results first."""
    names = [measure.id for measure in protocol.main_measures]
    held = [
        finding
        for finding in by_clock(comparison, "division")
        if finding.measure in names and finding.window == protocol.primary_window
    ]
    return tuple(sorted(held, key=lambda finding: (names.index(finding.measure), finding.outcome)))


def told_first(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Keep one finding for each measure: the share of poor results where there is one, else the value itself."""
    first: dict[str, Finding] = {}
    for finding in findings:
        first.setdefault(finding.measure, finding)
    return tuple(first.values())


def by_clock(comparison: Comparison, clock: Clock) -> tuple[Finding, ...]:
    """Give the findings that are counted from the operation, or those from division."""
    return tuple(finding for finding in comparison.findings if finding.clock == clock)


def findings_of(comparison: Comparison, measure: Measure, outcome: Outcome) -> tuple[Finding, ...]:
    """Give the findings of one measure told one way, by time since division, in the order of the windows."""
    return tuple(
        each for each in by_clock(comparison, "division") if each.measure == measure.id and each.outcome == outcome
    )


def left_out(finding: Finding) -> bool:
    """Tell whether what a finding found was left out of public output, though lids were seen."""
    return finding.withheld == "public"


def is_public(comparison: Comparison) -> bool:
    """Tell whether small counts, and what would give them away, are left out."""
    return comparison.level == "public"


def bounded(comparison: Comparison) -> bool:
    """Tell whether anything is said of what the missing lids could have changed; public output says nothing of it."""
    return any(each.if_missing.low is not None for each in comparison.findings)


def seen(finding: Finding) -> bool:
    """Tell whether any lid of either cohort was seen."""
    return bool(finding.grafted.n or finding.advanced.n)


def lid_by_lid(finding: Finding) -> bool:
    """Tell whether the value of every lid is told; public output tells none."""
    return any(isinstance(side, Values) and side.counts for side in (finding.grafted, finding.advanced))
