"""Sheets as read, cell for cell, before any check."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import time, timedelta

from outcomes.errors import Problem
from outcomes.protocol import Raw

Cell = Raw | time | timedelta


@dataclass(frozen=True)
class RawSheet:
    """One sheet: its name, its first row, and the rows below that are not blank, each with the number it is shown with.

    `decimal_comma` tells whether 1,5 may stand for one and a half.
    """

    name: str
    header: tuple[Cell, ...]
    rows: tuple[tuple[int, tuple[Cell, ...]], ...]
    decimal_comma: bool


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


def raw_sheet(name: str, grid: list[list[Cell]], *, decimal_comma: bool) -> RawSheet:
    """Make a sheet of its whole grid: the first row is the header, blank rows are passed over but counted."""
    header = _without_trailing_blanks(grid[0]) if grid else ()
    rows = tuple(
        (number, kept) for number, row in enumerate(grid[1:], start=2) if (kept := _without_trailing_blanks(row))
    )
    return RawSheet(name, header, rows, decimal_comma)


def is_blank(cell: Cell) -> bool:
    """Tell whether a cell holds nothing that shows."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


def _without_trailing_blanks(row: list[Cell]) -> tuple[Cell, ...]:
    end = len(row)
    while end and is_blank(row[end - 1]):
        end -= 1
    return tuple(row[:end])
