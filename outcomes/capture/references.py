"""Check that every row is unique and that every code it refers to exists."""

from __future__ import annotations

from collections.abc import Iterator

from outcomes.capture.entry import Entries, Entry
from outcomes.errors import Problem
from outcomes.protocol import KEYS, SHEETS

# Sheet, the field that refers, and the sheet whose field of the same name it refers to.
_REFERENCES = (
    ("reconstructions", "patient_id", "patients"),
    ("reviews", "case_id", "reconstructions"),
    ("events", "case_id", "reconstructions"),
)


def check_references(entries: Entries) -> list[Problem]:
    """Every repeated row, and every row whose code is unknown."""
    problems = [problem for sheet in SHEETS for problem in _repeated(sheet, entries.read(sheet))]
    for sheet, field, target in _REFERENCES:
        if target not in entries.unread:
            problems.extend(_unknown(entries, sheet, field, target))
    return problems


def _repeated(sheet: str, read: tuple[Entry, ...]) -> Iterator[Problem]:
    first: dict[tuple[str, ...], int] = {}
    parts = KEYS[sheet]
    for entry in read:
        if entry.refused_fields & set(parts) or not entry.key[0]:
            continue
        if entry.key in first:
            same = "" if len(parts) == 1 else "with the same " + ", ".join(parts) + " "
            what = f"is there already {same}{{}}; each row must differ, so take one out or correct it"
            yield entry.problem(parts[0], what, f"row {first[entry.key]}")
        first.setdefault(entry.key, entry.number)


def _unknown(entries: Entries, sheet: str, field: str, target: str) -> Iterator[Problem]:
    known = entries.by_code(target, field)
    for entry in entries.read(sheet):
        code = entry.text(field)
        if code and code not in known:
            what = f"is not on the sheet {target}, nor in the register; add its row to {target}, or correct the code"
            yield entry.problem(field, what)
