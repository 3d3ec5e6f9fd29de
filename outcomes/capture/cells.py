"""Read the cells of one row, each by itself."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, time, timedelta

from outcomes.capture import size_limits
from outcomes.capture.columns import Columns
from outcomes.capture.entry import Entry
from outcomes.capture.identifiers import refused_shape
from outcomes.capture.raw_sheets import Cell, is_blank
from outcomes.errors import Problem
from outcomes.protocol import Field, Raw, Reading, Value

_DECIMAL_COMMA = re.compile(r"([+\u2212-]?)(\d*),(\d+)")
# What an export puts before a text that a spreadsheet would take for a formula.
_MADE_HARMLESS = re.compile(r"^'([=+\-@\uff1d\uff0b\uff0d\uff20])")
_NUMERIC = {"number", "acuity", "grade"}
_BLANKS = {"n/a", "-", "--", "?", "null", "nil", "none", "nan", "missing", "not recorded", "not known", "unknown"}
_LEAVE_BLANK = "leave the cell blank when it was not recorded"


@dataclass(frozen=True)
class RowReader:
    """Reads the rows of one sheet."""

    sheet: str
    columns: Columns
    as_of: date
    decimal_comma: bool
    refused_fields: frozenset[str] = frozenset()

    def read(self, number: int, cells: tuple[Cell, ...]) -> tuple[Entry, list[Problem]]:
        """Read one row; what was refused is left out of its values."""
        values: dict[str, Value] = {}
        problems: dict[str, str] = {}
        blanks = set()
        for place, field in self.columns.fields.items():
            cell = cells[place] if place < len(cells) else None
            reading = self._cell(field, cell)
            if reading.problem:
                problems[field.id] = reading.problem
            elif reading.value is not None:
                values[field.id] = reading.value
            else:
                blanks.add(field.id)
        entry = Entry(self.sheet, number, values, self.refused_fields | problems.keys(), frozenset(blanks))
        return entry, [Problem(self.sheet, number, field, what) for field, what in problems.items()]

    def _cell(self, field: Field, cell: Cell) -> Reading:
        if is_blank(cell):
            return Reading(problem="is required; fill it in") if field.required else Reading()
        if isinstance(cell, time | timedelta):
            return Reading(problem=f'"{cell}": is a time of day; format the cell as text or number and type it again')
        if isinstance(cell, str):
            cell = _MADE_HARMLESS.sub(r"\1", cell)
        odd = _unreadable_text(cell) if isinstance(cell, str) else ""
        if odd:
            return Reading(problem=odd)
        reading = field.read(_with_decimal_point(field, cell) if self.decimal_comma else cell, as_of=self.as_of)
        if reading.problem and str(cell).strip().lower() in _BLANKS and not field.required:
            return Reading(problem=f"{reading.problem}; {_LEAVE_BLANK}")
        return _checked_code(field, reading) if field.kind == "code" else reading


def _unreadable_text(cell: str) -> str:
    """Say what makes a text no value at all, whatever its column."""
    if len(cell) > size_limits.CELL_LENGTH:
        return f'"{cell[:20]}…": holds {len(cell):,} characters; shorten it'
    if cell.lstrip().startswith("="):
        return f'"{cell.strip()[:60]}": is a formula without its result; type the value itself'
    return ""


def _with_decimal_point(field: Field, cell: Raw) -> Raw:
    """Write a decimal comma as a point, unless the comma may as well part thousands: 1,500 within limits of 2000."""
    if field.kind not in _NUMERIC or not isinstance(cell, str):
        return cell
    found = _DECIMAL_COMMA.fullmatch(cell.strip())
    if found is None:
        return cell
    sign, whole, part = found.groups()
    thousands = whole.lstrip("0") == whole != "" and len(part) == 3 and float(whole + part) <= field.limits[1]
    return cell if thousands else f"{sign}{whole or '0'}.{part}"


def _checked_code(field: Field, reading: Reading) -> Reading:
    code = reading.value
    if not isinstance(code, str):
        return reading
    if code.lower() in _BLANKS:
        return Reading(problem=f'"{code}": is no code; ' + ("give one" if field.required else _LEAVE_BLANK))
    shape = refused_shape(field.id, code)
    if shape:
        return Reading(
            problem=f'"{code}": looks like {shape}; use a study code, and keep the list of whom it stands for elsewhere'
        )
    return reading
