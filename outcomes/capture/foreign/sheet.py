"""Read a foreign file as sheets of cells, with the comments on them, and merged cells filled."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from outcomes.capture import size_limits
from outcomes.capture.csv_folder import tables_of
from outcomes.capture.csv_table import UnreadableTable, read_table
from outcomes.capture.raw_sheets import Cell, SheetForm, is_blank
from outcomes.capture.reader import is_folder, is_workbook, read_content
from outcomes.capture.workbook import read_grids
from outcomes.capture.xlsx_comments import read_comments
from outcomes.capture.xlsx_guard import Place, place_of
from outcomes.errors import DataRefused

_TABLE_ENDINGS = {".csv", ".tsv", ".txt"}


@dataclass(frozen=True)
class ForeignSheet:
    """One sheet: its cells by row and column from 0, and the places that a merged cell fills beyond its first."""

    name: str
    grid: list[list[Cell]]
    form: SheetForm
    filled: frozenset[Place] = frozenset()
    comments: dict[Place, str] = field(default_factory=dict)

    def cell(self, row: int, column: int) -> Cell:
        """The cell, blank beyond the last one of its row."""
        cells = self.grid[row] if row < len(self.grid) else []
        return cells[column] if column < len(cells) else None

    @property
    def width(self) -> int:
        """The number of columns."""
        return max((len(row) for row in self.grid), default=0)

    def places(self) -> list[Place]:
        """Every cell that holds something of its own, in reading order."""
        return [
            (row, column)
            for row, cells in enumerate(self.grid)
            for column, cell in enumerate(cells)
            if not is_blank(cell) and (row, column) not in self.filled
        ]


def read_foreign(path: Path) -> tuple[ForeignSheet, ...]:
    """Every sheet of a workbook, or each CSV table of a file or folder; raises DataRefused when one cannot be read."""
    if is_folder(path):
        return tuple(_table(table) for table in tables_of(path))
    if path.suffix.lower() in _TABLE_ENDINGS:
        return (_table(path),)
    content = read_content(path)
    if not is_workbook(content):
        raise DataRefused(f"{path.name} is neither a workbook (.xlsx) nor a CSV table", [])
    comments = read_comments(content)
    sheets = []
    for survey, grid in read_grids(path.name, content):
        if survey.too_large:
            raise DataRefused(f"{path.name}, sheet {survey.name}: {survey.too_large}", [])
        filled = _fill_merged(grid, [cells for _, cells in survey.merged])
        form = SheetForm(decimal_comma=True)
        sheets.append(ForeignSheet(survey.name, grid, form, filled, comments.get(survey.name, {})))
    return tuple(sheets)


def _table(path: Path) -> ForeignSheet:
    content = read_content(path)
    if len(content) > size_limits.TABLE_BYTES:
        raise DataRefused(f"{path.name} is larger than {size_limits.TABLE_BYTES // 1_000_000} MB; split it", [])
    try:
        table = read_table(content, lambda _: 0)
    except UnreadableTable as unreadable:
        place = f"row {unreadable.row} " if unreadable.row else ""
        raise DataRefused(f"{path.name}: {place}{unreadable.what}", []) from unreadable
    return ForeignSheet(path.stem, table.grid, table.form)


def _fill_merged(grid: list[list[Cell]], ranges: list[str]) -> frozenset[Place]:
    """Every cell of a merged range holds the value of its first one afterwards; gives the places that were filled."""
    filled = set()
    width = max((len(row) for row in grid), default=0)
    for cells in ranges:
        first, _, last = cells.partition(":")
        (top, left), (bottom, right) = place_of(first), place_of(last)
        value = grid[top][left] if top < len(grid) and left < len(grid[top]) else None
        for row in range(top, min(bottom + 1, len(grid))):
            grid[row].extend([None] * (min(right + 1, width) - len(grid[row])))
            for column in range(left, min(right + 1, width)):
                if (row, column) != (top, left):
                    grid[row][column] = value
                    filled.add((row, column))
    return frozenset(filled)
