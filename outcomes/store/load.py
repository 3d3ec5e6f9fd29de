"""Record the rows of a sheet: new rows are stored, changed rows amended, equal rows skipped.

A value that the sheet does not give is left as it is. A value that was amended in the register stands against a sheet
that only repeats what it said before; a sheet that says something new about it wins.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol

from outcomes.errors import DataRefused, Problem
from outcomes.protocol import SHEETS, Key, MergedRow, SheetRow, Value, match_rows, merge_row, value_text
from outcomes.store.audit_chain import Source
from outcomes.store.codec import Values
from outcomes.store.connection import PATIENT, Patience
from outcomes.store.current_rows import CurrentRow, ask_for, newest_rows_of_codes, rows_by_key, withdrawn_codes
from outcomes.store.plain_rows import Columns, record_plain
from outcomes.store.transaction import Draft, changing


class RaisedQuery(Protocol):
    """A query that the checks raised on a row: valid but unusual."""

    @property
    def sheet(self) -> str:
        """The sheet of the row."""

    @property
    def key(self) -> Key:
        """The key of the row."""

    @property
    def query_id(self) -> str:
        """Which query."""

    @property
    def says(self) -> str:
        """What is odd."""


@dataclass(frozen=True)
class OverruledValue:
    """A value that the file repeats although it was amended in the register: what it says, and what stands."""

    sheet: str
    key: Key
    field: str
    said: str | None
    stands: Value


@dataclass(frozen=True)
class LoadResult:
    """How many rows of each sheet were stored, amended, skipped, or withheld because the patient has withdrawn.

    `change` is the number of the change, or None when nothing was new. `overruled` are amended values that the file
    repeats in their old form: they stand, and the sheet should be corrected. `removed` are the sheet and key of rows
    that stay removed.
    """

    stored: Mapping[str, int]
    amended: Mapping[str, int]
    skipped: Mapping[str, int]
    withheld: Mapping[str, int]
    change: int | None
    overruled: tuple[OverruledValue, ...]
    removed: tuple[tuple[str, Key], ...]


def record_rows(  # noqa: PLR0913 - the contract with the callers
    path: Path,
    rows: Sequence[SheetRow],
    *,
    plain: dict[str, Columns] | None = None,
    queries: Sequence[RaisedQuery] = (),
    source: Source,
    at: datetime,
    patience: Patience = PATIENT,
) -> LoadResult:
    """All rows are in the register afterwards, each with its source; those held unchanged are skipped.

    After a failure nothing is changed. Rows and values that the register holds and this list does not are left as they
    are, and a removed row stays removed. `plain` has further rows as columns, one entry a sheet: of patients on whom no
    query was raised and whom no other row names; it is emptied once they are written, as they can be many.
    """
    _refuse_bad_rows(rows)
    raised: dict[tuple[str, Key], list[RaisedQuery]] = {}
    for query in queries:
        raised.setdefault((query.sheet, tuple(query.key)), []).append(query)
    with changing(path, "load", source, at, patience) as draft:
        load = _Load(draft, raised)
        load.look_up(rows)  # before many others are written
        others = load.record_plain(plain or {})
        load.look_up(others)
        for sheet in SHEETS:
            load.record(sheet, [row for row in (*rows, *others) if row.sheet == sheet])
        return load.result()


class _Load:
    """One load in the making: what is known of withdrawn patients and removed cases, and the tallies."""

    def __init__(self, draft: Draft, raised: Mapping[tuple[str, Key], list[RaisedQuery]]) -> None:
        self.draft, self.raised, self.withdrawn = draft, raised, withdrawn_codes(draft.con)
        self.removed_cases = set[Value]()
        self.stored, self.amended, self.skipped, self.withheld = (Counter[str]() for _ in range(4))
        self.removed, self.overruled = list[tuple[str, Key]](), list[OverruledValue]()
        self.newest: dict[str, dict[Key, CurrentRow]] = {sheet: {} for sheet in SHEETS}

    def record_plain(self, plain: dict[str, Columns]) -> list[SheetRow]:
        """Add the rows of new patients in bulk; gives those that are for `record`."""
        stored, others = record_plain(self.draft, plain)
        self.stored.update(stored)
        return others

    def look_up(self, rows: Sequence[SheetRow]) -> None:
        """Find what the register holds of the patients and cases of these rows."""
        con, protocol = self.draft.con, self.draft.protocol
        if not rows:
            return
        ask_for(
            con, {str(row.values[name]) for row in rows for name in ("patient_id", "case_id") if name in row.values}
        )
        for sheet in SHEETS:
            self.newest[sheet] |= rows_by_key(newest_rows_of_codes(con, protocol, sheet))
        con.execute("drop table asked_codes")

    def record(self, sheet: str, rows: Sequence[SheetRow]) -> None:
        """Add the rows of one sheet; the sheets come in their order."""
        held = self.newest[sheet]
        matched = match_rows(sheet, (row.key for row in rows), {key: row.amended for key, row in held.items()})
        if sheet == "reconstructions":
            self.removed_cases = {row.values["case_id"] for row in held.values() if row.removed}
        for row in rows:
            self._row(row, held.get(matched.get(row.key, row.key)))

    def _row(self, row: SheetRow, held: CurrentRow | None) -> None:
        if any(row.values.get(name) in codes for name, codes in self.withdrawn.items()):
            self.withheld[row.sheet] += 1
            if row.sheet == "reconstructions":
                self.withdrawn["case_id"].add(row.values["case_id"])
        elif (held and held.removed) or row.values.get("case_id") in self.removed_cases:
            self.removed.append((row.sheet, row.key))
        elif held is None:
            self.stored[row.sheet] += 1
            self._version(row, self.draft.new_record(row.sheet), MergedRow(dict(row.values)))
        else:
            self._amend(row, held)

    def _amend(self, row: SheetRow, held: CurrentRow) -> None:
        merged = merge_row(row, held.values, held.amended)
        self.overruled += [
            OverruledValue(row.sheet, row.key, name, merged.amended[name], held.values.get(name))
            for name in merged.repeated
        ]
        same = _same(held.values, merged.values)
        (self.skipped if same else self.amended)[row.sheet] += 1
        if not same or merged.amended != held.amended:
            self._version(row, held.record, merged)

    def _version(self, row: SheetRow, record: int, merged: MergedRow) -> None:
        self.draft.add_version(row.sheet, record, {n: value for n, value in merged.values.items() if value is not None})
        for name, said in merged.amended.items():
            self.draft.add_overruled(row.sheet, record, name, said)
        for query in self.raised.get((row.sheet, row.key), []):
            self.draft.add_query(row.sheet, record, query.query_id, query.says)

    def result(self) -> LoadResult:
        """What was done."""
        return LoadResult(
            self.stored,
            self.amended,
            self.skipped,
            self.withheld,
            None if self.draft.is_empty else self.draft.number,
            tuple(self.overruled),
            tuple(self.removed),
        )


def _same(one: Values, other: Values) -> bool:
    return {name: value_text(value) for name, value in one.items()} == {
        name: value_text(value) for name, value in other.items()
    }


def _refuse_bad_rows(rows: Sequence[SheetRow]) -> None:
    """Raise DataRefused for what the checks before the store should have refused, so that nothing odd is ever kept."""
    problems = []
    seen: dict[tuple[str, Key], int] = {}
    for row in rows:
        first = seen.setdefault((row.sheet, row.key), row.number)
        if first != row.number:
            problems.append(Problem(row.sheet, row.number, "", f"is the same as row {first}; keep one of them"))
        problems.extend(
            Problem(row.sheet, row.number, name, "holds a control character (a line break or a tab); remove it")
            for name, value in row.values.items()
            if isinstance(value, str) and any(ord(letter) < ord(" ") for letter in value)
        )
    if problems:
        raise DataRefused("the rows were refused; nothing was stored", problems)
