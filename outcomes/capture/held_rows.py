"""Lay the rows that were read over the rows that the register holds."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal
from typing import Protocol as Shape

from outcomes.capture.entry import Entries, Entry
from outcomes.errors import Problem
from outcomes.protocol import (
    KEYS,
    SHEETS,
    Key,
    SheetRow,
    SheetTexts,
    Value,
    match_rows,
    merge_row,
    sheet_key,
)

Blanks = Literal["keep", "erase"]


class RegisterLookup(Shape):
    """Anything that tells what the register holds of some patients and cases."""

    def among(self, codes: Mapping[str, Collection[str]]) -> HeldRows:
        """The rows of every patient who has one of the codes, or a case with one, by the field of the codes."""


@dataclass(frozen=True)
class HeldRows:
    """The rows that the register holds, by sheet and key.

    `amended` is what the last sheet said of the values that were amended in the register since; `blanks` what a blank
    cell does to a held value; `spellings` has, by field, the codes that the register holds in other rows.
    """

    values: Mapping[str, Mapping[Key, Mapping[str, Value]]] = field(default_factory=dict)
    amended: Mapping[str, Mapping[Key, SheetTexts]] = field(default_factory=dict)
    blanks: Blanks = "keep"
    spellings: Mapping[str, frozenset[str]] = field(default_factory=dict)

    def among(self, codes: Mapping[str, Collection[str]]) -> HeldRows:  # noqa: ARG002 - all rows are here
        """These rows."""
        return self

    def codes(self, name: str) -> set[str]:
        """Every code of one field that the register holds."""
        rows = (values for sheet in self.values.values() for values in sheet.values())
        return {str(values[name]) for values in rows if values.get(name) is not None} | self.spellings.get(
            name, frozenset()
        )

    def texts(self, sheet: str) -> dict[Key, SheetTexts]:
        """Every held row of a sheet, with its amended values as the last sheet said them."""
        amended = self.amended.get(sheet, {})
        return {key: amended.get(key, {}) for key in self.values.get(sheet, {})}


@dataclass(frozen=True)
class BlankCell:
    """A cell that a sheet leaves blank although the register holds a value; `row_key` is the key of the sheet's row."""

    sheet: str
    row: int
    row_key: Key
    field: str
    value: Value

    def __str__(self) -> str:
        return f"{self.sheet} row {self.row}, {self.field}: {self.value}"


class Overlay:
    """The rows that were read, each laid over the held row that it is."""

    def __init__(self, read: Iterable[Entry], held: HeldRows) -> None:
        self.held, self.problems, self.blanks = held, list[Problem](), list[BlankCell]()
        self._indexes: dict[tuple[str, tuple[int, ...]], dict[Key, set[Key]]] = {}
        rows = list(read)
        self.by_sheet = {sheet: self._sheet(sheet, [e for e in rows if e.sheet == sheet]) for sheet in SHEETS}

    def entries(self, unread: frozenset[str]) -> Entries:
        """Every row that counts after loading."""
        return Entries(self.by_sheet, unread)

    def _sheet(self, sheet: str, read: list[Entry]) -> tuple[Entry, ...]:
        texts = self.held.texts(sheet)
        read = [self._with_whole_key(entry) for entry in read]
        matched = match_rows(sheet, (entry.key for entry in read), texts)
        laid = [self._laid(entry, matched[entry.key]) if entry.key in matched else entry for entry in read]
        others = self.held.values.get(sheet, {}).items()
        replaced = set(matched.values())
        return (*(Entry(sheet, 0, values) for key, values in others if key not in replaced), *laid)

    def _laid(self, entry: Entry, key: Key) -> Entry:
        values = self.held.values[entry.sheet][key]
        amended = self.held.amended.get(entry.sheet, {}).get(key, {})
        left_blank = [name for name in values if name in entry.blanks and values[name] is not None]
        self.blanks += [BlankCell(entry.sheet, entry.number, entry.key, name, values[name]) for name in left_blank]
        repeated = {name for name in left_blank if name in amended and amended[name] is None}
        erases = frozenset(left_blank) - repeated if self.held.blanks == "erase" else frozenset()
        row = SheetRow(entry.sheet, entry.number, dict(entry.values), erases)
        sure = {name: value for name, value in values.items() if name not in entry.refused_fields}
        return replace(entry, values=merge_row(row, sure, amended).values, loaded=row)

    def _with_whole_key(self, entry: Entry) -> Entry:
        """Take the parts of the key that have no column from the only held row that can be meant."""
        parts = KEYS[entry.sheet]
        known = entry.values.keys() | entry.blanks | entry.refused_fields
        absent = [part for part in parts if part not in known]
        if not absent or not entry.key[0]:
            return entry
        places = tuple(place for place, part in enumerate(parts) if part in known)
        meant = self._by_part_of_key(entry.sheet, places).get(tuple(entry.key[place] for place in places), set())
        if len(meant) > 1:
            columns = " and ".join(absent)
            what = (
                f"the register holds {len(meant)} such rows, and the sheet has no column {columns}; add it to say which"
            )
            self.problems.append(entry.problem(parts[0], what))
        if len(meant) != 1:
            return entry
        held = self.held.values[entry.sheet][next(iter(meant))]
        filled = {part: held[part] for part in absent if held.get(part) is not None}
        return replace(entry, values={**entry.values, **filled})

    def _by_part_of_key(self, sheet: str, places: tuple[int, ...]) -> dict[Key, set[Key]]:
        """The keys of the held rows by some of their parts, as they are and as the last sheet knew them."""
        if (sheet, places) not in self._indexes:
            index = self._indexes[sheet, places] = dict[Key, set[Key]]()
            for key, texts in self.held.texts(sheet).items():
                for each in (key, sheet_key(key, sheet, texts)):
                    index.setdefault(tuple(each[place] for place in places), set()).add(key)
        return self._indexes[sheet, places]
