"""Read the rows of some patients only: of those who have one of some codes, or a case with one, as sheets write them."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field

import duckdb

from outcomes.protocol import KEYS, SHEETS, Key, Protocol, Value, folded_code
from outcomes.store.current_rows import ask_for, current_rows_of_codes
from outcomes.store.sheet_sql import of_codes_sql

_OWNERS = {"patient_id": "patients", "case_id": "reconstructions"}
_SAID = "select distinct said from overruled where field = ? and said is not null"
# From the rows that a code names to all of their patients: the case of a review that was moved, its patient, the other lid.
_STEPS = (
    ("case_id", "reviews"),
    ("case_id", "events"),
    ("patient_id", "reconstructions"),
    ("case_id", "reconstructions"),
)


@dataclass(frozen=True)
class RowsAmong:
    """The rows of these patients by sheet and key, what the last sheet said of amended values, and all other codes by field."""

    values: dict[str, dict[Key, dict[str, Value]]] = field(default_factory=dict)
    amended: dict[str, dict[Key, dict[str, str | None]]] = field(default_factory=dict)
    spellings: dict[str, frozenset[str]] = field(default_factory=dict)


def rows_among(con: duckdb.DuckDBPyConnection, protocol: Protocol, codes: Mapping[str, Collection[str]]) -> RowsAmong:
    """The rows as they stand of every patient who has one of the codes, which are folded, or a case with one."""
    ask_for(con, {code for name in _OWNERS for code in _spelled(con, name) if folded_code(code) in codes.get(name, ())})
    for name, sheet in _STEPS:
        con.execute(f"insert into asked_codes select distinct {name} from ({of_codes_sql(sheet, 'current')})")  # noqa: S608
    rows = {sheet: current_rows_of_codes(con, protocol, sheet) for sheet in SHEETS}
    con.execute("drop table asked_codes")
    return RowsAmong(
        {sheet: {row.key: row.values for row in theirs} for sheet, theirs in rows.items()},
        {sheet: {row.key: row.amended for row in theirs if row.amended} for sheet, theirs in rows.items()},
        _others(con, protocol),
    )


def _spelled(con: duckdb.DuckDBPyConnection, name: str) -> Iterator[str]:
    """The codes of patients or of cases: those that stand, and those that sheets said before they were amended."""
    held = con.execute(f"select distinct {name} from current_{_OWNERS[name]}").fetchall()  # noqa: S608 - our own tables
    yield from (code for (code,) in (*held, *con.execute(_SAID, [name]).fetchall()))


def _others(con: duckdb.DuckDBPyConnection, protocol: Protocol) -> dict[str, frozenset[str]]:
    """Every code of a surgeon, an assessor or a site that is held, as a sheet may write it otherwise."""
    found: dict[str, set[str]] = {}
    for sheet in SHEETS:
        for each in protocol.sheet(sheet):
            if each.kind == "code" and each.id not in {*_OWNERS, *KEYS[sheet][:1]}:
                sql = f"select distinct {each.id} from current_{sheet} where {each.id} is not null"  # noqa: S608 - our own tables
                rows = con.execute(sql).fetchall()
                found.setdefault(each.id, set()).update(code for (code,) in rows)
    return {name: frozenset(codes) for name, codes in found.items()}
