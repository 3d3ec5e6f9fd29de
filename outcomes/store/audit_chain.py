"""The audit chain: every change is sealed with the one before it, so that altering, adding or removing one is detected.

Every version of every row is sealed: a digest of a random salt and of what was recorded. A change's digest covers the
digest of the change before it, its own who, when and why, and the seals of its rows; so it covers everything before it.
Erasing a version removes the row with its salt and leaves the seal, which then tells nothing and still fits the chain.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import Any

import duckdb

from outcomes.errors import RegisterRefused
from outcomes.protocol import SHEETS
from outcomes.store.schema import has_table
from outcomes.store.sheet_sql import with_row_texts
from outcomes.store.sql import statement
from outcomes.store.tip import Head

SPAN = 100_000
_OF_SPAN = "where record between $low and $high"


@dataclass(frozen=True)
class Source:
    """Where a change comes from: a file and its digest, or a person; and the reason given."""

    file: str = ""
    digest: str = ""
    who: str = ""
    reason: str = ""


@dataclass(frozen=True)
class LongText:
    """A text that is too long to be held at once: how many letters it has, and its pieces in order."""

    letters: int
    pieces: Iterable[str] = field(repr=False)


def digest_of_parts(*parts: str | LongText) -> str:
    """One digest over several texts; no two different lists of texts are joined to the same one."""
    digest = hashlib.sha256()
    for part in parts:
        text = part if isinstance(part, LongText) else LongText(len(part), (part,))
        digest.update(f"{text.letters}:".encode())
        for piece in text.pieces:
            digest.update(piece.encode())
    return digest.hexdigest()


def moment(at: datetime) -> str:
    """A time of the clock as it is sealed and shown."""
    return at.isoformat(sep=" ", timespec="seconds")


def change_seal(salt: str, kind: str, at: datetime, source: Source) -> str:
    """The seal of who, when and why."""
    return digest_of_parts(salt, kind, moment(at), source.who, source.reason, source.file, source.digest)


def seal_rows(con: duckdb.DuckDBPyConnection, change: int, *, span: int = SPAN) -> None:
    """Every version made in this change has its seal afterwards."""
    place = 0
    for sheet in sorted(SHEETS):
        made = f"from {sheet} where change = {change}"
        sql = with_row_texts(con, "chain/seal_rows", sheet, _OF_SPAN)
        for low, high in _spans(con, f"select min(record), max(record) {made}", span):
            given = {"change": change, "low": low, "high": high, "place": place}
            place += con.execute(sql, given).fetchall()[0][0]


def _spans(con: duckdb.DuckDBPyConnection, ends: str, span: int) -> Iterator[tuple[int, int]]:
    """The records of a sheet in spans, so that the texts of no more than those are in memory at once."""
    low, high = con.execute(ends).fetchall()[0]
    if low is not None:
        for start in range(low, high + 1, span):
            yield start, min(start + span - 1, high)


def _first_broken(con: duckdb.DuckDBPyConnection, span: int) -> int | None:
    """The first change with a version whose seal does not fit."""
    broken = con.execute(
        "select change from seals where not list_contains($sheets, sheet)", {"sheets": [*SHEETS]}
    ).fetchall()
    for sheet in SHEETS:
        records = f"(select record from {sheet} union all select record from seals where sheet = '{sheet}')"  # noqa: S608 - our own tables
        sql = with_row_texts(con, "chain/broken_seals", sheet, _OF_SPAN)
        for low, high in _spans(con, f"select min(record), max(record) from {records}", span):  # noqa: S608 - our own tables
            broken += con.execute(sql, {"sheet": sheet, "low": low, "high": high}).fetchall()
    return min((row[0] for row in broken), default=None)


def link(con: duckdb.DuckDBPyConnection, previous: str, change: int, seal: str, *, span: int = SPAN) -> str:
    """The digest of the chain up to this change, whose rows are sealed."""
    return _Covered(con, change, span).link(previous, change, seal)


class _Covered:
    """What the links of the chain cover beside their own texts; the changes are asked of in their order."""

    def __init__(self, con: duckdb.DuckDBPyConnection, only: int | None, span: int) -> None:
        self.con, self.span = con, span
        self.sizes = {row[0]: row[1:] for row in con.execute(statement("chain/seal_sizes"), {"only": only}).fetchall()}
        self.others = {row[0]: row[1:] for row in con.execute(statement("chain/covered"), {"only": only}).fetchall()}
        self.sealed = groupby(self._pieces(), key=itemgetter(0))

    def link(self, previous: str, change: int, seal: str) -> str:
        """The digest of the chain up to this change."""
        sealed: str | LongText = ""
        if change in self.sizes:
            _change, pieces = next(self.sealed, (0, ()))
            sealed = LongText(self.sizes[change][-1], _joined(text for _, text in pieces))
        return digest_of_parts(previous, seal, sealed, *(part or "" for part in self.others.get(change, ("", ""))))

    def _pieces(self) -> Iterator[tuple[int, str]]:
        """The seals of the changes in order, each change in one piece or more."""
        for first, final, low, high in self._runs():
            given = {"first": first, "final": final, "low": low, "high": high}
            yield from self.con.execute(statement("chain/sealed"), given).fetchall()

    def _runs(self) -> Iterator[tuple[int, int, int, int]]:
        """Runs of changes with few seals together; a change with more by itself, by the places of its seals."""
        run, together = list[int](), 0
        for change, (seals, last, _letters) in self.sizes.items():
            if run and together + seals > self.span:
                yield run[0], run[-1], 0, self.span
                run, together = [], 0
            if last > self.span:
                yield from ((change, change, low, low + self.span - 1) for low in range(0, last + 1, self.span))
            else:
                run, together = [*run, change], together + seals
        if run:
            yield run[0], run[-1], 0, self.span


def _joined(pieces: Iterable[str]) -> Iterator[str]:
    for number, piece in enumerate(pieces):
        yield f",{piece}" if number else piece


def first_link(con: duckdb.DuckDBPyConnection) -> Head:
    """The beginning of the chain: which register this is, and the protocol that it was made with."""
    identity, protocol = con.execute("select identity, protocol from register").fetchall()[0]
    return Head(0, digest_of_parts("register", identity, protocol), "new", "before the first change")


def verified_chain(path: Path, con: duckdb.DuckDBPyConnection, *, span: int = SPAN) -> tuple[Head, ...]:
    """The chain, every link computed again; raises RegisterRefused at the first change that does not fit."""
    broken = _first_broken(con, span)
    if broken is not None:
        raise _altered(path, broken)
    _check_protocols(path, con)
    covered = _Covered(con, None, span)
    chain = [first_link(con)]
    for row in con.execute(statement("chain/changes")).fetchall():
        chain.append(_checked_link(path, chain[-1], row, covered))
    return tuple(chain)


def _checked_link(path: Path, before: Head, row: tuple[Any, ...], covered: _Covered) -> Head:
    change, kind, at, who, reason, file, file_digest, salt, seal, chain, redacted_in = row
    computed = change_seal(salt, kind, at, Source(file, file_digest, who, reason))
    if (
        change != before.change + 1
        or (redacted_in is None and computed != seal)
        or covered.link(before.digest, change, seal) != chain
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
