"""The abstract, kept to its limit by leaving out its least needed sentences, never by shortening a number."""

from __future__ import annotations

from dataclasses import dataclass

from outcomes.findings.results import Comparison, Finding
from outcomes.findings.study_facts import Congress
from outcomes.protocol import COHORTS, Protocol
from outcomes.report import formats
from outcomes.report.finding_index import finding_place, rule_place
from outcomes.report.headline import family_sentences, left_out_sentences
from outcomes.report.pack.manuscript import Part, gap, told_results, who_operated, words_in
from outcomes.report.sentences import (
    difference_unit,
    judged_part,
    measure_words,
    short_result,
    signed_change,
    verdict_words,
    with_interval,
)
from outcomes.report.traced_text import Phrase, say


@dataclass(frozen=True)
class Sentence:
    """One sentence of a part; the higher its need, the later it is left out. Needed sentences stay in any case."""

    phrase: Phrase
    need: int = 9


def abstract(comparison: Comparison, facts: Congress, protocol: Protocol, *, limit: int) -> tuple[Part, ...]:
    """A structured abstract within the limit of words, unless what is needed in any case is longer.

    How the differences are to be read, the adjusted estimate of every main result, its verdict and the sentence on confounding stay
    in: counts and explanations may go.
    """
    drafts = [_drafted(comparison, facts, protocol, counts=counts) for counts in (True, False)]
    for drafted in drafts:
        for least in (LEAST_NEED, *range(LEAST_NEED + 1, NEEDED + 1)):
            parts = tuple(
                Part(name, tuple(each.phrase for each in sentences if each.need >= least), results=name == RESULTS)
                for name, sentences in drafted
            )
            if words_in(parts) <= limit:
                return parts
    return parts


LEAST_NEED, NEEDED = 4, 9
RESULTS = "Results"
PURPOSE = (
    "To compare lids whose tarsoconjunctival flap was covered with a free skin graft with lids covered with advanced lower-lid skin, "
    "{} after division."
)
DIFFERENCES = (
    "Differences are advanced minus grafted with {} intervals, adjusted for what was recorded before operation."
)
CONFOUNDED = "Covers were chosen because of the defect; only what was recorded could be adjusted for."
DraftedParts = tuple[tuple[str, tuple[Sentence, ...]], ...]


def _drafted(comparison: Comparison, facts: Congress, protocol: Protocol, *, counts: bool) -> DraftedParts:
    window = protocol.window(protocol.primary_window).label
    purpose = (
        Sentence(gap("why the question matters, in one sentence")),
        Sentence((PURPOSE.format(window),)),
    )
    methods = (
        Sentence(who_operated(comparison, facts)),
        Sentence(say(DIFFERENCES, rule_place(protocol).figure("confidence_level", formats.percent))),
        Sentence(
            ("Intervals allow for patients with two lids; verdicts allow for the number of planned comparisons.",),
            LEAST_NEED,
        ),
    )
    conclusions = (Sentence(gap("what these results do and do not support, in one sentence")), Sentence((CONFOUNDED,)))
    return (
        ("Purpose", purpose),
        ("Methods", methods),
        (RESULTS, _results(comparison, protocol, counts=counts)),
        ("Conclusions", conclusions),
    )


def _results(comparison: Comparison, protocol: Protocol, *, counts: bool) -> tuple[Sentence, ...]:
    """Every main result in the order of the protocol, each other planned difference, then how many chance would give."""
    findings = told_results(comparison, protocol)
    said = [Sentence(_result(each, protocol, counts=counts)) for each in findings]
    summary = [Sentence(each, 5) for each in family_sentences(comparison)[:1]]
    return (*said, *(Sentence(each) for each in left_out_sentences(comparison, protocol)), *summary)


def _result(finding: Finding, protocol: Protocol, *, counts: bool) -> Phrase:
    place, change = finding_place(finding), signed_change(finding, protocol)
    name, verdict = measure_words(finding, protocol), verdict_words(finding)
    if finding.judged.estimate is None:
        return (f"{name}: {verdict}.",)
    estimate = say("{} {}", with_interval(place, judged_part(finding), change), difference_unit(finding, protocol))
    adjusted = "adjusted" if finding.adjusted is not None else "crude"
    if not counts:
        return say("{}: {} difference {}; {}.", name, adjusted, estimate, verdict)
    lids = [say("{} {}", short_result(finding, cohort, protocol), cohort) for cohort in COHORTS]
    return say("{}: {}, {}; {} difference {}; {}.", name, *lids, adjusted, estimate, verdict)
