"""The texts of a paper: every number filled in, every judgement left as a marked gap for the author.

A gap stands in square brackets and begins with AUTHOR. An abstract is kept to its limit by leaving out its least needed
sentences, never by shortening a number.
"""

from __future__ import annotations

import importlib.metadata
import platform
from dataclasses import dataclass

from outcomes.findings.results import Comparison, Finding
from outcomes.findings.study_facts import Congress
from outcomes.protocol import COHORTS, Protocol
from outcomes.report import formats
from outcomes.report.finding_index import bounded, finding_place, is_public, main_findings, rule_place, seen
from outcomes.report.finding_words import note_words
from outcomes.report.headline import DECIDED, limits_sentences
from outcomes.report.pack.citations import SOURCES, cited
from outcomes.report.sentences import (
    finding_sentences,
    measure_words,
    short_result,
    signed_change,
    unit_words,
    with_interval,
)
from outcomes.report.stamp import DIGEST_SHOWN
from outcomes.report.tables.baseline import adjustment_sentences
from outcomes.report.tables.measures import NOT_BOUNDED
from outcomes.report.traced_text import Figure, Phrase, Place, joined, plain, say

LIBRARIES = ("duckdb", "polars", "numpy", "scipy")


@dataclass(frozen=True)
class Sentence:
    """One sentence of a part; the higher its need, the later it is left out. Needed sentences stay in any case."""

    phrase: Phrase
    need: int = 9


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


