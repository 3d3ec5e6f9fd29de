"""Read every version of every value of a case: when, from which file or by whom, and why."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import duckdb

from outcomes.errors import RegisterRefused
from outcomes.protocol import DAYS, SHEETS, Protocol, Value
from outcomes.store.codec import named_rows, recorded_values
from outcomes.store.schema import FLAGS
from outcomes.store.sheet_sql import versions_sql
from outcomes.store.sql import statement


@dataclass(frozen=True)
class ValueVersion:
    """One value of one version. `was` is what stood before, None for nothing; `day` is that of the review or event."""

    sheet: str
    record: int
    day: Value
    field: str
    was: Value
    value: Value
    change: int
    kind: str
    at: datetime
    who: str
    file: str
    file_digest: str
    reason: str


def read_history(con: duckdb.DuckDBPyConnection, protocol: Protocol, case_id: str) -> tuple[ValueVersion, ...]:
    """Every version of every value of the case and of its patient, oldest change first."""
    changes = {row["change"]: row for row in named_rows(con, statement("chain/changes"))}
    past = [entry for sheet in SHEETS for entry in _sheet_history(con, protocol, sheet, case_id, changes)]
    if not past:
        raise RegisterRefused(f'there is no case "{case_id}" in the register; check the code')
    return tuple(sorted(past, key=lambda entry: (entry.change, SHEETS.index(entry.sheet), entry.record)))


def _sheet_history(
    con: duckdb.DuckDBPyConnection,
    protocol: Protocol,
    sheet: str,
    case_id: str,
    changes: dict[int, dict[str, Any]],
) -> Iterator[ValueVersion]:
    before: dict[int, dict[str, Value]] = {}
    for row in named_rows(con, versions_sql(sheet), {"case_id": case_id}):
        values = recorded_values(protocol, sheet, row, row.get("observed"))
        values |= {flag: "yes" for flag in FLAGS if row.get(flag)}
        change = changes[row["change"]]
        for name, was, value in _differences(before.get(row["record"], {}), values):
            yield ValueVersion(
                sheet,
                row["record"],
                values.get(DAYS.get(sheet, "")),
                name,
                was,
                value,
                row["change"],
                change["kind"],
                change["made_at"],
                change["who"],
                change["file"],
                change["file_digest"],
                change["reason"],
            )
        before[row["record"]] = values


def _differences(before: dict[str, Value], now: dict[str, Value]) -> Iterator[tuple[str, Value, Value]]:
    for name in [*now, *(name for name in before if name not in now)]:
        if before.get(name) != now.get(name):
            yield name, before.get(name), now.get(name)
