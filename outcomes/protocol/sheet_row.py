"""One checked row on its way from a sheet to the register, and the rules by which it changes the row held there."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from outcomes.protocol.field import Value
from outcomes.protocol.protocol import KEYS

Key = tuple[str, ...]
# The day of a review, and of an event.
DAYS = {"reviews": "reviewed_on", "events": "happened_on"}
# What the last sheet said of a value that was amended in the register since, as text; None for a blank.
SheetTexts = Mapping[str, str | None]


@dataclass(frozen=True)
class SheetRow:
    """One checked row: its sheet, the row number that the spreadsheet shows, and its recorded values.

    `values` holds only what was recorded: a blank cell has no key. Dates are dates, grades whole numbers, yes and no
    words, numbers floats. `erases` names the fields whose held value is to be removed because their cell is blank.
    """

    sheet: str
    number: int
    values: dict[str, Value]
    erases: frozenset[str] = frozenset()

    @property
    def key(self) -> Key:
        """What makes the row the same row when it is loaded again; parts that were not recorded are empty texts."""
        return tuple("" if self.values.get(part) is None else str(self.values[part]) for part in KEYS[self.sheet])


@dataclass(frozen=True)
class MergedRow:
    """A row laid over the one held: its values, and the amendments that still stand.

    `amended` is what the last sheet said of each value that was amended in the register since; `repeated` names those
    of which this sheet says the same again.
    """

    values: dict[str, Value]
    amended: dict[str, str | None] = field(default_factory=dict)
    repeated: tuple[str, ...] = ()


@dataclass(frozen=True)
class RowAddress:
    """Which row of a case is meant: the reconstruction itself, or the review or event of a day.

    `assessor` and `mode` tell several reviews of a day apart; `kind` is that of an event.
    """

    case_id: str
    day: date | None = None
    assessor: str = ""
    mode: str = ""
    kind: str = ""

    @property
    def sheets(self) -> tuple[str, ...]:
        """The sheets on which a field of the case can be meant."""
        if self.day is None:
            return ("reconstructions", "patients")
        return ("events",) if self.kind else ("reviews", "events")

    @property
    def sheet(self) -> str:
        """The sheet of the row."""
        return "reconstructions" if self.day is None else "events" if self.kind else "reviews"

    def names(self, sheet: str, values: Mapping[str, Value]) -> bool:
        """Tell whether a row of that sheet is meant."""
        if values.get("case_id") != self.case_id or (self.day and values.get(DAYS[sheet]) != self.day):
            return False
        parts = {"assessor": self.assessor, "mode": self.mode, "kind": self.kind}
        return all(not wanted or values.get(part) == wanted for part, wanted in parts.items() if part in KEYS[sheet])


def folded_code(code: str) -> str:
    """A code without differences of case, width or spacing: codes that differ only in those are one.

    >>> folded_code(" p  01") == folded_code("P 01")
    True
    """
    return " ".join(unicodedata.normalize("NFKC", code).casefold().split())


def value_text(value: Value) -> str | None:
    """A value as text that tells different values apart; None for what was not recorded."""
    if value is None:
        return None
    if isinstance(value, date):
        return value.isoformat()
    return repr(float(value)) if isinstance(value, int | float) else str(value)


def sheet_key(key: Key, sheet: str, amended: SheetTexts) -> Key:
    """The key under which the last sheet knew a row: another one when a part of it was amended since."""
    return tuple(amended.get(part, now) or "" for part, now in zip(KEYS[sheet], key, strict=True))


def match_rows(sheet: str, keys: Iterable[Key], held: Mapping[Key, SheetTexts]) -> dict[Key, Key]:
    """The key of the held row that each row of a sheet is, by the row's own key; a new row is not among them.

    A row is the held row of the same key, else the one that the last sheet knew under this key, unless another row of
    the sheet has that row's own key. `held` has the amended values of each held row.
    """
    keys = tuple(keys)
    matched = {key: key for key in keys if key in held}
    former = {sheet_key(key, sheet, texts): key for key, texts in held.items() if texts and key not in matched}
    return matched | {key: former[key] for key in keys if key not in matched and key in former}


def merge_row(row: SheetRow, held: Mapping[str, Value], amended: SheetTexts) -> MergedRow:
    """Lay a row over the held one: a blank cell and a column that is not there change nothing, unless `erases` says so.

    A value that was amended in the register stands against a sheet that repeats what the last sheet said of it; a sheet
    that says something else wins.
    """
    values = {name: value for name, value in {**held, **row.values}.items() if name not in row.erases}
    standing: dict[str, str | None] = {}
    repeated = []
    for name, before in amended.items():
        given = name in row.values or name in row.erases
        if given and (value_text(row.values.get(name)) != before or before == value_text(held.get(name))):
            continue
        standing[name] = before
        if given:
            repeated.append(name)
            values[name] = held.get(name)
    return MergedRow({name: value for name, value in values.items() if value is not None}, standing, tuple(repeated))
