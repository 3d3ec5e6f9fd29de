"""Check the cells that go only with another cell's value, on the row as it will stand."""

from __future__ import annotations

from collections.abc import Iterator

from outcomes.capture.entry import Entries, Entry
from outcomes.errors import Problem
from outcomes.protocol import SHEETS, Field, Protocol


def check_conditions(entries: Entries, protocol: Protocol) -> list[Problem]:
    """Every value whose condition is not met, because the other cell has another value or none."""
    conditional = [field for field in protocol.fields if field.only_with_field]
    return [
        problem
        for sheet in SHEETS
        for entry in entries.read(sheet)
        for field in conditional
        if field.sheet == sheet
        for problem in _unmet(entry, field)
    ]


def _unmet(entry: Entry, field: Field) -> Iterator[Problem]:
    value, other = entry.values.get(field.id), field.only_with_field
    if value is None or {field.id, other} & entry.refused_fields or entry.values.get(other) in field.only_with_values:
        return
    there = f'is "{entry.values[other]}"' if entry.values.get(other) is not None else "is blank"
    wanted = " or ".join(f'"{word}"' for word in field.only_with_values)
    remedy = "clear it or correct the other"
    if field.id not in entry.row.values:
        there, remedy = f"{there} here, while the register holds this", f"amend it to blank, or correct {other}"
    elif other not in entry.row.values and entry.values.get(other) is not None:
        there += " in the register"
    yield entry.problem(field.id, f"goes only with {other} {wanted}, and {other} {there}; {remedy}")
