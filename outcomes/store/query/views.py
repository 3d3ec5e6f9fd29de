"""The documented views that an SQL question can read, and the meaning of their columns.

The documented views of `queries/views`: made anew for each asking, in memory, from the register as it stands. Nothing else
of the register is there: no history, no change, no withdrawn patient.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import duckdb

from outcomes.protocol import Protocol
from outcomes.store.register import Register
from outcomes.store.sql import statement

# In the order in which they are made: a later one may read an earlier one.
VIEWS = ("measures", "windows", "cases", "reviews", "measured", "window_values", "events", "follow_up")
_ROWS = ("patients", "reconstructions", "reviews", "observations", "events")
_READ = re.compile(r"\b(?:from|join)\s+(\w+)\b(?!\.)")
_TABLES = {
    "covers": "cover varchar, cohort varchar",
    "ends": "kind varchar",
    "windows": '"window" varchar, label varchar, nominal_days integer, first_day integer, last_day integer',
    "measures": "measure varchar, label varchar, unit varchar, main boolean, entered varchar, operated varchar, "
    "fellow varchar, poor_at_least double, poor_at_most double, poor_from varchar",
}


@dataclass(frozen=True)
class View:
    """One documented view: its name, what one of its rows is, and its columns."""

    name: str
    grain: str
    columns: str


def views() -> tuple[View, ...]:
    """Every view that a question can read."""
    return tuple(_view(name) for name in VIEWS)


def _view(name: str) -> View:
    lines = [line for line in statement(f"views/{name}").splitlines() if line.startswith("-- ")]
    comment = " ".join(line.removeprefix("-- ") for line in lines)
    grain, _, described = comment.removeprefix("Grain: ").partition(" Columns: ")
    return View(name, grain, described)


class _Stream:
    """Rows as an Arrow stream and nothing else, so that the database asks for no further library to read them."""

    def __init__(self, rows: Any) -> None:  # noqa: ANN401 - anything that gives such a stream
        self._rows = rows

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        """Hand over the rows."""
        return self._rows.__arrow_c_stream__(requested_schema)


def needed_views(names: Iterable[str]) -> tuple[str, ...]:
    """The views of these names, and those that they are made from, in the order in which they are made.

    >>> needed_views(["follow_up"])
    ('cases', 'follow_up')
    """
    needed = set(names)
    for name in reversed(VIEWS):  # a view reads earlier ones only
        if name in needed:
            needed |= set(_READ.findall(statement(f"views/{name}"))) & set(VIEWS)
    return tuple(name for name in VIEWS if name in needed)


def make_views(con: duckdb.DuckDBPyConnection, register: Register, names: Iterable[str] = VIEWS) -> None:
    """The connection, to an empty database in memory, holds these documented views of the register, and nothing else."""
    con.execute("create schema raw")
    needed = needed_views(names)
    read = "".join(statement(f"views/{name}") for name in needed)
    for grain in (each for each in _ROWS if f"raw.{each}" in read):
        con.register("given", _Stream(register.extract(grain)))
        con.execute(f"create table raw.{grain} as from given")
        con.unregister("given")
    _add_protocol(con, register.protocol)
    observed = observed_columns(register.protocol)
    for name in needed:
        con.execute(f"create table {name} as {statement(f'views/{name}').replace('{observed}', observed)}")
    con.execute("drop schema raw cascade")


def _add_protocol(con: duckdb.DuckDBPyConnection, protocol: Protocol) -> None:
    for table, rows in _protocol_rows(protocol).items():
        con.execute(f"create table raw.{table} ({_TABLES[table]})")
        marks = ", ".join("?" * len(rows[0]))
        con.executemany(f"insert into raw.{table} values ({marks})", rows)  # noqa: S608 - our own tables


def _protocol_rows(protocol: Protocol) -> dict[str, list[tuple[Any, ...]]]:
    return {
        "covers": [(cover.id, cover.cohort) for cover in protocol.covers],
        "ends": [(kind,) for kind in protocol.ends_follow_up],
        "windows": [(each.id, each.label, each.nominal_days, *each.days) for each in protocol.windows],
        "measures": [
            (
                each.id,
                each.label,
                protocol.value_field(each).unit,
                each.main,
                each.field,
                each.operated,
                each.fellow,
                each.poor.at_least if each.poor else None,
                each.poor.at_most if each.poor else None,
                each.poor_from or None,
            )
            for each in protocol.measures
        ],
    }


def observed_columns(protocol: Protocol) -> str:
    """The columns of the view `reviews` that hold what was measured, in SQL that other engines read too."""
    names = ((_quoted(field.id), field.id.replace('"', '""')) for field in protocol.observed)
    return ", ".join(f'max(value) filter (where field = {text}) as "{name}"' for text, name in names)


def _quoted(name: str) -> str:
    return "'" + name.replace("'", "''") + "'"
