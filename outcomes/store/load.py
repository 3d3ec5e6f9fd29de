"""Record the rows of a sheet: new rows are stored, changed rows amended, equal rows skipped.

A row is new, or says what the last file said (skipped), or says something else (an amendment that keeps its
predecessor). A value that was amended in the register stands against a file that only repeats what it said before; a
file that says something new about it wins.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Protocol

from outcomes.errors import DataRefused, Problem
from outcomes.protocol import SHEETS, SheetRow, Value
from outcomes.store.audit_chain import Source
from outcomes.store.codec import Values, text_of
from outcomes.store.connection import PATIENT, Patience
from outcomes.store.current_rows import CurrentRow, by_key, current_rows, withdrawn_codes
from outcomes.store.transaction import Draft, changing

Key = tuple[str, ...]


class RaisedQuery(Protocol):
    """A query that the checks raised on a row: legal but odd."""

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
    repeats in their old form: they stand, and the sheet should be corrected.
    """

    stored: Mapping[str, int]
    amended: Mapping[str, int]
    skipped: Mapping[str, int]
    withheld: Mapping[str, int]
    change: int | None
    overruled: tuple[OverruledValue, ...]


@dataclass
class _Tally:
    stored: Counter[str] = field(default_factory=Counter)
    amended: Counter[str] = field(default_factory=Counter)
    skipped: Counter[str] = field(default_factory=Counter)
    withheld: Counter[str] = field(default_factory=Counter)
    overruled: list[OverruledValue] = field(default_factory=list)


def record_rows(  # noqa: PLR0913 - the contract with the callers
    path: Path,
    rows: Sequence[SheetRow],
    *,
    queries: Sequence[RaisedQuery] = (),
    source: Source,
    at: datetime,
    patience: Patience = PATIENT,
) -> LoadResult:
    """All rows are in the register afterwards, each with its source; those held unchanged are skipped.

    After a failure nothing is changed. Rows that the register holds and this list does not are left as they are.
    """
    _refuse_bad_rows(rows)
    raised: dict[tuple[str, Key], list[RaisedQuery]] = {}
    for query in queries:
        raised.setdefault((query.sheet, tuple(query.key)), []).append(query)
    tally = _Tally()
    with changing(path, "load", source, at, patience) as draft:
        gone = withdrawn_codes(draft)
        for sheet in SHEETS:
            given = [row for row in rows if row.sheet == sheet]
            held = by_key(current_rows(draft, sheet)) if given else {}
            for row in given:
                _record(draft, row, held.get(row.key), raised.get((sheet, row.key), []), tally, gone)
    return LoadResult(
        tally.stored,
        tally.amended,
        tally.skipped,
        tally.withheld,
        draft.number if draft.rows else None,
        tuple(tally.overruled),
    )


def _record(  # noqa: PLR0913, PLR0917 - one row against everything known about it
    draft: Draft,
    row: SheetRow,
    held: CurrentRow | None,
    raised: list[RaisedQuery],
    tally: _Tally,
    gone: dict[str, set[Value]],
) -> None:
    if any(row.values.get(name) in codes for name, codes in gone.items()):
        tally.withheld[row.sheet] += 1
        if row.sheet == "reconstructions":
            gone["case_id"].add(row.values["case_id"])
        return
    values, overruled = ({**row.values}, {}) if held is None else _merged(held, row)
    tally.overruled.extend(
        OverruledValue(row.sheet, row.key, name, said, values.get(name)) for name, said in overruled.items()
    )
    if held is not None and _same(held.values, values):
        tally.skipped[row.sheet] += 1
        return
    record = draft.new_record(row.sheet) if held is None else held.record
    (tally.stored if held is None else tally.amended)[row.sheet] += 1
    draft.add_version(row.sheet, record, values)
    for name, said in overruled.items():
        draft.add_overruled(row.sheet, record, name, said)
    for query in raised:
        draft.add_query(row.sheet, record, query.query_id, query.says)


def _merged(held: CurrentRow, row: SheetRow) -> tuple[Values, dict[str, str | None]]:
    """The row as it is to stand, and what the file says of each value whose amendment stands against it."""
    values: Values = {**row.values}
    overruled = {}
    for name, before in held.said.items():
        said = text_of(row.values.get(name))
        if said == before and said != text_of(held.values.get(name)):
            overruled[name] = said
            values[name] = held.values.get(name)
    return {name: value for name, value in values.items() if value is not None}, overruled


def _same(one: Values, other: Values) -> bool:
    return {name: text_of(value) for name, value in one.items()} == {
        name: text_of(value) for name, value in other.items()
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
