"""What the texts of a paper share: their parts, the results that are told, the limits.

A gap stands in square brackets and begins with AUTHOR: only the author can fill it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from outcomes.findings.results import DECIDED, Comparison, Finding, Verdict
from outcomes.findings.study_facts import Congress
from outcomes.protocol import COHORTS, Protocol
from outcomes.report import formats
from outcomes.report.finding_index import left_out, main_outcomes, other_differences, seen
from outcomes.report.headline import left_out_sentences, limits_sentences
from outcomes.report.sentences import finding_sentences, measure_words, noted_verdict
from outcomes.report.traced_text import Figure, Phrase, Place, joined, plain, say
from outcomes.report.warning_words import caution_words


@dataclass(frozen=True)
class Part:
    """A heading with its sentences, which run on in one paragraph or, `listed`, have a paragraph each."""

    heading: str
    sentences: tuple[Phrase, ...]
    listed: bool = False
    results: bool = False


def gap(what: str) -> Phrase:
    """A place that only the author can fill."""
    return (f"[AUTHOR: {what}]",)


def words_in(parts: tuple[Part, ...]) -> int:
    """How many words the parts have, headings and gaps included."""
    return sum(len(f"{part.heading} {' '.join(plain(each) for each in part.sentences)}".split()) for part in parts)


def who_operated(comparison: Comparison, facts: Congress) -> Phrase:
    """Say how many lids of each cohort were operated, from when to when."""
    return say(
        "Cohort study from a register: {} and {}, operated from {} to {}.",
        *(_lids(comparison, cohort) for cohort in COHORTS),
        month_of(facts, "first_operation"),
        month_of(facts, "last_operation"),
    )


def _lids(comparison: Comparison, cohort: str) -> Phrase:
    """The lids of a cohort and, where they are known, its patients."""
    place = Place(cohort, getattr(comparison, cohort))
    lids = say("{} {} lids", place.figure("cases", formats.count), cohort)
    return say("{} of {} patients", lids, place.figure("patients", formats.count)) if place.holds("patients") else lids


def month_of(facts: Congress, name: str) -> Figure:
    """A month of the series, as year and month, or the year alone."""
    return Figure(getattr(facts, name) or "no month", f"congress.{name}")


def told_results(comparison: Comparison, protocol: Protocol) -> list[Finding]:
    """The main outcome of each main measure, and each further planned difference, of which anything may be shown."""
    shown = (*main_outcomes(comparison, protocol), *other_differences(comparison, protocol))
    return [each for each in shown if seen(each) and (each.judged.estimate is not None or each.verdict is not None)]


def verdicts(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    """Say which main measures and further differences have which verdict, and which are left out, not measured or not asked for.

    The differences come first.
    """
    told = told_results(comparison, protocol)
    grouped: dict[str, list[Finding]] = {}
    for finding in sorted(told, key=lambda each: ORDER.index(each.verdict) if each.verdict in ORDER else len(ORDER)):
        grouped.setdefault(noted_verdict(finding), []).append(finding)
    said = [f"{formats.capitalised(words)}: {_names(findings, protocol)}." for words, findings in grouped.items()]
    withheld = [each for each in told if left_out(each)]
    numbers = [f"Numbers not shown, as counts are small: {_names(withheld, protocol)}."] if withheld else []
    return (*((each,) for each in (*said, *numbers)), *left_out_sentences(comparison, protocol))


def _names(findings: Sequence[Finding], protocol: Protocol) -> str:
    return formats.in_list([formats.uncapitalised(protocol.measure(each.measure).label) for each in findings])


ORDER: tuple[Verdict, ...] = (*DECIDED, "no difference that matters", "cannot tell", "too few to say")


def limitations(comparison: Comparison) -> tuple[Phrase, ...]:
    """The limits of this series: the warnings that hold for it, and what holds for every series of this kind."""
    return (
        *((caution_words(caution),) for caution in comparison.warnings),
        *limits_sentences(comparison),
        gap("what else limits this series that the register cannot know"),
    )


def notes_for(findings: list[Finding], protocol: Protocol) -> tuple[Phrase, ...]:
    """The exact numbers of some findings, for the speaker."""
    return tuple(
        joined([(f"{measure_words(each, protocol)}.",), *finding_sentences(each, protocol)], " ") for each in findings
    )
