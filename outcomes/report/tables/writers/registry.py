"""The file formats of tables: a new one is a writer in this package and one line in FORMATS."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from outcomes.findings.results import Stamp
from outcomes.report.tables.model import Table
from outcomes.report.tables.writers.csv import write_csv
from outcomes.report.tables.writers.html import write_html
from outcomes.report.tables.writers.latex import write_latex


def write_word(table: Table, path: Path, stamp: Stamp) -> Path:
    """Write the table for a word processor, whose library is imported only then; after a failure the file may be incomplete."""
    from outcomes.report.tables.writers import word

    return word.write_word(table, path, stamp)


@dataclass(frozen=True)
class TableFormat:
    """One format: the ending of its files, what a reader calls it, and its writer."""

    ending: str
    label: str
    write: Callable[[Table, Path, Stamp], Path]


FORMATS = (
    TableFormat("html", "read", write_html),
    TableFormat("docx", "word processor", write_word),
    TableFormat("tex", "LaTeX", write_latex),
    TableFormat("csv", "CSV", write_csv),
)


def write_table(table: Table, folder: Path, stamp: Stamp, *endings: str) -> tuple[Path, ...]:
    """Write the table into the folder in the formats asked for, or in all; after a failure a file may be incomplete."""
    return tuple(
        each.write(table, folder / f"{table.id}.{each.ending}", stamp)
        for each in FORMATS
        if not endings or each.ending in endings
    )
