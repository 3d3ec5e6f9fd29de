"""Sheets as read, cell for cell, before any check."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import time, timedelta
from itertools import islice

from outcomes.errors import Problem
from outcomes.protocol import Raw

Cell = Raw | time | timedelta
NumberedRow = tuple[int, tuple[Cell, ...]]


@dataclass(frozen=True)
class SheetForm:
    """How a sheet writes its values: whether 1,5 may be one and a half, the order of a date's numbers where it is known.

    `notes` says what was assumed in order to read the sheet.
    """

    decimal_comma: bool
    date_order: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class RawSheet:
    """One sheet: its name, its first row, and the rows below that are not blank, each with the number it is shown with."""

    name: str
    header: tuple[Cell, ...]
    rows: Sequence[NumberedRow]
    form: SheetForm


@dataclass(frozen=True)
class RawSheets:
    """Everything read from one workbook or folder, and what was already seen to be wrong with it as a whole."""

    source: str
    sheets: tuple[RawSheet, ...]
    problems: tuple[Problem, ...] = field(default=())

    @property
    def row_count(self) -> int:
        """How many rows there are to check."""
        return sum(len(sheet.rows) for sheet in self.sheets)


def raw_sheet(name: str, grid: Sequence[Sequence[Cell]], form: SheetForm) -> RawSheet:
    """Make a sheet of its whole grid: the first row is the header, blank rows are passed over but counted."""
    header = without_trailing_blanks(grid[0]) if grid else ()
    return RawSheet(name, header, tuple(numbered_rows(grid)), form)


def numbered_rows(grid: Iterable[Sequence[Cell]]) -> Iterator[NumberedRow]:
    """The rows below the first one that are not blank."""
    for number, row in enumerate(islice(grid, 1, None), start=2):
        if kept := without_trailing_blanks(row):
            yield number, kept


def with_date_order(sheets: RawSheets, order: str) -> RawSheets:
    """The sheets with the order of their dates declared; as they were where the order is an empty text."""
    if not order:
        return sheets
    declared = tuple(replace(sheet, form=replace(sheet.form, date_order=order)) for sheet in sheets.sheets)
    return replace(sheets, sheets=declared)


def is_blank(cell: Cell) -> bool:
    """Tell whether a cell holds nothing that shows."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


def without_trailing_blanks(row: Sequence[Cell]) -> tuple[Cell, ...]:
    """The cells of a row up to the last one that holds something."""
    end = len(row)
    while end and (row[end - 1] == "" or is_blank(row[end - 1])):
        end -= 1
    return tuple(row[:end])
