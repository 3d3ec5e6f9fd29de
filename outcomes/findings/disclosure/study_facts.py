"""What of a paper's facts may leave the clinic? Those that point at nobody, and from which no such fact can be worked back.

Counts are safe as in a public comparison. Kinds of event that are timed are told by the timing alone, so that no late event can
be had by taking one from the other; months become years; lids with another cover are told together; kinds of revision go.
"""

from __future__ import annotations

from dataclasses import replace

from outcomes.findings.disclosure.counts import safe, safe_part
from outcomes.findings.results import Comparison
from outcomes.findings.study_facts import Congress, Happened, OtherCover, Pair, analysed, stages
from outcomes.protocol import COHORTS, Protocol

YEAR = 4


def public_congress(facts: Congress, comparison: Comparison, protocol: Protocol) -> Congress:
    """The facts beside a public comparison, without anything that points at a person."""
    threshold = protocol.rules.public_threshold
    others = sum(each.lids or 0 for each in facts.other_covers)
    told = safe(others, threshold)
    timed = {each.kind for each in protocol.timed if each.kind}
    cases = tuple(getattr(comparison, cohort).cases for cohort in COHORTS)
    return replace(
        facts,
        operated=facts.operated if told else None,
        other_covers=(OtherCover("with another cover", others),) if told and others else (),
        stages=stages(comparison),
        analysed=analysed(comparison, protocol),
        first_operation=facts.first_operation[:YEAR],
        last_operation=facts.last_operation[:YEAR],
        last_review=facts.last_review[:YEAR],
        happened=tuple(
            _with_safe_revisions(each, threshold)
            for each in facts.happened
            if each.kind not in timed and _safe_pair(each.lids, cases, threshold)
        ),
        treated=(),
    )


def _safe_pair(lids: Pair, wholes: tuple[int | None, ...], threshold: int) -> bool:
    counts = (lids.grafted or 0, lids.advanced or 0)
    return all(safe_part(count, whole or 0, threshold) for count, whole in zip(counts, wholes, strict=True))


def _with_safe_revisions(each: Happened, threshold: int) -> Happened:
    wholes = (each.lids.grafted, each.lids.advanced)
    return each if _safe_pair(each.revised, wholes, threshold) else replace(each, revised=Pair(None, None))
