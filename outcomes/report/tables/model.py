"""The model of a table, before a writer gives it a form.

Columns with spanners over them, rows of phrases that are already formatted, bands of rows, and notes beneath. A writer
for the terminal, the page or a file adds nothing and leaves nothing out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import Literal

from outcomes.report.traced_text import Phrase

Align = Literal["left", "right"]


@dataclass(frozen=True)
class Column:
    """One column: its id for files, its heading, and the spanner that it shares with its neighbours."""

    id: str
    label: str
    align: Align = "left"
    spanner: str = ""


@dataclass(frozen=True)
class Row:
    """One row. Rows of one band stand together under its name; the first cell is the row's heading."""

    cells: tuple[Phrase, ...]
    band: str = ""

    def filled(self, columns: tuple[Column, ...]) -> tuple[tuple[Column, Phrase], ...]:
        """Give each cell with its column."""
        return tuple(zip(columns, self.cells, strict=True))


@dataclass(frozen=True)
class Table:
    """A table with a title that says what it shows, and its number among those of a paper, if it has one.

    Notes hold everything that a reader needs beside it.
    """

    id: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    notes: tuple[Phrase, ...] = field(default=())
    number: int = 0

    def __post_init__(self) -> None:
        """Refuse rows that do not fill the columns."""
        for row in self.rows:
            if len(row.cells) != len(self.columns):
                raise ValueError(f"{self.id}: {len(row.cells)} cells in a row of {len(self.columns)} columns")

    @property
    def heading(self) -> str:
        """The title as it is printed, after the number."""
        return f"Table {self.number}. {self.title}" if self.number else self.title

    def only(self, kept: Callable[[Column], bool]) -> Table:
        """The same table with only those columns."""
        places = [number for number, column in enumerate(self.columns) if kept(column)]
        rows = tuple(Row(tuple(row.cells[number] for number in places), row.band) for row in self.rows)
        return replace(self, columns=tuple(self.columns[number] for number in places), rows=rows)

    @property
    def banded(self) -> bool:
        """Tell whether any row belongs to a band."""
        return any(row.band for row in self.rows)

    @property
    def bands(self) -> tuple[tuple[str, tuple[Row, ...]], ...]:
        """The rows in their order, band by band; rows of no band have an empty name."""
        return tuple((name, tuple(rows)) for name, rows in groupby(self.rows, key=lambda row: row.band))

    @property
    def spanners(self) -> tuple[tuple[str, int], ...]:
        """The headings over the headings and how many columns each covers; empty when there are none."""
        if not any(column.spanner for column in self.columns):
            return ()
        return tuple(
            (name, len(list(columns))) for name, columns in groupby(self.columns, key=lambda column: column.spanner)
        )
