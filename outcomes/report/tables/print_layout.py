"""Column widths and decimal columns of a table in print."""

from __future__ import annotations

import re

from outcomes.report.tables.model import Table
from outcomes.report.traced_text import ABSENT_CELL, NOT_ESTIMATED, NOT_TOLD, plain

_NUMBER = re.compile(r"[<+\u2212]?\d+(\.\d+)?%?")
ABSENT = frozenset({ABSENT_CELL, NOT_ESTIMATED, NOT_TOLD, ""})
LEAST, MOST, HEADING_LINES = 6, 34, 3


def decimal_columns(table: Table) -> tuple[bool, ...]:
    """Tell of each column whether every cell is one bare number or absent, so that its decimal points can be aligned."""
    return tuple(_is_decimal([plain(row.cells[number]) for row in table.rows]) for number in range(len(table.columns)))


def _is_decimal(cells: list[str]) -> bool:
    numbers = [cell for cell in cells if cell not in ABSENT]
    return bool(numbers) and all(_NUMBER.fullmatch(cell) for cell in numbers)


def decimals(table: Table) -> tuple[int, ...]:
    """How many letters stand from the decimal point on, at most, in each column of bare numbers; zero for any other."""
    columns = enumerate(decimal_columns(table))
    return tuple(
        max(len(after_point(plain(row.cells[number]))) for row in table.rows) if points else 0
        for number, points in columns
    )


def after_point(text: str) -> str:
    """What stands from the decimal point on, so that a column can be padded to stand on its points."""
    return text[text.index(".") :] if "." in text else ""


def widths(table: Table) -> tuple[float, ...]:
    """The share of the whole width for each column: as its longest words and its usual cell ask, so that none is squeezed."""
    wanted = [_wanted(table, number) for number in range(len(table.columns))]
    return tuple(each / sum(wanted) for each in wanted)


def _wanted(table: Table, number: int) -> float:
    cells = [plain(row.cells[number]) for row in table.rows]
    heading = table.columns[number].label
    longest_word = max((len(word) for text in (heading, *cells) for word in text.split()), default=1)
    longest_cell = max((len(text) for text in cells), default=1)
    # A heading may take three lines, so a third of it is asked for.
    return min(max(longest_word + 2, longest_cell, len(heading) / HEADING_LINES, LEAST), max(MOST, longest_word + 2))


def described(table: Table) -> str:
    """What the table shows, for those who cannot see it: its title, and the verdict of each row where it has verdicts."""
    at = next((number for number, column in enumerate(table.columns) if column.id == "verdict"), None)
    if at is None:
        shown = [f"{band}: {', '.join(plain(row.cells[0]) for row in rows)}" for band, rows in table.bands if band]
    else:
        shown = [f"{plain(row.cells[0])}: {plain(row.cells[at])}" for row in table.rows]
    return f"{table.title}. {'; '.join(shown)}." if shown else f"{table.title}."
