"""The whole comparison on one page, which opens offline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from outcomes.findings.results import Comparison
from outcomes.protocol import Protocol
from outcomes.report import formats
from outcomes.report.charts.drawing import Picture
from outcomes.report.documents.templating import faces, templates
from outcomes.report.finding_index import main_findings, rule_place, seen
from outcomes.report.headline import left_open, limits_sentences, supported, who_sentence
from outcomes.report.sentences import finding_sentences, measure_words
from outcomes.report.stamp import stamp_facts
from outcomes.report.tables.baseline import adjustment_sentences
from outcomes.report.tables.model import Table
from outcomes.report.traced_text import Phrase

SECTIONS = (
    ("says", "What this series can and cannot say"),
    ("flow", "How many lids remain at each step"),
    ("who", "Who they were"),
    ("main", "The main measures side by side"),
    ("time", "Each measure over time since division"),
    ("grades", "How the grades were shared out"),
    ("when", "When things happened"),
    ("followed", "Who was followed, and for how long"),
    ("findings", "All findings"),
    ("methods", "How it was worked out"),
    ("definitions", "What the words mean"),
    ("cautions", "Cautions"),
    ("stamp", "Where this page comes from"),
)


@dataclass(frozen=True)
class Told:
    """One main measure in words: its heading, its reading, and its sentences."""

    heading: str
    reading: str
    sentences: tuple[Phrase, ...]


def page(comparison: Comparison, protocol: Protocol, tables: Sequence[Table], pictures: Sequence[Picture]) -> str:
    """Give the page as HTML; it asks for nothing from outside itself."""
    return (
        templates()
        .get_template("report.html")
        .render(
            sections=SECTIONS,
            comparison=comparison,
            window=protocol.window(protocol.primary_window).label,
            tables={table.id: table for table in tables},
            pictures={each.id: each for each in pictures},
            who=who_sentence(comparison),
            supported=supported(comparison, protocol),
            left_open=left_open(comparison, protocol),
            confidence=[rule_place(protocol).figure("confidence_level", formats.of_hundred)],
            limits=limits_sentences(comparison),
            adjustment=adjustment_sentences(comparison),
            told=_told(comparison, protocol),
            stamp=stamp_facts(comparison.stamp),
            faces=faces(),
            rules=protocol.rules,
        )
    )


def _told(comparison: Comparison, protocol: Protocol) -> list[Told]:
    return [
        Told(
            _heading(measure_words(each, protocol), is_share=each.is_share),
            each.verdict or "",
            finding_sentences(each, protocol),
        )
        for each in main_findings(comparison, protocol)
        if seen(each)
    ]


def _heading(words: str, *, is_share: bool) -> str:
    return words if is_share else f"{words}, the value itself"
