"""Column widths, decimal columns and unbroken numbers of a table in print."""

from __future__ import annotations

import re
from dataclasses import dataclass

from outcomes.report.office_text import Weight, longest_word, office_width
from outcomes.report.tables.model import Table
from outcomes.report.traced_text import ABSENT_CELL, NOT_ESTIMATED, NOT_TOLD, plain

_NUMBER = re.compile(r"[<+\u2212]?\d+(\.\d+)?%?")
ABSENT = frozenset({ABSENT_CELL, NOT_ESTIMATED, NOT_TOLD, ""})
LEAST, MOST, HEADING_LINES = 6, 34, 3
HEADING_LINES_IN_OFFICE = 2
USUAL_CELL = 20  # how wide a cell is that may not be broken, in parts of its letters
CROWD = 1.15  # how much more than the width is too much
WIDEST_WORD = 0.45
"""What share of the whole width a word may ask for where no size of letters is small enough; a longer one is broken."""
_TOGETHER = re.compile(r"(?<=[\d%]) (to|of) (?=[+\u2212\d])| (?=\(n\b)")


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
    return f"{table.heading}. {'; '.join(shown)}." if shown else f"{table.heading}."


def unbroken(text: str) -> str:
    """The text of a cell, in which the two ends of an interval stay on one line, and "3 of 53" and "(n = 53)" do."""
    return _TOGETHER.sub(lambda found: found[0].replace(" ", "\u00a0"), text)


@dataclass(frozen=True)
class Room:
    """What the columns of a table have: the whole width, the size of the letters, and what stays free in a cell, in points."""

    width: float
    size: float
    free: float


def fitted_widths(table: Table, room: Room) -> list[float]:
    """The widths in points, between what the longest words of a column need and its whole cells ask; none where a word would break."""
    needed = _needed(table, room)
    asked = [max(pair) for pair in zip(needed, _asked(table, room), strict=True)]
    if sum(asked) <= room.width:
        return [each * room.width / sum(asked) for each in asked]
    if sum(needed) > room.width:
        return []
    share = (room.width - sum(needed)) / (sum(asked) - sum(needed))
    return [least + share * (most - least) for least, most in zip(needed, asked, strict=True)]


def squeezed_widths(table: Table, room: Room) -> list[float]:
    """The widths in points where some word must be broken."""
    needed = [min(each, WIDEST_WORD * room.width) for each in _needed(table, room)]
    return [each * room.width / sum(needed) for each in needed]


def _office_cells(table: Table) -> list[list[tuple[str, Weight]]]:
    """The cells of each column as they are printed, its heading among them, each with its weight."""
    return [
        [(column.label, "bold"), *((unbroken(plain(row.cells[number])), "regular") for row in table.rows)]
        for number, column in enumerate(table.columns)
    ]


def _needed(table: Table, room: Room) -> list[float]:
    """What the longest words ask for, those of the headings over several columns too."""
    held = [
        max(longest_word(text, room.size, weight) for text, weight in cells) + room.free
        for cells in _office_cells(table)
    ]
    at = 0
    for name, number in table.spanners:
        lacks = longest_word(name, room.size, "bold") + room.free - sum(held[at : at + number])
        held[at : at + number] = [each + max(lacks, 0) / number for each in held[at : at + number]]
        at += number
    return held


def _asked(table: Table, room: Room) -> list[float]:
    """What the cells ask for on one line; a heading may take two."""
    lines = {"regular": 1, "bold": HEADING_LINES_IN_OFFICE}
    most = USUAL_CELL * room.size
    return [
        min(max(office_width(text, room.size, weight) / lines[weight] for text, weight in cells), most) + room.free
        for cells in _office_cells(table)
    ]


def crowded(table: Table, room: Room) -> bool:
    """Tell whether many cells would take a second line, longer texts apart."""
    return sum(map(max, zip(_needed(table, room), _asked(table, room), strict=True))) > CROWD * room.width
