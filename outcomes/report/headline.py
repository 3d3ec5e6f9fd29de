"""The sentences at the head of the report."""

from __future__ import annotations

from outcomes.findings.results import Comparison, Finding
from outcomes.protocol import Protocol
from outcomes.report import formats
from outcomes.report.finding_index import main_findings, seen
from outcomes.report.sentences import (
    adjustment_sentence,
    counts_sentence,
    difference_sentence,
    interval_ends,
    measure_words,
    missing_sentence,
    unit_words,
)
from outcomes.report.traced_text import Phrase, Place, joined, say

COHORTS = ("grafted", "advanced")
DECIDED = (
    "better with advanced",
    "better with graft",
    "may be better with advanced",
    "may be better with graft",
)


def who_sentence(comparison: Comparison) -> Phrase:
    """Say how many lids of how many patients are compared, and on which day."""
    day = comparison.stamp.as_of
    sides = (_lids_of(comparison, cohort) for cohort in COHORTS)
    return say("{} and {}, as the register knew them on {}.", *sides, f"{day.day} {day:%B %Y}")


def _lids_of(comparison: Comparison, cohort: str) -> Phrase:
    held = getattr(comparison, cohort)
    place = Place(cohort, held)
    lids = say("{} {} {}", place.figure("cases", formats.count), cohort, "lid" if held.cases == 1 else "lids")
    if comparison.grafted.patients is None or comparison.advanced.patients is None:
        return lids
    people = "patient" if held.patients == 1 else "patients"
    return say("{} of {} {}", lids, place.figure("patients", formats.count), people)


def supported(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    """Say all that is known of each main measure that reads better with a cover in the primary window; or that none does."""
    window = protocol.window(protocol.primary_window).label
    held = [each for each in main_findings(comparison, protocol) if seen(each)]
    if not held:
        return (
            (f"No lid with a main measure {window} after division was asked for and seen, so none can be compared.",),
        )
    better = [each for each in held if each.verdict in DECIDED]
    return tuple(_told_in_full(each, protocol) for each in better) or (
        (
            f"On no main measure {window} after division did a difference between the covers survive all that is asked of one.",
        ),
    )


def _told_in_full(finding: Finding, protocol: Protocol) -> Phrase:
    window = protocol.window(finding.window).label
    told = (
        counts_sentence(finding, protocol),
        difference_sentence(finding, protocol),
        adjustment_sentence(finding, protocol),
        missing_sentence(finding, protocol),
    )
    name = measure_words(finding, protocol)
    return say(
        "{}, {} after division: {}. {}",
        name,
        window,
        finding.verdict or "no verdict",
        joined([each for each in told if each], " "),
    )


def left_open(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    """Say of each other main measure how large a difference, either way, the interval leaves open."""
    held = [each for each in main_findings(comparison, protocol) if seen(each) and each.verdict not in DECIDED]
    return tuple(_open(each, protocol) for each in held)


def _open(finding: Finding, protocol: Protocol) -> Phrase:
    unit = "" if finding.is_share else f", in {unit_words(finding, protocol)}"
    name = measure_words(finding, protocol) + unit
    span = interval_ends(finding, protocol)
    if finding.verdict == "too few to say":
        return (f"{name}: too few to say.",)
    return say("{}: {}.", name, span) if span else (f"{name}: no interval can be given.",)


def limits_sentences(comparison: Comparison) -> tuple[Phrase, ...]:
    """Say what no analysis of this register can put right."""
    followed = [
        say("{} for {} lids", Place(cohort, held).figure("followup_completeness", formats.percent), cohort)
        for cohort in COHORTS
        if (held := getattr(comparison, cohort)).followup_completeness is not None
    ]
    said: list[Phrase] = [
        (
            "Covers were chosen because of the defect, not by chance. Weighting can only allow for what was recorded and is weighted for.",
        ),
    ]
    if followed:
        said.append(say("Of the follow-up that was possible, this much was achieved: {}.", joined(followed, ", ")))
    said.append(
        (
            "Who comes back is not a matter of chance alone: trouble may bring patients back, comfort or death keep them away.",
        )
    )
    return tuple(said)
