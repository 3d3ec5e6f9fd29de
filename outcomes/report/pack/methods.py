"""The methods of a paper: cases, measures, reviews, estimators with their sources, software and data lock."""

from __future__ import annotations

import importlib.metadata
import platform

from outcomes.findings.results import Comparison
from outcomes.findings.study_facts import Congress
from outcomes.protocol import Protocol
from outcomes.report import formats
from outcomes.report.finding_index import rule_place
from outcomes.report.headline import question_sentence
from outcomes.report.pack.citations import SOURCES, cited
from outcomes.report.pack.manuscript import Part, gap, month_of, who_operated
from outcomes.report.stamp import DIGEST_SHOWN
from outcomes.report.tables.baseline import adjustment_sentences
from outcomes.report.traced_text import Figure, Phrase, say

LIBRARIES = ("duckdb", "polars", "numpy", "scipy")


def methods_parts(comparison: Comparison, facts: Congress, protocol: Protocol) -> tuple[Part, ...]:
    """The methods: who, when, what was measured and counted as poor, the windows, the estimators, the software, the data lock."""
    return (
        Part("Setting and cases", _setting(comparison, facts)),
        Part("What was measured", _measured(protocol)),
        Part("Reviews", _reviews(protocol)),
        Part("Comparison", _comparison(protocol)),
        Part("Adjustment", adjustment_sentences(comparison)),
        Part("Verdicts", _verdicts(protocol)),
        Part("Software and data", _software(comparison)),
        Part("Sources", tuple((f"{cited(name)} {source}",) for name, source in SOURCES.items()), listed=True),
    )


def _setting(comparison: Comparison, facts: Congress) -> tuple[Phrase, ...]:
    chosen = "; ".join(each.says() for each in comparison.stamp.selection)
    return (
        who_operated(comparison, facts),
        say("The last review was in {}.", month_of(facts, "last_review")),
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


def _comparison(protocol: Protocol) -> tuple[Phrase, ...]:
    return (
        (question_sentence(protocol),),
        *((words.format(*map(cited, names)),) for words, names in ESTIMATORS),
    )


def _verdicts(protocol: Protocol) -> tuple[Phrase, ...]:
    rules = rule_place(protocol)
    return (
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
