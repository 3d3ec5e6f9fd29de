"""Read the rows of a sheet: as they stand, or the newest version of every row."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import duckdb

from outcomes.protocol import Key, Protocol, SheetRow, Value
from outcomes.store.codec import Values, named_rows, recorded_values
from outcomes.store.sheet_sql import of_codes_sql, recorded_sql
from outcomes.store.sql import statement

_AMENDED = "select record, change, field, said from overruled where sheet = ?"
_QUERIES = "select record, change, query_id, says from queries where sheet = ?"


@dataclass
class CurrentRow:
    """The newest version of a row. `amended` is what the last sheet said of the values that were amended since."""

    sheet: str
    record: int
    change: int
    values: Values
    removed: bool
    amended: dict[str, str | None] = field(default_factory=dict)
    queries: list[tuple[str, str]] = field(default_factory=list)

    @property
    def key(self) -> Key:
        """What makes the row the same row when it is loaded again."""
        return SheetRow(self.sheet, 0, self.values).key


def rows_by_key(rows: list[CurrentRow]) -> dict[Key, CurrentRow]:
    """The rows by their key; of rows with the same key, the one that is not removed."""
    return {row.key: row for row in sorted(rows, key=lambda row: not row.removed)}


def newest_rows(con: duckdb.DuckDBPyConnection, protocol: Protocol, sheet: str) -> list[CurrentRow]:
    """The newest version of every row of a sheet, removed ones and those of withdrawn patients too."""
    return _rows(con, protocol, sheet, f"latest_{sheet}")


def current_rows(con: duckdb.DuckDBPyConnection, protocol: Protocol, sheet: str) -> list[CurrentRow]:
    """Every row of a sheet as it stands, in the order of the keys."""
    return sorted(_rows(con, protocol, sheet, f"current_{sheet}"), key=lambda row: row.key)


def ask_for(con: duckdb.DuckDBPyConnection, codes: Iterable[str]) -> None:
    """The codes of the patients and cases that are asked for are in the table `asked_codes`."""
    con.execute(
        "create or replace temp table asked_codes as select unnest($codes::varchar[]) as code", {"codes": [*codes]}
    )


def newest_rows_of_codes(con: duckdb.DuckDBPyConnection, protocol: Protocol, sheet: str) -> list[CurrentRow]:
    """The same as `newest_rows`, of the codes that were asked for."""
    return _rows(con, protocol, sheet, f"({of_codes_sql(sheet, 'latest')})")


def current_rows_of_codes(con: duckdb.DuckDBPyConnection, protocol: Protocol, sheet: str) -> list[CurrentRow]:
    """The same as `current_rows`, of the codes that were asked for."""
    return sorted(_rows(con, protocol, sheet, f"({of_codes_sql(sheet, 'current')})"), key=lambda row: row.key)


def _rows(con: duckdb.DuckDBPyConnection, protocol: Protocol, sheet: str, view: str) -> list[CurrentRow]:
    rows = {
        (row["record"], row["change"]): CurrentRow(
            sheet,
            row["record"],
            row["change"],
            recorded_values(protocol, sheet, row, row.get("observed")),
            removed=bool(row.get("removed")),
        )
        for row in named_rows(con, recorded_sql(sheet, view))
    }
    for record, change, name, said in con.execute(_AMENDED, [sheet]).fetchall():
        if (record, change) in rows:
            rows[record, change].amended[name] = said
    for record, change, query_id, says in con.execute(_QUERIES, [sheet]).fetchall():
        if (record, change) in rows:
            rows[record, change].queries.append((query_id, says))
    return list(rows.values())


def withdrawn_codes(con: duckdb.DuckDBPyConnection) -> dict[str, set[Value]]:
    """The codes of patients who have withdrawn and of their cases."""
    codes = con.execute(statement("extracts/withdrawn_codes")).fetchall()
    return {
        "patient_id": {patient for patient, _case in codes},
        "case_id": {case for _patient, case in codes if case is not None},
    }
