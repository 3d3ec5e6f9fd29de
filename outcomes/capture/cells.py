"""Read the cells of one row, each by itself."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, time, timedelta

from outcomes.capture import size_limits
from outcomes.capture.columns import Columns
from outcomes.capture.date_text import CLEAR, DateText, read_date_text
from outcomes.capture.entry import Entry
from outcomes.capture.identifiers import refused_shape
from outcomes.capture.raw_sheets import Cell, SheetForm, is_blank
from outcomes.capture.remedies import blank_remedy, remedy, shape_fault
from outcomes.errors import Problem
from outcomes.protocol import Field, Raw, Reading, Synonyms, Value
from outcomes.protocol.field import CODE_LENGTH

_NO_CODE = {"none", "unknown", "null", "nil", "nan", "not known"}
"""Words that are levels of some fields, so that no list of missing signs has them, and that are never a study code."""
_DECIMAL_COMMA = re.compile(r"([+\u2212-]?)(\d*),(\d+)")
# What an export puts before a text that a spreadsheet would take for a formula.
_MADE_HARMLESS = re.compile(r"^'([=+\-@\uff1d\uff0b\uff0d\uff20])")
_NUMERIC = {"number", "acuity", "grade"}


@dataclass(frozen=True)
class RowReader:
    """Reads the rows of one sheet."""

    sheet: str
    columns: Columns
    as_of: date
    form: SheetForm
    synonyms: Synonyms
    refused_fields: frozenset[str] = frozenset()

    def read(self, number: int, cells: tuple[Cell, ...]) -> tuple[Entry, list[Problem]]:
        """Read one row; what was refused is left out of its values."""
        values: dict[str, Value] = {}
        problems: dict[str, tuple[str, str]] = {}
        blanks = set()
        for place, field in self.columns.fields.items():
            cell = cells[place] if place < len(cells) else None
            reading = self.read_cell(field, cell)
            if reading.problem:
                problems[field.id] = reading.problem, _general(field, cell, reading.problem)
            elif reading.value is not None:
                values[field.id] = reading.value
            else:
                blanks.add(field.id)
        entry = Entry(self.sheet, number, values, self.refused_fields | problems.keys(), frozenset(blanks))
        places = {field.id: place for place, field in self.columns.fields.items()}
        return entry, [
            Problem(self.sheet, number, field, what, places[field] + 1, general)
            for field, (what, general) in problems.items()
        ]

    def read_cell(self, field: Field, cell: Cell) -> Reading:
        """Read one cell by itself; a blank is not recorded, or a problem where the field is required."""
        if is_blank(cell):
            return Reading(problem="is required; fill it in") if field.required else Reading()
        if isinstance(cell, time | timedelta):
            return Reading(problem=f'"{cell}": is a time of day; format the cell as text or number and type it again')
        if isinstance(cell, str):
            cell = _MADE_HARMLESS.sub(r"\1", cell)
        odd = _unreadable_text(cell) if isinstance(cell, str) else ""
        if odd:
            return Reading(problem=odd)
        reading = self._value(field, cell)
        if reading.problem and isinstance(cell, str):
            hint = remedy(field, cell, self.synonyms)
            problem = shape_fault(field, cell) or reading.problem
            return Reading(problem=f"{problem}; {hint}" if hint else problem)
        return _checked_code(field, reading, self.synonyms) if field.kind == "code" else reading

    def _value(self, field: Field, cell: Raw) -> Reading:
        if field.kind == "date" and isinstance(cell, str):
            read = read_date_text(cell, self.form.date_order, latest=self.as_of)
            problem = read.problem or _imprecision(read)
            return (
                Reading(problem=f'"{cell.strip()[:CODE_LENGTH]}": {problem}')
                if problem
                else field.read(read.day, as_of=self.as_of)
            )
        return field.read(_with_decimal_point(field, cell) if self.form.decimal_comma else cell, as_of=self.as_of)


def _imprecision(read: DateText) -> str:
    if read.month_only:
        return f"is only a month; {CLEAR}"
    return f"has a year of two digits; {CLEAR}" if read.two_digit_year else ""


def _general(field: Field, cell: Cell, problem: str) -> str:
    """The problem without the value where every such value is mended alike: dates, and numbers beyond the limits."""
    is_number = field.kind in _NUMERIC and not isinstance(cell, str)
    return problem.partition('": ')[2] if field.kind == "date" or is_number else ""


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


def _checked_code(field: Field, reading: Reading, synonyms: Synonyms) -> Reading:
    code = reading.value
    if not isinstance(code, str):
        return reading
    if synonyms.is_missing(code) or code.casefold() in _NO_CODE:
        return Reading(problem=f'"{code}": is no code; ' + ("give one" if field.required else blank_remedy(code)))
    shape = refused_shape(field.id, code)
    if shape:
        return Reading(
            problem=f'"{code}": looks like {shape}; use a study code, and keep the list of whom it stands for elsewhere'
        )
    return reading