def abstract(comparison: Comparison, facts: Congress, protocol: Protocol, *, limit: int) -> tuple[Part, ...]:
    """A structured abstract within the limit of words, unless what is needed in any case is longer.

    Every main result stays in, whatever it is: only the weighted figures and the explanations may go.
    """
    drafts = [_drafted(comparison, facts, protocol, weighted=weighted) for weighted in (True, False)]
    for drafted in drafts:
        for least in (LEAST_NEED, *range(LEAST_NEED + 1, NEEDED + 1)):
            parts = tuple(
                Part(name, tuple(each.phrase for each in held if each.need >= least), results=name == RESULTS)
                for name, held in drafted
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
Drafted = tuple[tuple[str, tuple[Sentence, ...]], ...]


def _drafted(comparison: Comparison, facts: Congress, protocol: Protocol, *, weighted: bool) -> Drafted:
    window = protocol.window(protocol.primary_window).label
    bounds = "; what lids not seen could change was bounded" if bounded(comparison) else ""
    purpose = (
        Sentence(gap("why the question matters, in one sentence")),
        Sentence((PURPOSE.format(window),)),
    )
    methods = (
        Sentence(_who(comparison, facts)),
        Sentence((f"Overlap weights allowed for the choice of cover{bounds}.",), 6),
        Sentence(
            say(
                "Intervals are {} and respect patients with two lids; readings allow for the number of main results.",
                rule_place(protocol).figure("confidence_level", formats.percent),
            ),
            4,
        ),
    )
    return (
        ("Purpose", purpose),
        ("Methods", methods),
        (RESULTS, _results(comparison, protocol, weighted=weighted)),
        ("Conclusions", _conclusions()),
    )


def _who(comparison: Comparison, facts: Congress) -> Phrase:
    return say(
        "Cohort study from a register: {} and {}, operated from {} to {}.",
        *(_lids(comparison, cohort) for cohort in COHORTS),
        _month(facts, "first_operation"),
        _month(facts, "last_operation"),
    )


def _lids(comparison: Comparison, cohort: str) -> Phrase:
    """The lids of a cohort and, where they are told, its patients."""
    place = Place(cohort, getattr(comparison, cohort))
    lids = say("{} {} lids", place.figure("cases", formats.count), cohort)
    return say("{} of {} patients", lids, place.figure("patients", formats.count)) if place.holds("patients") else lids


def _month(facts: Congress, name: str) -> Figure:
    return Figure(getattr(facts, name) or "no month", f"congress.{name}")


def _results(comparison: Comparison, protocol: Protocol, *, weighted: bool) -> tuple[Sentence, ...]:
    """Every main result in the order of the protocol, then the readings: none is told before another for being better."""
    primary = [each for each in main_findings(comparison, protocol) if is_told(each)]
    sentences = [Sentence(_result(each, protocol, weighted=weighted)) for each in primary]
    return (*sentences, *(Sentence(each) for each in readings(comparison, protocol)))


def is_told(finding: Finding) -> bool:
    """Tell whether a finding is of the main family, and what it found may be told."""
    return finding.is_planned and seen(finding) and finding.contrast.estimate is not None


def _result(finding: Finding, protocol: Protocol, *, weighted: bool) -> Phrase:
    place, change = finding_place(finding), signed_change(finding, protocol)
    unit = unit_words(finding, protocol)
    lids = [say("{} {}", short_result(finding, cohort, protocol), cohort) for cohort in COHORTS]
    crude = say("difference {} {}", with_interval(place, "contrast", change), unit)
    if weighted and place.holds("adjusted.estimate"):
        crude = say("{}, weighted {}", crude, with_interval(place, "adjusted", change))
    return say("{}: {}, {}; {}.", measure_words(finding, protocol), *lids, crude)


def readings(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    """Say which main measures have which reading, and which are not told or were not seen."""
    held: dict[str, list[str]] = {}
    for measure in protocol.main_measures:
        told = [each for each in main_findings(comparison, protocol) if is_told(each) and each.measure == measure.id]
        reading = (
            told[0].verdict or ""
            if told
            else "left out because of small counts, not seen, or not asked for"
            if is_public(comparison)
            else "not seen, or not asked for"
        )
        held.setdefault(reading, []).append(measure.label[0].lower() + measure.label[1:] + _caveat(told))
    return tuple((f"{reading[0].upper()}{reading[1:]}: {formats.in_list(names)}.",) for reading, names in held.items())


def _caveat(told: list[Finding]) -> str:
    """What must be said in the same breath as a difference that is read: that the lids not measured could reverse it."""
    return f" ({note_words(told[0].notes)})" if told and told[0].verdict in DECIDED and told[0].notes else ""


def _conclusions() -> tuple[Sentence, ...]:
    small = ("Covers were chosen because of the defect; only what was recorded can be allowed for.",)
    return (Sentence(gap("what these readings do and do not support, in one sentence")), Sentence(small, 7))


def methods_parts(comparison: Comparison, facts: Congress, protocol: Protocol) -> tuple[Part, ...]:
    """The methods: who, when, what was measured and counted as poor, the windows, the estimators, the software, the data lock."""
    return (
        Part("Setting and cases", _setting(comparison, facts)),
        Part("What was measured", _measured(protocol)),
        Part("Reviews", _reviews(protocol)),
        Part("Comparison", _comparison(comparison, protocol)),
        Part("Software and data", _software(comparison)),
        Part("Sources", tuple((f"{cited(name)} {source}",) for name, source in SOURCES.items()), listed=True),
    )


def _setting(comparison: Comparison, facts: Congress) -> tuple[Phrase, ...]:
    chosen = "; ".join(each.says() for each in comparison.stamp.selection)
    return (
        _who(comparison, facts),
        say("The last review was in {}.", _month(facts, "last_review")),
        say(
            "{} surgeons operated; {} assessors examined the lids.",
            Figure(formats.count(facts.surgeons), "congress.surgeons"),
            Figure(formats.count(facts.assessors), "congress.assessors"),
        ),
        (
            f"Cases were chosen thus: {chosen}."
            if chosen
            else "Every case of the register with one of the two covers is in it.",
        ),
        gap("whether the cases are consecutive; prospective or retrospective; ethics and consent; registration"),
    )


def _measured(protocol: Protocol) -> tuple[Phrase, ...]:
    said: list[Phrase] = []
    for measure in protocol.main_measures:
        field = protocol.value_field(measure)
        poor = protocol.poor_words(measure)
        counted = f"; a poor result is {poor}" if poor else "; it has no rule for a poor result and is told as a value"
        said.append((f"{measure.label} ({field.says()}{counted}).",))
    own = [
        measure.label.lower()
        for measure in protocol.main_measures
        if "own scale" in protocol.value_field(measure).source
    ]
    if own:
        said.append((f"No published scale fits for {formats.in_list(own)}: the grades are the register's own.",))
    return tuple(said)


def _reviews(protocol: Protocol) -> tuple[Phrase, ...]:
    windows = "; ".join(
        f"{each.label}, day {each.nominal_days} ({each.days[0]} to {each.days[1]})" for each in protocol.windows
    )
    return (
        (f"Day 0 is the day of division. Reviews, with their nominal day and the days counted for it: {windows}.",),
        ("Of several values in a window the one nearest to the nominal day counts; of two as near, the later.",),
        (f"The main comparison is at {protocol.window(protocol.primary_window).label}; all else is secondary.",),
    )


ESTIMATORS = (
    (
        "Shares have Wilson intervals {} and their difference Newcombe's {}, on effective numbers where lids share a patient.",
        ("wilson", "newcombe"),
    ),
    (
        "Means are compared by a linear model that allows for lids of one patient; p is corrected by Holm's method {}.",
        ("holm",),
    ),
    ("The choice of cover was modelled and allowed for by overlap weights {}.", ("overlap",)),
    (
        "Dated events are told by the Aalen-Johansen estimate with death competing {}, states seen only at reviews by Turnbull's {}.",
        ("aalen", "turnbull"),
    ),
    ("Follow-up is the median with the status reversed {} and Clark's completeness {}.", ("schemper", "clark")),
    ("An E-value says how strong something unrecorded would have to be {}.", ("evalue",)),
)


BOUNDS = "What lids due and not seen could change is bounded by the least and the greatest difference that they could have made."


def _comparison(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    rules = rule_place(protocol)
    return (
        *((words.format(*map(cited, names)),) for words, names in ESTIMATORS),
        *adjustment_sentences(comparison),
        (BOUNDS if bounded(comparison) else NOT_BOUNDED,),
        say(
            "Intervals are {}. With fewer than {} lids in a cohort nothing is read; a difference of {} or more points in the share "
            "reviewed calls for the bounds.",
            rules.figure("confidence_level", formats.percent),
            rules.figure("too_few_lids", formats.count),
            rules.figure("follow_up_difference_points", formats.count),
        ),
    )


def _software(comparison: Comparison) -> tuple[Phrase, ...]:
    versions = [
        f"Python {platform.python_version()}",
        *(f"{name} {importlib.metadata.version(name)}" for name in LIBRARIES),
    ]
    stamp = comparison.stamp
    lock = f"data lock {stamp.frozen}" if stamp.frozen else "no data lock"
    return (
        (f"{stamp.software}, with {', '.join(versions)}.",),
        (
            f"Register {stamp.digest[:DIGEST_SHOWN]}, {lock}, as of {stamp.as_of.isoformat()}, protocol {stamp.fingerprint}.",
        ),
    )


def limitations(comparison: Comparison) -> tuple[Phrase, ...]:
    """The limits of this series: the warnings that hold for it, and what holds for every series of this kind."""
    return (
        *((caution.text,) for caution in comparison.warnings),
        *limits_sentences(comparison),
        gap("what else limits this series that the register cannot know"),
    )


def notes_for(findings: list[Finding], protocol: Protocol) -> tuple[Phrase, ...]:
    """The exact numbers of some findings, for the speaker."""
    return tuple(
        joined([(f"{measure_words(each, protocol)}.",), *finding_sentences(each, protocol)], " ") for each in findings
    )


def missing_notes(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    """How many lids due were not seen, for each primary result."""
    said = []
    for each in main_findings(comparison, protocol):
        place = finding_place(each)
        if each.is_planned and place.holds("grafted.missing") and place.holds("advanced.missing"):
            counts = (place.figure(f"{cohort}.missing", formats.count) for cohort in COHORTS)
            said.append(
                say(
                    "{}: {} grafted and {} advanced lids were due and not seen.", measure_words(each, protocol), *counts
                )
            )
    return tuple(said)
