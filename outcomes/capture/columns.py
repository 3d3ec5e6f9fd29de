"""Match the columns of a sheet to the fields of the protocol."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from outcomes.capture.raw_sheets import Cell, RawSheet, is_blank
from outcomes.capture.sheet_names import nearest, plain_name
from outcomes.errors import Problem, column_letters
from outcomes.protocol import Field, Protocol, default_protocol

_ROWS_SEARCHED, _FEWEST_NAMES = 20, 3
_NEWER = (
    " in this register's protocol, but in the one of this program; outcomes protocol change FILE brings it in, FILE being a"
    ' protocol file with the line extends = "default"'
)
_UNKNOWN = "; take the column out, or see the sheet definitions for the names"


@dataclass(frozen=True)
class Columns:
    """The field of each column by its place, what was wrong with the first row, and the places that it names."""

    fields: dict[int, Field]
    problems: tuple[Problem, ...]
    named: frozenset[int] = frozenset()

    def holds(self, name: str) -> bool:
        """Tell whether a field has a column."""
        return any(field.id == name for field in self.fields.values())


def check_columns(sheet: RawSheet, protocol: Protocol) -> Columns:
    """Match the first row of a sheet to the fields of the protocol; order is free.

    A sheet whose first row names no field, or whose names are in a later row, is one problem.
    """
    if not sheet.header and not sheet.rows:
        return Columns({}, ())
    known = {plain_name(field.id): field for field in protocol.sheet(sheet.name)}
    if misplaced := _misplaced_header(sheet, known):
        return Columns({}, (misplaced,))
    fields: dict[int, Field] = {}
    problems = []
    for place, cell in enumerate(sheet.header):
        field = known.get(plain_name(str(cell)))
        if field in fields.values():
            problems.append(
                Problem(sheet.name, 1, str(cell).strip(), "is the name of two columns; keep one", place + 1)
            )
        elif field is not None:
            fields[place] = field
        elif not is_blank(cell):
            problems.append(_unknown(sheet.name, place, cell, tuple(known)))
    missing = [field for field in known.values() if field.required and field not in fields.values()]
    problems.extend(Problem(sheet.name, 1, field.id, "is required, and there is no such column") for field in missing)
    named = frozenset(place for place, cell in enumerate(sheet.header) if not is_blank(cell))
    return Columns(fields, tuple(problems), named)


def check_astray(sheet: str, number: int, row: tuple[Cell, ...], columns: Columns) -> Iterator[Problem]:
    """A row with a value outside the named columns: a column without a name, or a separator too many."""
    astray = next((place for place, cell in enumerate(row) if place not in columns.named and not is_blank(cell)), None)
    if astray is not None:
        what = f"has a value in column {column_letters(astray + 1)}, which has no name in the first row"
        yield Problem(sheet, number, "", f"{what}; name it or clear it", astray + 1)


def _misplaced_header(sheet: RawSheet, known: Collection[str]) -> Problem | None:
    """The one problem of a sheet whose first row is blank, or is a title above the row of names."""

    def names_in(cells: tuple[Cell, ...]) -> int:
        return sum(plain_name(str(cell)) in known for cell in cells if not is_blank(cell))

    row, names = max(
        ((number, names_in(cells)) for number, cells in sheet.rows[:_ROWS_SEARCHED]),
        key=lambda counted: counted[1],
        default=(0, 0),
    )
    if names >= _FEWEST_NAMES and names > names_in(sheet.header):
        above = "row 1" if row == 2 else f"rows 1 to {row - 1}"
        return Problem(
            sheet.name, 1, "", f"the field names are in row {row}; delete {above}, so that they are in row 1"
        )
    if not sheet.header:
        return Problem(sheet.name, 1, "", "the first row must hold the field names; it is blank")
    if not names_in(sheet.header) and len(sheet.header) >= _FEWEST_NAMES:
        return Problem(
            sheet.name, 1, "", "no name in the first row is a field; for a sheet of another form: outcomes map FILE"
        )
    return None


def _unknown(sheet: str, place: int, cell: Cell, known: tuple[str, ...]) -> Problem:
    newer = any(plain_name(field.id) == plain_name(str(cell)) for field in default_protocol().sheet(sheet))
    remedy = _NEWER if newer else nearest(str(cell), known) or _UNKNOWN
    return Problem(sheet, 1, _short(cell), f"is not a field of the sheet {sheet}{remedy}", place + 1)


def _short(cell: Cell) -> str:
    name = " ".join(str(cell).split())
    return name if len(name) <= 60 else name[:60] + "…"
