"""The list of every printed number of the pack, with its file, its place, its address and its full value."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import unescape
from typing import Any

from outcomes.findings.trace.addresses import value_at
from outcomes.report.pack.figures import FigureOfPack
from outcomes.report.tables.model import Table
from outcomes.report.tables.writers.csv import OBEYED
from outcomes.report.traced_text import Figure, Phrase, plain

_TRACED = re.compile(r'data-id="([^"]*)"[^>]*>([^<]*)<')


@dataclass(frozen=True)
class Printed:
    """One printed number: the file without its ending, the place in it, the number as printed, and its address."""

    file: str
    place: str
    column: str
    text: str
    id: str


def of_table(table: Table, file: str) -> Iterator[Printed]:
    """Every number of a table, by row and column."""
    for row in table.rows:
        head = f"{row.band}: {plain(row.cells[0])}" if row.band else plain(row.cells[0])
        for column, cell in row.filled(table.columns):
            heading = f"{column.spanner}, {column.label}" if column.spanner else column.label
            yield from _of_phrase(cell, file, head, heading)
    for note in table.notes:
        yield from _of_phrase(note, file, "notes", "")


def of_phrases(phrases: Iterable[Phrase], file: str, place: str) -> Iterator[Printed]:
    """Every number of some sentences."""
    for phrase in phrases:
        yield from _of_phrase(phrase, file, place, "")


def _of_phrase(phrase: Phrase, file: str, place: str, column: str) -> Iterator[Printed]:
    for piece in phrase:
        if isinstance(piece, Figure):
            yield Printed(file, place, column, piece.text, piece.id)


def of_figure(figure: FigureOfPack) -> Iterator[Printed]:
    """Every number that stands in a drawing and its caption; another width shows the same."""
    file = f"figures/{figure.id}"
    found = {
        (unescape(text), unescape(name))
        for drawn in figure.pictures.values()
        for name, text in _TRACED.findall(drawn.plate.inner)
    }
    for text, name in sorted(found, key=lambda each: (each[1], each[0])):
        yield Printed(file, "drawing", "", text, name)
    yield from of_phrases(figure.caption, file, "caption")


def numbers_csv(printed: Sequence[Printed], tree: dict[str, Any], stamp: str) -> str:
    """The list as comma separated text; the value is that of comparison.json, in full."""
    held = io.StringIO()
    writer = csv.writer(held, lineterminator="\r\n")
    writer.writerow(["file", "place", "column", "printed", "id", "value", "stamp"])
    for each in dict.fromkeys(printed):
        value = value_at(tree, each.id)
        writer.writerow(
            [each.file, _harmless(each.place), _harmless(each.column), each.text, each.id, _written(value), stamp]
        )
    return held.getvalue()


def _harmless(text: str) -> str:
    return f"'{text}" if text.startswith(OBEYED) else text


def _written(value: Any) -> str:  # noqa: ANN401 - any value of the file
    if isinstance(value, dict):
        return "; ".join(
            f"{name} {_written(each)}" for name, each in value.items() if isinstance(each, int | float) or each is None
        )
    return "" if value is None else str(value)
