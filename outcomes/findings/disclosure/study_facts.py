"""The facts of a series beside a public comparison, without those that point at a person or from which one could be worked back.

Counts are safe as in the comparison. Kinds of event that are timed are in its timing alone, so that no late event can be had by
taking one from the other; months become years; lids with another cover are put together; kinds of revision are left out.
"""

from __future__ import annotations

from dataclasses import replace

from outcomes.findings.disclosure.counts import safe, safe_part
from outcomes.findings.results import Comparison
from outcomes.findings.study_facts import CohortCounts, Congress, EventCounts, OtherCover, analysed, stages
from outcomes.protocol import COHORTS, Protocol

YEAR = 4


def public_congress(facts: Congress, comparison: Comparison, protocol: Protocol) -> Congress:
    """The facts beside a public comparison, without anything that points at a person."""
    threshold = protocol.rules.public_threshold
    timed = {each.kind for each in protocol.timed if each.kind}
    grafted, advanced = (getattr(comparison, cohort).cases for cohort in COHORTS)
    others = sum(each.lids or 0 for each in facts.other_covers)
    left = (facts.operated or 0) - grafted - advanced - others
    others_safe = safe(others, threshold) and safe(left, threshold)
    return Congress(
        operated=facts.operated if others_safe else None,
        other_covers=(OtherCover("with another cover", others),) if others_safe and others else (),
        stages=stages(comparison),
        analysed=analysed(comparison, protocol),
        first_operation=facts.first_operation[:YEAR],
        last_operation=facts.last_operation[:YEAR],
        last_review=facts.last_review[:YEAR],
        surgeons=facts.surgeons,
        sites=facts.sites,
        assessors=facts.assessors,
        happened=tuple(
            _with_safe_revisions(each, threshold)
            for each in facts.happened
            if each.kind not in timed and _safe_counts(each.lids, (grafted, advanced), threshold)
        ),
        treated=(),
    )


def _safe_counts(lids: CohortCounts, wholes: tuple[int | None, ...], threshold: int) -> bool:
    counts = (lids.grafted or 0, lids.advanced or 0)
    return all(safe_part(count, whole or 0, threshold) for count, whole in zip(counts, wholes, strict=True))


def _with_safe_revisions(each: EventCounts, threshold: int) -> EventCounts:
    wholes = (each.lids.grafted, each.lids.advanced)
    return each if _safe_counts(each.revised, wholes, threshold) else replace(each, revised=CohortCounts(None, None))
