"""Record the rows of new patients in bulk: column by column, without going through them one by one."""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any
from typing import Protocol as Shape

from outcomes.protocol import SHEETS, Field, SheetRow
from outcomes.store.codec import named_rows, recorded
from outcomes.store.schema import columns
from outcomes.store.sql import statement
from outcomes.store.transaction import Draft

ROW = "row"
_OTHERS = {"patients": ("patient_id", "other_patients")}


class Columns(Shape):
    """Anything that hands its columns over as an Arrow stream."""

    def __arrow_c_stream__(self, requested_schema: Any = None) -> Any:  # noqa: ANN401 - the Arrow interface
        """The columns, from the beginning, each time that they are asked for."""


@dataclass(frozen=True)
class _Stream:
    """Columns of which the database sees the Arrow stream and nothing else."""

    columns: Columns = field(repr=False)

    def __arrow_c_stream__(self, requested_schema: Any = None) -> Any:  # noqa: ANN401 - the Arrow interface
        return self.columns.__arrow_c_stream__(requested_schema)


def record_plain(draft: Draft, plain: dict[str, Columns]) -> tuple[dict[str, int], list[SheetRow]]:
    """The rows of patients and cases that the register has never held are written; gives how many of each sheet.

    Gives the other rows too, of patients who have withdrawn and of rows that were removed: those are recorded one by
    one. `plain` has every sheet, with the number of each row beside its fields, and is empty afterwards.
    """
    if not plain:
        return {}, []
    with _given(draft, plain):
        draft.con.execute(statement("bulk/other_patients"))
        draft.con.execute(statement("bulk/other_cases"))
        others = [row for sheet in SHEETS for row in _other_rows(draft, sheet)]
        stored = {sheet: _store(draft, sheet) for sheet in SHEETS}
        draft.con.execute("drop table other_cases")
        draft.con.execute("drop table other_patients")
    return stored, others


@contextmanager
def _given(draft: Draft, plain: dict[str, Columns]) -> Iterator[None]:
    for sheet in SHEETS:
        draft.con.register(f"given_{sheet}", _Stream(plain.pop(sheet)))
    try:
        yield
    finally:
        for sheet in SHEETS:
            draft.con.unregister(f"given_{sheet}")


def _is_other(sheet: str) -> str:
    code, others = _OTHERS.get(sheet, ("case_id", "other_cases"))
    return f"{code} in (select {code} from {others})"  # noqa: S608 - our own tables


def _other_rows(draft: Draft, sheet: str) -> Iterator[SheetRow]:
    fields = draft.protocol.sheet(sheet)
    for row in named_rows(draft.con, f"select * from given_{sheet} where {_is_other(sheet)}"):  # noqa: S608
        values = {each.id: _as_read(each, row[each.id]) for each in fields if row[each.id] is not None}
        yield SheetRow(sheet, row[ROW], values)


def _as_read(of: Field, value: Any) -> Any:  # noqa: ANN401 - what the column gave
    return value if of.kind == "yes_no" else recorded(of, value)


def _store(draft: Draft, sheet: str) -> int:
    """The rows are in their table, in the order of their numbers; gives how many there are."""
    fields = {each.id: each for each in draft.protocol.sheet(sheet)}
    kept = [name for name in columns(draft.con, sheet) if name in fields]
    first = draft.next_record(sheet) - 1
    flag = ", false as withdrawn" if sheet == "patients" else ""
    record = f"{first} + {ROW} as record, {draft.number} as change"
    salt = f"substr(sha256($key || '{sheet}' || {ROW}), 1, 32) as salt"
    new = f"given_{sheet} where not {_is_other(sheet)}"
    sql = f"insert into {sheet} by name select {record}, {salt}{flag}, {', '.join(kept)} from {new}"  # noqa: S608
    # Salts that nobody can work out: digests under a key that is drawn here and kept nowhere.
    stored = int(draft.con.execute(sql, {"key": secrets.token_hex(32)}).fetchall()[0][0])
    observed = [each for each in fields.values() if each.observed]
    if stored and observed:
        numbers = ", ".join(f"{_number(each)} as {each.id}" for each in observed)
        wide = f"(select {record}, {numbers} from {new})"  # noqa: S608
        names = ", ".join(each.id for each in observed)
        draft.con.execute(
            f"insert into observations select record, change, field, value "  # noqa: S608
            f"from (unpivot {wide} on {names} into name field value value)"
        )
    draft.count_written(stored)
    return stored


def _number(of: Field) -> str:
    """What is kept of an observed value, in SQL: yes as 1, no as 0."""
    return f"cast({of.id} = 'yes' as double)" if of.kind == "yes_no" else f"cast({of.id} as double)"
