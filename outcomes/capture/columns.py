"""Match the columns of a sheet to the fields of the protocol."""

from __future__ import annotations

from dataclasses import dataclass

from outcomes.capture.raw_sheets import Cell, RawSheet, is_blank
from outcomes.capture.sheet_names import nearest, plain_name
from outcomes.errors import Problem
from outcomes.protocol import Field, Protocol


@dataclass(frozen=True)
class Columns:
    """The field of each column by its place, and what was wrong with the first row."""

    fields: dict[int, Field]
    problems: tuple[Problem, ...]

    def holds(self, name: str) -> bool:
        """Tell whether a field has a column."""
        return any(field.id == name for field in self.fields.values())


def check_columns(sheet: RawSheet, protocol: Protocol) -> Columns:
    """Match the first row of a sheet to the fields of the protocol; order is free."""
    if not sheet.header and not sheet.rows:
        return Columns({}, ())
    if not sheet.header:
        return Columns({}, (Problem(sheet.name, 1, "", "the first row must hold the field names; it is blank"),))
    known = {plain_name(field.id): field for field in protocol.sheet(sheet.name)}
    fields: dict[int, Field] = {}
    problems = []
    for place, cell in enumerate(sheet.header):
        field = known.get(plain_name(str(cell)))
        if field in fields.values():
            problems.append(Problem(sheet.name, 1, str(cell).strip(), "stands in two columns; keep one"))
        elif field is not None:
            fields[place] = field
        elif not is_blank(cell):
            problems.append(_unknown(sheet.name, cell, tuple(known)))
    missing = [field for field in known.values() if field.required and field not in fields.values()]
    problems.extend(Problem(sheet.name, 1, field.id, "is required, and there is no such column") for field in missing)
    return Columns(fields, (*problems, *_unnamed(sheet, fields)))


def _unknown(sheet: str, cell: Cell, known: tuple[str, ...]) -> Problem:
    remedy = nearest(str(cell), known) or "; take the column out, or see the sheet definitions for the names"
    return Problem(sheet, 1, _short(cell), f"is not a field of the sheet {sheet}{remedy}")


def _short(cell: Cell) -> str:
    name = " ".join(str(cell).split())
    return name if len(name) <= 60 else name[:60] + "…"


def _unnamed(sheet: RawSheet, fields: dict[int, Field]) -> list[Problem]:
    """Rows with a value outside the named columns: a column without a name, or a separator too many."""
    unnamed = {place for place, cell in enumerate(sheet.header) if is_blank(cell)}
    width = len(sheet.header)
    problems = []
    for number, row in sheet.rows:
        astray = [
            place for place, cell in enumerate(row) if (place >= width or place in unnamed) and not is_blank(cell)
        ]
        if astray and not fields.keys() & set(astray):
            problems.append(
                Problem(
                    sheet.name,
                    number,
                    "",
                    f"has a value in column {astray[0] + 1}, which has no name in the first row; name it or clear it",
                )
            )
    return problems
