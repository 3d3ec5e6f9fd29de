"""The register's tables, made by numbered migrations, and the check that a protocol fits them.

Numbered migrations are applied in order, each all or nothing, and the register keeps the number of the last one. Limits
and words stand in the protocol, not here; a table only knows text, date and number.
"""

from __future__ import annotations

import re
import secrets
from pathlib import Path

import duckdb

from outcomes import __version__
from outcomes.errors import DataRefused, Problem, RegisterRefused
from outcomes.protocol import SHEETS, Protocol
from outcomes.store.sql import statement, statements_in

FLAGS = ("withdrawn", "removed")
BOOKKEEPING = ("record", "change", "salt", *FLAGS)
_TYPES = {"number": "DOUBLE", "acuity": "DOUBLE", "grade": "DOUBLE", "year": "DOUBLE", "date": "DATE"}


def newest_schema() -> int:
    """The number of the last migration that this program knows."""
    return _number(statements_in("schema")[-1])


def _number(name: str) -> int:
    match = re.match(r"schema/(\d+)_", name)
    if match is None:
        raise ValueError(name)
    return int(match.group(1))


def schema_version(path: Path, con: duckdb.DuckDBPyConnection) -> int:
    """The number of the last migration applied; raises RegisterRefused when the file is no register, or a newer one."""
    if not has_table(con, "schema_versions"):
        raise RegisterRefused(
            f"{path} is a database, but not a register of this program; give the path of a register file"
        )
    version = int(con.execute("select coalesce(max(number), 0) from schema_versions").fetchall()[0][0])
    if version > newest_schema():
        raise RegisterRefused(
            f"{path} was made by a newer version of this program (its tables are number {version}, this program knows "
            f"{newest_schema()}); update the program",
        )
    return version


def has_table(con: duckdb.DuckDBPyConnection, name: str) -> bool:
    """Tell whether the database has the table: one of an earlier version of the program may lack it."""
    return bool(all_columns(con, name))


def apply_migrations(con: duckdb.DuckDBPyConnection, after: int) -> None:
    """All migrations after that number are applied and noted, or none of them."""
    con.begin()
    try:
        for name in statements_in("schema"):
            if _number(name) > after:
                con.execute(statement(name))
                con.execute(
                    "insert into schema_versions values (?, ?, ?)", [_number(name), name.split("_", 1)[1], __version__]
                )
    except duckdb.Error:
        con.rollback()
        raise
    con.commit()


def columns(con: duckdb.DuckDBPyConnection, sheet: str) -> dict[str, str]:
    """The columns of a sheet's table that hold recorded values, with their types, in order."""
    return {name: kind for name, kind in all_columns(con, sheet).items() if name not in BOOKKEEPING}


def all_columns(con: duckdb.DuckDBPyConnection, table: str) -> dict[str, str]:
    """Every column of a table with its type, in order."""
    rows = con.execute(
        "select column_name, data_type from duckdb_columns() "
        "where database_name = current_database() and table_name = ? order by column_index",
        [table],
    ).fetchall()
    return dict(rows)


def protocol_problems(con: duckdb.DuckDBPyConnection, protocol: Protocol) -> list[Problem]:
    """Every field of the protocol for which the register has no column of its kind."""
    problems = []
    for sheet in SHEETS:
        held = columns(con, sheet)
        for field in protocol.sheet(sheet):
            wanted = _TYPES.get(field.kind, "VARCHAR")
            if not field.observed and field.id not in held:
                problems.append(Problem(sheet, 0, field.id, _no_column(sheet)))
            elif not field.observed and held[field.id] != wanted:
                what = f"is kept as {_WORDS[held[field.id]]}; it cannot be of the kind {field.kind}"
                problems.append(Problem(sheet, 0, field.id, what))
    return problems


_WORDS = {"VARCHAR": "text", "DOUBLE": "a number", "DATE": "a date"}


def _no_column(sheet: str) -> str:
    remedy = "give the field observed = true" if sheet == "reviews" else "leave it out"
    return f"has no column in the register: a new column needs a new version of the program; {remedy}"


def fill_new(con: duckdb.DuckDBPyConnection, protocol: Protocol) -> None:
    """An empty database has all tables and the protocol afterwards."""
    apply_migrations(con, after=0)
    problems = protocol_problems(con, protocol)
    if problems:
        raise DataRefused("the protocol does not fit the register; nothing was made", problems)
    row = [secrets.token_hex(16), protocol.text, protocol.fingerprint, __version__]
    con.execute("insert into register values (?, ?, ?, ?)", row)
