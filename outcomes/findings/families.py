"""The families of comparisons, the correction of each for how many there are, and the verdicts that follow.

Planned are the main outcomes in the primary window (weighted Holm), further are those in all other windows and the timed events
at their main month (Benjamini-Hochberg); everything else is exploratory and gets no verdict.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from outcomes.findings.decision_rule import Evidence, rule
from outcomes.findings.estimable import estimable
from outcomes.findings.measure_findings import Draft
from outcomes.findings.results import (
    BETTER,
    DECIDED,
    MAY_BE,
    Family,
    FamilySummary,
    Finding,
    Note,
    TimedFinding,
    Verdict,
)
from outcomes.protocol import Protocol
from outcomes.statistics.multiplicity import benjamini_hochberg, holm

MOST_FALSE_SHARE = 0.01


@dataclass(frozen=True)
class TimedDraft:
    """A timed finding before its verdict; evidence only where one is given."""

    finding: TimedFinding
    evidence: Evidence | None


def family_of(protocol: Protocol, finding: Finding) -> Family:
    """The family that a finding belongs to."""
    if finding.outcome != "main" or finding.clock != "division":
        return "exploratory"
    return "planned" if finding.window == protocol.primary_window else "further"


def with_verdicts(
    protocol: Protocol, drafts: Sequence[Draft], timed: Sequence[TimedDraft]
) -> tuple[tuple[Finding, ...], tuple[TimedFinding, ...]]:
    """Correct each family and give every finding of it its verdict."""
    families = [family_of(protocol, draft.finding) for draft in drafts]
    planned = [draft for draft, family in zip(drafts, families, strict=True) if family == "planned"]
    further = [draft for draft, family in zip(drafts, families, strict=True) if family == "further"]
    weights = [protocol.measure(draft.finding.measure).weight for draft in planned]
    corrected = iter(holm([draft.evidence.p for draft in planned], weights=weights))
    looked_at = [*(draft.evidence for draft in further), *(each.evidence for each in timed if each.evidence)]
    false_shares = iter(benjamini_hochberg([evidence.p for evidence in looked_at]))
    alpha = 1 - protocol.rules.confidence_level
    done = []
    for draft, family in zip(drafts, families, strict=True):
        if family == "planned":
            p = next(corrected)
            done.append(_ruled(_with_corrected(draft.finding, p), draft.evidence, family, stands=p <= alpha))
        elif family == "further":
            q = next(false_shares)
            finding = replace(draft.finding, q=estimable(q))
            done.append(_ruled(finding, draft.evidence, family, stands=q <= MOST_FALSE_SHARE))
        else:
            done.append(draft.finding)
    return _with_masked_elsewhere(done), tuple(
        _timed(each, next(false_shares) if each.evidence else None) for each in timed
    )


def _with_corrected(finding: Finding, p: float) -> Finding:
    """The corrected p beside that of the adjusted difference, or of the crude one where that one is judged."""
    if finding.adjusted is None:
        return replace(finding, contrast=replace(finding.contrast, p_corrected=estimable(p)))
    return replace(finding, adjusted=replace(finding.adjusted, p_corrected=estimable(p)))


def _ruled(finding: Finding, evidence: Evidence, family: Family, *, stands: bool) -> Finding:
    ruling = rule(evidence, stands=stands)
    reversing = _reversing(finding) if ruling.verdict in DECIDED else ()
    notes = dict.fromkeys((*finding.notes, *ruling.notes, *reversing))
    return replace(finding, family=family, verdict=ruling.verdict, withheld=ruling.withheld, notes=tuple(notes))


def _reversing(finding: Finding) -> tuple[Note, ...]:
    """The checks in which the difference points the other way."""
    judged = finding.judged.estimate or 0.0
    return tuple(
        Note("check_reverses", label=each.id) for each in finding.checks if (each.estimate or 0.0) * judged < 0
    )


def _with_masked_elsewhere(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Say beside a difference that masked assessors saw less of the same measure in another window."""
    masked = {each.measure for each in findings if each.withheld == "masked"}
    return tuple(
        replace(each, notes=(*each.notes, Note("masked_elsewhere")))
        if each.measure in masked and each.verdict in DECIDED
        else each
        for each in findings
    )


def _timed(draft: TimedDraft, q: float | None) -> TimedFinding:
    if draft.evidence is None or q is None:
        return draft.finding
    ruling = rule(draft.evidence, stands=q <= MOST_FALSE_SHARE)
    notes = tuple(dict.fromkeys((*draft.finding.notes, *ruling.notes)))
    return replace(draft.finding, q=estimable(q), verdict=ruling.verdict, withheld=ruling.withheld, notes=notes)


def summaries(
    protocol: Protocol, findings: Sequence[Finding], timed: Sequence[TimedFinding]
) -> tuple[FamilySummary, ...]:
    """Of the planned and of the further family, how many verdicts there are and how many chance alone would give."""
    planned = [f.verdict for f in findings if f.family == "planned" and f.verdict]
    further = [f.verdict for f in findings if f.family == "further" and f.verdict]
    further += [f.verdict for f in timed if f.verdict]
    alpha = 1 - protocol.rules.confidence_level
    return (_summary("planned", planned, alpha), _summary("further", further, alpha))


def _summary(family: Family, verdicts: Sequence[Verdict], alpha: float) -> FamilySummary:
    judged = [verdict for verdict in verdicts if verdict != "too few to say"]
    better = sum(verdict in BETTER for verdict in judged)
    may_be = sum(verdict in MAY_BE for verdict in judged)
    return FamilySummary(family, len(judged), better, may_be, round(len(judged) * alpha, 2))
