"""The files of a text: plain, as a page, and for a word processor."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from outcomes.findings.results import Stamp
from outcomes.report.pack.index_page import words_page
from outcomes.report.pack.manuscript import Part
from outcomes.report.stamp import stamp_line
from outcomes.report.tables.reproducible_zip import written_again
from outcomes.report.tables.writers.word import add_phrase, new_paper
from outcomes.report.traced_text import Phrase, plain


def write_words(stamp: Stamp, title: str, parts: Sequence[Part], stem: Path) -> None:
    """Write one text as plain text, as a page and for a word processor; after a failure some files may be missing."""
    text = "\n\n".join(
        "\n".join(filter(None, (part.heading, *(plain(each) for each in _paragraphs(part))))) for part in parts
    )
    stem.with_suffix(".txt").write_text(f"{title}\n\n{text}\n\n{stamp_line(stamp)}\n", encoding="utf-8")
    stem.with_suffix(".html").write_text(words_page(title, parts, stamp_line(stamp)), encoding="utf-8")
    paper = new_paper(stamp, title)
    paper.add_heading(title, level=1)
    for part in parts:
        if part.heading:
            paper.add_heading(part.heading, level=2)
        for paragraph in _paragraphs(part):
            add_phrase(paper, paragraph)
    paper.save(str(stem.with_suffix(".docx")))
    written_again(stem.with_suffix(".docx"))


def _paragraphs(part: Part) -> tuple[Phrase, ...]:
    return part.sentences if part.listed else (_run_on(part.sentences),)


def _run_on(sentences: Sequence[Phrase]) -> Phrase:
    pieces: list[Any] = []
    for number, sentence in enumerate(sentences):
        pieces.extend((" ", *sentence) if number else sentence)
    return tuple(pieces)
