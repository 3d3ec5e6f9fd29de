"""Read the newest version of every row of a sheet while a change is made."""

from __future__ import annotations

from dataclasses import dataclass, field

from outcomes.protocol import KEYS, SheetRow, Value
from outcomes.store.codec import Values, named_rows, recorded_values
from outcomes.store.sheet_sql import latest_sql
from outcomes.store.sql import statement
from outcomes.store.transaction import Draft

_AMENDED = "select record, change, field, said from overruled where sheet = ?"
_QUERIES = "select record, change, query_id, says from queries where sheet = ?"


@dataclass
class CurrentRow:
    """The newest version of a row. `said` is what the last file said of the values that were amended since."""

    sheet: str
    record: int
    change: int
    values: Values
    said: dict[str, str | None] = field(default_factory=dict)
    queries: list[tuple[str, str]] = field(default_factory=list)

    @property
    def key(self) -> tuple[str, ...]:
        """What makes the row the same row when it is loaded again."""
        return SheetRow(self.sheet, 0, self.values).key

    @property
    def file_key(self) -> tuple[str, ...]:
        """The key under which the last file knew the row: another one when a part of it was amended since."""
        return tuple(self.said.get(part, now) or "" for part, now in zip(KEYS[self.sheet], self.key, strict=True))


def by_key(rows: list[CurrentRow]) -> dict[tuple[str, ...], CurrentRow]:
    """The rows by their key, and by the key that the last file has for them where no other row stands under it."""
    return {row.file_key: row for row in rows} | {row.key: row for row in rows}


def current_rows(draft: Draft, sheet: str) -> list[CurrentRow]:
    """The newest version of every row of a sheet, of withdrawn patients too."""
    rows = [
        CurrentRow(
            sheet, row["record"], row["change"], recorded_values(draft.protocol, sheet, row, row.get("observed"))
        )
        for row in named_rows(draft.con, latest_sql(sheet))
    ]
    versions = {(row.record, row.change): row for row in rows}
    for record, change, name, said in draft.con.execute(_AMENDED, [sheet]).fetchall():
        if (record, change) in versions:
            versions[record, change].said[name] = said
    for record, change, query_id, says in draft.con.execute(_QUERIES, [sheet]).fetchall():
        if (record, change) in versions:
            versions[record, change].queries.append((query_id, says))
    return rows


def withdrawn_codes(draft: Draft) -> dict[str, set[Value]]:
    """The codes of patients who have withdrawn and of their cases."""
    codes = draft.con.execute(statement("extracts/withdrawn_codes")).fetchall()
    return {
        "patient_id": {patient for patient, _case in codes},
        "case_id": {case for _patient, case in codes if case is not None},
    }
