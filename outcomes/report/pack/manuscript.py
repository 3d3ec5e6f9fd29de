"""The texts of a paper: every number filled in, every judgement left as a marked gap for the author.

A gap stands in square brackets and begins with AUTHOR. An abstract is kept to its limit by leaving out its least needed
sentences, never by shortening a number.
"""

from __future__ import annotations

import importlib.metadata
import platform
from collections.abc import Sequence
from dataclasses import dataclass

from outcomes.findings.results import Comparison, Finding, Verdict
from outcomes.findings.study_facts import Congress
from outcomes.protocol import COHORTS, Protocol
from outcomes.report import formats
from outcomes.report.finding_index import (
    DECIDED,
    finding_place,
    left_out,
    main_outcomes,
    other_differences,
    rule_place,
    seen,
)
from outcomes.report.headline import family_sentences, left_out_sentences, limits_sentences, question_sentence
from outcomes.report.pack.citations import SOURCES, cited
from outcomes.report.sentences import (
    difference_unit,
    finding_sentences,
    judged_part,
    measure_words,
    noted_verdict,
    short_result,
    signed_change,
    verdict_words,
    with_interval,
)
from outcomes.report.stamp import DIGEST_SHOWN
from outcomes.report.tables.baseline import adjustment_sentences
from outcomes.report.traced_text import Figure, Phrase, Place, joined, plain, say
from outcomes.report.warning_words import caution_words

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
Drafted = tuple[tuple[str, tuple[Sentence, ...]], ...]


def _drafted(comparison: Comparison, facts: Congress, protocol: Protocol, *, counts: bool) -> Drafted:
    window = protocol.window(protocol.primary_window).label
    purpose = (
        Sentence(gap("why the question matters, in one sentence")),
        Sentence((PURPOSE.format(window),)),
    )
    methods = (
        Sentence(_who(comparison, facts)),
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


def _who(comparison: Comparison, facts: Congress) -> Phrase:
    return say(
        "Cohort study from a register: {} and {}, operated from {} to {}.",
        *(_lids(comparison, cohort) for cohort in COHORTS),
        _month(facts, "first_operation"),
        _month(facts, "last_operation"),
    )


def _lids(comparison: Comparison, cohort: str) -> Phrase:
    """The lids of a cohort and, where they are known, its patients."""
    place = Place(cohort, getattr(comparison, cohort))
    lids = say("{} {} lids", place.figure("cases", formats.count), cohort)
    return say("{} of {} patients", lids, place.figure("patients", formats.count)) if place.holds("patients") else lids


def _month(facts: Congress, name: str) -> Figure:
    return Figure(getattr(facts, name) or "no month", f"congress.{name}")


def _results(comparison: Comparison, protocol: Protocol, *, counts: bool) -> tuple[Sentence, ...]:
    """Every main result in the order of the protocol, each other planned difference, then how many chance would give."""
    findings = [each for each in shown_results(comparison, protocol) if is_told(each)]
    said = [Sentence(_result(each, protocol, counts=counts)) for each in findings]
    summary = [Sentence(each, 5) for each in family_sentences(comparison)[:1]]
    return (*said, *(Sentence(each) for each in _not_told(comparison, protocol)), *summary)


def shown_results(comparison: Comparison, protocol: Protocol) -> tuple[Finding, ...]:
    """The main outcome of each main measure, and each further planned difference."""
    return (*main_outcomes(comparison, protocol), *other_differences(comparison, protocol))


def is_told(finding: Finding) -> bool:
    """Tell whether anything that was found may be shown: a difference, or a verdict without its numbers."""
    return seen(finding) and (finding.judged.estimate is not None or finding.verdict is not None)


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


def _not_told(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    """The main measures without a result: left out because of small counts, not measured, or not asked for."""
    return left_out_sentences(comparison, protocol)


def verdicts(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    """Say which main measures and further differences have which verdict, and which are left out, not measured or not asked for.

    The differences come first.
    """
    told = [each for each in shown_results(comparison, protocol) if is_told(each)]
    grouped: dict[str, list[Finding]] = {}
    for finding in sorted(told, key=lambda each: ORDER.index(each.verdict) if each.verdict in ORDER else len(ORDER)):
        grouped.setdefault(noted_verdict(finding), []).append(finding)
    said = [f"{words[0].upper()}{words[1:]}: {_names(findings, protocol)}." for words, findings in grouped.items()]
    withheld = [each for each in told if left_out(each)]
    numbers = [f"Numbers not shown, as counts are small: {_names(withheld, protocol)}."] if withheld else []
    return (*((each,) for each in (*said, *numbers)), *_not_told(comparison, protocol))


def _names(findings: Sequence[Finding], protocol: Protocol) -> str:
    labels = [protocol.measure(each.measure).label for each in findings]
    return formats.in_list([f"{label[0].lower()}{label[1:]}" for label in labels])


ORDER: tuple[Verdict, ...] = (*DECIDED, "no difference that matters", "cannot tell", "too few to say")


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
        counted = f"; a poor result is {poor}" if poor else ""
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
    ("Means are compared with cluster-robust standard errors and Satterthwaite degrees of freedom {}.", ("cr2",)),
    (
        "Shares have Wilson intervals {} and their difference Newcombe's {}, on effective numbers where lids share a patient.",
        ("wilson", "newcombe"),
    ),
    ("Means are adjusted by a linear model, shares by augmented overlap weights {}.", ("overlap", "augmented")),
    ("The win probability of grades is estimated from placements {}.", ("win",)),
    (
        "Planned comparisons are corrected by weighted Holm {}, the other reviews and timed events by false discovery rate {}.",
        ("holm", "fdr"),
    ),
    ("What the lids not measured could change is given as a tipping point {}.", ("tipping",)),
    (
        "Dated events are estimated with death competing {}, states seen only at reviews from intervals {}.",
        ("aalen", "turnbull"),
    ),
    ("Follow-up is the median with the status reversed {} and Clark's completeness {}.", ("schemper", "clark")),
    ("An E-value says how strong something unrecorded would have to be {}.", ("evalue",)),
)
VERDICTS = (
    "A measure is better with a cover when its adjusted interval excludes zero and the correction leaves it so, may be better when "
    "only the first holds, and has no difference that matters when the interval lies within the smallest difference that matters; "
    "else it cannot be told. A difference is withheld where the covers do not overlap, where it does not survive that lids were "
    "measured more completely with one cover, and where masked assessors saw less."
)


def _comparison(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    rules = rule_place(protocol)
    return (
        (question_sentence(protocol),),
        *((words.format(*map(cited, names)),) for words, names in ESTIMATORS),
        *adjustment_sentences(comparison),
        (VERDICTS,),
        say(
            "Intervals are {}. With fewer than {} lids in a cohort there are too few to say; shares measured count as different from "
            "{} percentage points on.",
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
        *((caution_words(caution),) for caution in comparison.warnings),
        *limits_sentences(comparison),
        gap("what else limits this series that the register cannot know"),
    )


def notes_for(findings: list[Finding], protocol: Protocol) -> tuple[Phrase, ...]:
    """The exact numbers of some findings, for the speaker."""
    return tuple(
        joined([(f"{measure_words(each, protocol)}.",), *finding_sentences(each, protocol)], " ") for each in findings
    )
