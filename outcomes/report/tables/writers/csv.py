"""A table as comma separated text, for another program.

One heading row, one row a line, nothing before or after: the band is the first column and the stamp the last, so that
the file is a plain rectangle for every reader.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import TYPE_CHECKING

from outcomes.report.formats import MINUS
from outcomes.report.stamp import stamp_line
from outcomes.report.tables.model import Column, Table
from outcomes.report.traced_text import Figure, Phrase, plain

if TYPE_CHECKING:
    from outcomes.findings.results import Stamp

OBEYED = ("=", "+", "-", "@", "\t", "\r")


def write_csv(table: Table, path: Path, stamp: Stamp) -> Path:
    """Write the table; after a failure the file may be incomplete, and nothing else has changed."""
    path.write_text(as_csv(table, stamp=stamp_line(stamp)), encoding="utf-8-sig", newline="")
    return path


def as_csv(table: Table, *, stamp: str) -> str:
    """Give the table as comma separated text. Cells that a spreadsheet would obey are made harmless."""
    held = io.StringIO()
    writer = csv.writer(held, lineterminator="\r\n")
    band = ["band"] if table.banded else []
    writer.writerow([*band, *(_heading(column) for column in table.columns), "stamp"])
    for row in table.rows:
        cells = [_cell(cell) for cell in row.cells]
        writer.writerow([*([_cell((row.band,))] if band else []), *cells, stamp])
    return held.getvalue()


def _heading(column: Column) -> str:
    return column.id


def _cell(phrase: Phrase) -> str:
    text = plain(phrase)
    if phrase and isinstance(phrase[0], Figure):
        return text.replace(MINUS, "-")
    return f"'{text}" if text.startswith(OBEYED) else text.replace(MINUS, "-")
