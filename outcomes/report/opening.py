"""What can this series say, and what can it not? The sentences at the head of the report, warnings first."""

from __future__ import annotations

from outcomes.findings.results import Comparison, Finding
from outcomes.protocol import Protocol
from outcomes.report import wording
from outcomes.report.figures import Phrase, Place, joined, say
from outcomes.report.lookup import main_findings, seen
from outcomes.report.sentences import measure_words

COHORTS = ("grafted", "advanced")
READINGS = ("better with advanced", "better with graft", "no clear difference", "too few to say")


def who_sentence(comparison: Comparison) -> Phrase:
    """Say how many lids of how many patients are compared, and on which day."""
    lids, patients = (
        [Place(cohort, getattr(comparison, cohort)).figure(part, wording.count) for cohort in COHORTS]
        for part in ("cases", "patients")
    )
    day = comparison.stamp.as_of
    if comparison.grafted.patients is None or comparison.advanced.patients is None:
        told = "{} grafted lids and {} advanced lids, as the register knew them on {}."
        return say(told, *lids, f"{day.day} {day:%B %Y}")
    return say(
        "{} grafted lids of {} patients and {} advanced lids of {} patients, as the register knew them on {}.",
        lids[0],
        patients[0],
        lids[1],
        patients[1],
        f"{day.day} {day:%B %Y}",
    )


def reading_sentences(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    """Say, for each reading that occurs, which main measures in the primary window have it."""
    held = [each for each in main_findings(comparison, protocol) if seen(each)]
    window = protocol.window(protocol.primary_window).label
    if not held:
        return (
            (f"No lid with a main measure {window} after division was asked for and seen, so none can be compared.",),
        )
    return tuple(
        (f"{reading[0].upper()}{reading[1:]}: {_listed(having, protocol)}.",)
        for reading in READINGS
        if (having := [each for each in held if each.reading == reading])
    )


def _listed(findings: list[Finding], protocol: Protocol) -> str:
    words = (measure_words(each, protocol) + ("" if each.outcome == "poor" else " (value)") for each in findings)
    return "; ".join(word[0].lower() + word[1:] for word in words)


def limits_sentences(comparison: Comparison) -> tuple[Phrase, ...]:
    """Say what no analysis of this register can put right."""
    followed = [
        say("{} for {} lids", Place(cohort, held).figure("followup_completeness", wording.percent), cohort)
        for cohort in COHORTS
        if (held := getattr(comparison, cohort)).followup_completeness is not None
    ]
    said: list[Phrase] = [
        (
            "Covers were chosen because of the defect, not by chance. Weighting can allow for what was recorded, and for nothing else.",
        ),
    ]
    if followed:
        said.append(say("Of the follow-up that was possible, this much was had: {}.", joined(followed, ", ")))
    said.append(("Who comes back is not random: trouble brings patients back, comfort and death keep them away.",))
    return tuple(said)
