"""The documented views that an SQL question can read, and the meaning of their columns.

The documented views of `queries/views`: made anew for each asking from the register as it stands. They hold no history, no
change and no withdrawn patient.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import duckdb

from outcomes.protocol import Protocol
from outcomes.store.register import Register
from outcomes.store.schema import columns
from outcomes.store.sql import statement

# In the order in which they are made: a later one may read an earlier one.
VIEWS = ("measures", "windows", "cases", "reviews", "measured", "window_values", "events", "follow_up")
_MANY = {"reviews", "measured", "window_values"}
_WHERE_THEY_LIE = {"reviews", "observations"}
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


def make_views(register: Register, names: Iterable[str] = VIEWS) -> None:
    """The register's connection is at an empty database in memory that has these documented views of it, and no other.

    Patients, lids and events are copied, in order; reviews and their values, which are many, are read where they lie.
    """
    con = register.con
    con.execute("attach ':memory:' as question")
    con.execute("create schema question.raw")
    needed = needed_views(names)
    read = "".join(statement(f"views/{name}") for name in needed)
    rows = [each for each in _ROWS if f"raw.{each}" in read]
    for grain in (each for each in rows if each not in _WHERE_THEY_LIE):
        con.execute(f"create table question.raw.{grain} as {register.extract_sql(grain)}")
    if _WHERE_THEY_LIE & set(rows):
        _add_reviews(con)
    con.execute("use question")
    _add_protocol(con, register.protocol)
    observed = observed_columns(register.protocol)
    for name in needed:
        sql = statement(f"views/{name}").replace("{observed}", observed)
        kept, sql = ("view", sql.rpartition(" order by ")[0]) if name in _MANY else ("table", sql)
        con.execute(f"create {kept} {name} as {sql}")


def _add_reviews(con: duckdb.DuckDBPyConnection) -> None:
    """The reviews as they stand and their values can be read: all versions but those that are named as past."""
    name, named = con.execute("select current_database()").fetchall()[0][0], ", ".join(columns(con, "reviews"))
    con.execute(
        "create table question.raw.past as select record, change from reviews anti join current_reviews using (record, change)"
    )
    for grain, its in (("reviews", named), ("observations", "field, value")):
        kept = f'"{name}".main.{grain} anti join question.raw.past using (record, change)'
        con.execute(f"create view question.raw.{grain} as select record as review_id, {its} from {kept}")  # noqa: S608 - our own tables


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
