"""The whole comparison on one page, which opens offline: the answer first, everything further folded below it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from outcomes.findings.results import Comparison
from outcomes.protocol import Protocol
from outcomes.report.documents.glossary import glossary
from outcomes.report.documents.templating import faces, templates
from outcomes.report.finding_index import main_findings, seen
from outcomes.report.headline import answers, limits_sentences, question_sentence, who_sentence
from outcomes.report.sentences import finding_sentences, measure_words
from outcomes.report.stamp import level_words, stamp_facts
from outcomes.report.tables.baseline import adjustment_sentences
from outcomes.report.tables.model import Table
from outcomes.report.traced_text import Phrase
from outcomes.report.warning_words import caution_words

if TYPE_CHECKING:
    from outcomes.report.charts.drawing import Picture


@dataclass(frozen=True)
class Fold:
    """One folded part of the page: its id, its heading, the tables and the charts in it, by their ids or how these begin."""

    id: str
    heading: str
    tables: tuple[str, ...] = ()
    charts: tuple[str, ...] = ()
    further: bool = False  # charts of further measures stand in it too


FOLDS = (
    Fold("reasons", "Reasons for caution"),
    Fold("words", "Each main measure in words"),
    Fold(
        "planned",
        "Every planned comparison, and its checks",
        ("planned", "checks", "unseen"),
        ("differences", "checks"),
    ),
    Fold("time", "Each measure over time since division", ("further",), ("main-",)),
    Fold("grades", "Distribution of grades", charts=("grades-",), further=True),
    Fold("timed", "Recurrence, revision and time course", ("timing", "means"), ("curve-", "timing")),
    Fold("lids", "Single lids", charts=("every-lid", "courses", "fellow-")),
    Fold("learning", "Case order, surgeons and calendar time", ("learning", "surgeons", "calendar"), ("learning",)),
    Fold("days_shut", "Days with the eye shut", ("days_shut",)),
    Fold("who", "Characteristics before operation", ("baseline",), ("balance",)),
    Fold("followed", "Follow-up", ("followed",), ("seen", "followed")),
    Fold("flow", "Patient flow", ("flow", "cohorts"), ("flow",)),
    Fold("more", "Further measures over time since division", charts=("further-",), further=True),
    Fold("findings", "Every finding"),
    Fold("methods", "How it was worked out"),
    Fold("definitions", "What was measured", ("definitions", "timed_definitions")),
    Fold("glossary", "Glossary"),
)


@dataclass(frozen=True)
class Opened:
    """One fold with what stands in it."""

    id: str
    heading: str
    count: str
    tables: tuple[Table, ...]
    pictures: tuple[Picture, ...]


@dataclass(frozen=True)
class MeasureInWords:
    """One measure in words: its heading and its sentences."""

    heading: str
    sentences: tuple[Phrase, ...]


def page(
    comparison: Comparison,
    protocol: Protocol,
    tables: Sequence[Table],
    pictures: Sequence[Picture],
    *,
    explorer: str = "",
) -> str:
    """Give the page as HTML; it asks for nothing from outside itself. `explorer`: its charts, packed to be explored."""
    words = _words(comparison, protocol)
    counts = {
        "reasons": _counted(len(comparison.warnings), "warning", "warnings"),
        "words": _counted(len(words), "outcome", "outcomes"),
        "findings": _counted(len(comparison.findings), "finding", "findings"),
        "glossary": _counted(len(glossary()), "term", "terms"),
    }
    return (
        templates()
        .get_template("report.html")
        .render(
            comparison=comparison,
            warnings=[(each.code, caution_words(each)) for each in comparison.warnings],
            level=level_words(comparison.level),
            who=who_sentence(comparison),
            question=question_sentence(protocol),
            answers=answers(comparison, protocol),
            main=next(table for table in tables if table.id == "main"),
            overview=[each for each in pictures if each.id == "overview"],
            folds=[_opened(fold, counts.get(fold.id, ""), tables, pictures) for fold in FOLDS],
            limits=limits_sentences(comparison),
            adjustment=adjustment_sentences(comparison),
            words=words,
            glossary=glossary(),
            stamp=stamp_facts(comparison.stamp),
            explorer=explorer,
            faces=faces(),
            rules=protocol.rules,
        )
    )


def _opened(fold: Fold, count: str, tables: Sequence[Table], pictures: Sequence[Picture]) -> Opened:
    held = tuple(table for table in tables if table.id in fold.tables and table.rows)
    drawn = tuple(
        each
        for each in pictures
        if each.id.startswith(fold.charts or ("none of them",)) and (fold.further or not each.further)
    )
    parts = (_counted(len(drawn), "chart", "charts"), _counted(len(held), "table", "tables"))
    return Opened(fold.id, fold.heading, count or ", ".join(part for part in parts if part), held, drawn)


def _counted(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}" if number else ""


def _words(comparison: Comparison, protocol: Protocol) -> list[MeasureInWords]:
    return [
        MeasureInWords(measure_words(each, protocol), finding_sentences(each, protocol))
        for each in main_findings(comparison, protocol)
        if seen(each)
    ]
