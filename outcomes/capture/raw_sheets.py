"""Sheets as read, cell for cell, before any check."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import time, timedelta

from outcomes.errors import Problem
from outcomes.protocol import Raw

Cell = Raw | time | timedelta


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
    rows: tuple[tuple[int, tuple[Cell, ...]], ...]
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


def raw_sheet(name: str, grid: list[list[Cell]], form: SheetForm) -> RawSheet:
    """Make a sheet of its whole grid: the first row is the header, blank rows are passed over but counted."""
    header = _without_trailing_blanks(grid[0]) if grid else ()
    rows = tuple(
        (number, kept) for number, row in enumerate(grid[1:], start=2) if (kept := _without_trailing_blanks(row))
    )
    return RawSheet(name, header, rows, form)


def with_date_order(sheets: RawSheets, order: str) -> RawSheets:
    """The sheets with the order of their dates declared; as they were where the order is an empty text."""
    if not order:
        return sheets
    declared = tuple(replace(sheet, form=replace(sheet.form, date_order=order)) for sheet in sheets.sheets)
    return replace(sheets, sheets=declared)


def is_blank(cell: Cell) -> bool:
    """Tell whether a cell holds nothing that shows."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


def _without_trailing_blanks(row: list[Cell]) -> tuple[Cell, ...]:
    end = len(row)
    while end and is_blank(row[end - 1]):
        end -= 1
    return tuple(row[:end])
