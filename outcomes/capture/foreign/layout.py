"""Find the table on a foreign sheet: its rows of headings, its rows of data, and the rows that are totals or notes."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from outcomes.capture.foreign.sheet import ForeignSheet
from outcomes.capture.raw_sheets import is_blank

_ROWS_SEARCHED, _FEWEST_HEADINGS = 30, 2
_TOTALS = re.compile(
    r"\W*(totals?|sum|summe|gesamt|mean|average|median|mittelwert|durchschnitt|mw|sd|std|n ?=|anzahl|count|range|min|max)\b.*",
    re.IGNORECASE,
)
_UNIT = re.compile(
    r"\W*(mm|%|percent|logmar|cm|y/n|j/n|ja/nein|yes/no|[0-9] ?[-–] ?[0-9]+|grade|grad|[dt]d?\.mm\.?.*)\W*",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class SheetLayout:
    """The rows, counted from 1: headings, first and last of data, those to skip with their first words; and the headings."""

    header: tuple[int, ...]
    rows: tuple[int, int]
    skip: dict[int, str]
    headings: tuple[str, ...]


def find_layout(
    sheet: ForeignSheet, visit_in: Callable[[str], bool], known: Callable[[str], bool]
) -> SheetLayout | None:
    """The table of a sheet, or None when no row of it looks like headings.

    `known` tells whether a text is a heading that can be read, `visit_in` whether it names a visit.
    """
    counts = [_headings_in(sheet, row, known) for row in range(min(len(sheet.grid), _ROWS_SEARCHED))]
    best = max(range(len(counts)), key=lambda row: counts[row], default=-1)
    if best < 0 or counts[best] < _FEWEST_HEADINGS:
        return None
    first, last = best, best
    while first > 0 and _is_group_row(sheet, first - 1, counts, visit_in):
        first -= 1
    while last + 1 < len(sheet.grid) and _is_heading_row(sheet, last + 1, counts):
        last += 1
    header = tuple(range(first, last + 1))
    end = max((row for row in range(last + 1, len(sheet.grid)) if _own(sheet, row)), default=last)
    skip = {row + 1: text for row in range(last + 1, end + 1) if (text := _no_data(sheet, row))}
    headings = tuple(heading_of(sheet, header, column, visit_in) for column in range(sheet.width))
    return SheetLayout(tuple(row + 1 for row in header), (last + 2, end + 1), skip, headings)


def _own(sheet: ForeignSheet, row: int) -> list[tuple[int, object]]:
    """The columns and cells of a row that hold something of their own."""
    return [
        (column, cell)
        for column, cell in enumerate(sheet.grid[row])
        if not is_blank(cell) and (row, column) not in sheet.filled
    ]


def _headings_in(sheet: ForeignSheet, row: int, known: Callable[[str], bool]) -> int:
    return len({str(cell) for _, cell in _own(sheet, row) if isinstance(cell, str) and known(cell)})


def _is_group_row(sheet: ForeignSheet, row: int, counts: list[int], visit_in: Callable[[str], bool]) -> bool:
    """A row above the headings that names visits, or holds headings of its own."""
    cells = [cell for _, cell in _own(sheet, row)]
    return counts[row] >= _FEWEST_HEADINGS or any(isinstance(cell, str) and visit_in(cell) for cell in cells)


def _is_heading_row(sheet: ForeignSheet, row: int, counts: list[int]) -> bool:
    """A row below the headings that holds units, or further headings and no number or date."""
    cells = [cell for _, cell in _own(sheet, row)]
    if not cells or any(isinstance(cell, int | float | date) for cell in cells):
        return False
    texts = [str(cell) for cell in cells]
    units = all(_UNIT.fullmatch(text) for text in texts)
    further = row < len(counts) and counts[row] >= max(_FEWEST_HEADINGS, len(cells) // 2)
    return units or (further and not any(sign.isdigit() for text in texts for sign in text[:1]))


def _no_data(sheet: ForeignSheet, row: int) -> str:
    """The first words of a row of totals, or of a note below or between the rows of data."""
    cells = _own(sheet, row)
    if not cells:
        return ""
    texts = [str(cell) for _, cell in cells[:3] if isinstance(cell, str)]
    totals = next((text for text in texts if _TOTALS.fullmatch(text)), "")
    if totals:
        return totals[:20]
    return "one cell alone" if len(cells) == 1 and sheet.width > 3 else ""


def heading_of(sheet: ForeignSheet, header: tuple[int, ...], column: int, visit_in: Callable[[str], bool]) -> str:
    """The heading of a column: its cell of each row, the label of a visit reaching over the blank cells to its right."""
    parts: list[str] = []
    for row in header:
        cell = sheet.cell(row, column)
        if is_blank(cell) and row != header[-1]:
            cell = _reaching(sheet, row, column, visit_in)
        text = "" if is_blank(cell) else " ".join(str(cell).split())
        if text and text not in parts and not (parts and _UNIT.fullmatch(text)):
            parts.append(text)
    return " / ".join(parts)


def _reaching(sheet: ForeignSheet, row: int, column: int, visit_in: Callable[[str], bool]) -> str:
    for left in range(column - 1, -1, -1):
        cell = sheet.cell(row, left)
        if not is_blank(cell):
            return str(cell) if isinstance(cell, str) and visit_in(cell) else ""
    return ""
