"""The audit chain: every change is sealed with the one before it, so that altering, adding or removing one is detected.

Every version of every row is sealed: a digest of a random salt and of what was recorded. A change's digest covers the
digest of the change before it, its own who, when and why, and the seals of its rows; so it covers everything before it.
Erasing a version removes the row with its salt and leaves the seal, which then tells nothing and still fits the chain.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import duckdb

from outcomes.errors import RegisterRefused
from outcomes.protocol import SHEETS
from outcomes.store.schema import has_table
from outcomes.store.sheet_sql import with_texts_of_span
from outcomes.store.sql import statement
from outcomes.store.tip import Head

SPAN = 100_000


@dataclass(frozen=True)
class Source:
    """Where a change comes from: a file and its digest, or a person; and the reason given."""

    file: str = ""
    digest: str = ""
    who: str = ""
    reason: str = ""


def digest_of_parts(*parts: str) -> str:
    """One digest over several texts; no two different lists of texts are joined to the same one."""
    joined = "".join(f"{len(part)}:{part}" for part in parts)
    return hashlib.sha256(joined.encode()).hexdigest()


def moment(at: datetime) -> str:
    """A time of the clock as it is sealed and shown."""
    return at.isoformat(sep=" ", timespec="seconds")


def change_seal(salt: str, kind: str, at: datetime, source: Source) -> str:
    """The seal of who, when and why."""
    return digest_of_parts(salt, kind, moment(at), source.who, source.reason, source.file, source.digest)


def seal_rows(con: duckdb.DuckDBPyConnection, change: int) -> None:
    """Every version made in this change has its seal afterwards."""
    place = 0
    for sheet in sorted(SHEETS):
        made = f"from {sheet} where change = {change}"
        sql = with_texts_of_span(con, "chain/seal_rows", sheet)
        for low, high in _spans(con, f"select min(record), max(record) {made}"):
            given = {"change": change, "low": low, "high": high, "place": place}
            place += con.execute(sql, given).fetchall()[0][0]


def _spans(con: duckdb.DuckDBPyConnection, ends: str) -> Iterator[tuple[int, int]]:
    """The records of a sheet in spans, so that the texts of no more than those are in memory at once."""
    low, high = con.execute(ends).fetchall()[0]
    if low is not None:
        for start in range(low, high + 1, SPAN):
            yield start, min(start + SPAN - 1, high)


def _first_broken(con: duckdb.DuckDBPyConnection) -> int | None:
    """The first change with a version whose seal does not fit."""
    broken = con.execute(
        "select change from seals where not list_contains($sheets, sheet)", {"sheets": [*SHEETS]}
    ).fetchall()
    for sheet in SHEETS:
        records = f"(select record from {sheet} union all select record from seals where sheet = '{sheet}')"  # noqa: S608 - our own tables
        sql = with_texts_of_span(con, "chain/broken_seals", sheet)
        for low, high in _spans(con, f"select min(record), max(record) from {records}"):  # noqa: S608 - our own tables
            broken += con.execute(sql, {"sheet": sheet, "low": low, "high": high}).fetchall()
    return min((row[0] for row in broken), default=None)


def link(con: duckdb.DuckDBPyConnection, previous: str, change: int, seal: str) -> str:
    """The digest of the chain up to this change, whose rows are sealed."""
    rows = con.execute(statement("chain/covered"), {"only": change}).fetchall()
    return _linked(previous, seal, rows[0] if rows else ("", "", ""))


def _linked(previous: str, seal: str, covered: tuple[Any, ...]) -> str:
    return digest_of_parts(previous, seal, *(str(part or "") for part in covered[-3:]))


def first_link(con: duckdb.DuckDBPyConnection) -> Head:
    """The beginning of the chain: which register this is, and the protocol that it was made with."""
    identity, protocol = con.execute("select identity, protocol from register").fetchall()[0]
    return Head(0, digest_of_parts("register", identity, protocol), "new", "before the first change")


def verified_chain(path: Path, con: duckdb.DuckDBPyConnection) -> tuple[Head, ...]:
    """The chain, every link computed again; raises RegisterRefused at the first change that does not fit."""
    broken = _first_broken(con)
    if broken is not None:
        raise _altered(path, broken)
    _check_protocols(path, con)
    covered = {row[0]: row for row in con.execute(statement("chain/covered"), {"only": None}).fetchall()}
    chain = [first_link(con)]
    for row in con.execute(statement("chain/changes")).fetchall():
        head = _checked_link(path, chain[-1], row, covered.get(row[0], ("", "", "")))
        chain.append(head)
    return tuple(chain)


def _checked_link(path: Path, before: Head, row: tuple[Any, ...], covered: tuple[Any, ...]) -> Head:
    change, kind, at, who, reason, file, file_digest, salt, seal, chain, redacted_in = row
    computed = change_seal(salt, kind, at, Source(file, file_digest, who, reason))
    if (
        change != before.change + 1
        or (redacted_in is None and computed != seal)
        or _linked(before.digest, seal, covered) != chain
    ):
        raise _altered(path, change)
    return Head(change, chain, kind, moment(at))


def _check_protocols(path: Path, con: duckdb.DuckDBPyConnection) -> None:
    """Raise RegisterRefused unless every change of the protocol has its text, and no text is there without its change."""
    texts = (
        dict(con.execute("select change, protocol from protocols").fetchall()) if has_table(con, "protocols") else {}
    )
    sealed = dict(con.execute("select change, file_digest from changes where kind = 'protocol'").fetchall())
    for change in sorted({*texts, *sealed}):
        if hashlib.sha256(texts.get(change, "").encode()).hexdigest() != sealed.get(change):
            raise _altered(path, change)


def _altered(path: Path, change: int) -> RegisterRefused:
    return RegisterRefused(
        f"{path} was altered outside this program: change {change} is not what was recorded",
        ("restore the last backup with `outcomes restore`",),
    )
