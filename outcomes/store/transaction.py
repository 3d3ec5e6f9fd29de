"""Make one change in one transaction: written, sealed, checked and noted, or not at all."""

from __future__ import annotations

import contextlib
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import duckdb

from outcomes import __version__
from outcomes.errors import RegisterRefused
from outcomes.protocol import Protocol
from outcomes.store.audit_chain import Source, change_seal, link, moment, seal_rows
from outcomes.store.codec import Values, kept
from outcomes.store.connection import PATIENT, Patience, open_to_write
from outcomes.store.create import verified
from outcomes.store.integrity import faults_in
from outcomes.store.register import kept_protocol
from outcomes.store.schema import FLAGS, all_columns
from outcomes.store.tip import Head, HeadNote, note_head


@dataclass
class Draft:
    """One change in the making: its number, and the rows that are written when it ends."""

    con: duckdb.DuckDBPyConnection
    protocol: Protocol
    number: int
    rows: dict[str, list[tuple[Any, ...]]] = field(default_factory=dict)
    without_rows: bool = False
    written: int = 0
    _next: dict[str, int] = field(default_factory=dict)
    _columns: dict[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def is_empty(self) -> bool:
        """Whether the change holds nothing."""
        return not (self.rows or self.written)

    def new_record(self, sheet: str) -> int:
        """The number of a row that the register has not held before."""
        number = self._next.get(sheet) or self.next_record(sheet)
        self._next[sheet] = number + 1
        return number

    def next_record(self, sheet: str) -> int:
        """The first number after those of the rows that are written."""
        return int(self.con.execute(f"select coalesce(max(record), 0) + 1 from {sheet}").fetchall()[0][0])  # noqa: S608

    def count_written(self, rows: int) -> None:
        """Note that rows of this change were written in bulk."""
        self.written += rows

    def add_version(self, sheet: str, record: int, values: Values, flag: str = "") -> None:
        """Keep these values as the newest version of the record, marked "withdrawn" or "removed" if so."""
        if sheet not in self._columns:
            self._columns[sheet] = tuple(all_columns(self.con, sheet))
        fields = {each.id: each for each in self.protocol.sheet(sheet)}
        cells = {name: kept(fields[name], value) for name, value in values.items()}
        cells |= {"record": record, "change": self.number, "salt": secrets.token_hex(16)}
        cells |= {each: each == flag for each in FLAGS}
        self._add(sheet, tuple(cells.get(name) for name in self._columns[sheet]))
        for name, value in values.items():
            if fields[name].observed:
                self._add("observations", (record, self.number, name, kept(fields[name], value)))

    def add_query(self, sheet: str, record: int, query_id: str, says: str) -> None:
        """Keep a query on the version of the record that this change makes."""
        self._add("queries", (sheet, record, self.number, query_id, says))

    def add_overruled(self, sheet: str, record: int, name: str, said: str | None) -> None:
        """Keep what the last file said about a value that is amended in this version."""
        self._add("overruled", (sheet, record, self.number, name, said))

    def add_protocol(self, protocol: Protocol) -> None:
        """Keep the protocol that holds from this change on."""
        self._add("protocols", (self.number, protocol.text, protocol.fingerprint, __version__))

    def _add(self, table: str, row: tuple[Any, ...]) -> None:
        self.rows.setdefault(table, []).append(row)

    def write(self) -> None:
        """Write the rows into the open transaction."""
        for table, rows in self.rows.items():
            appender = self.con.appender(table)
            appender.append_rows(rows)
            appender.flush()


@contextmanager
def changing(
    path: Path,
    kind: str,
    source: Source,
    at: datetime,
    patience: Patience = PATIENT,
) -> Iterator[Draft]:
    """One change: written, sealed, checked and noted when the block ends.

    A block that adds no row changes nothing, unless it says that the change stands without rows.

    After any failure, in the block or afterwards, the register is as it was.
    """
    with verified(open_to_write, path, patience) as (con, chain):
        draft = Draft(con, kept_protocol(con), chain[-1].change + 1)
        con.begin()
        try:
            yield draft
            if draft.is_empty and not draft.without_rows:
                con.rollback()
                return
            draft.write()
            newest = seal_change(con, chain[-1], kind, source, at)
            refuse_faults(path, con)
            note_head(path, HeadNote(chain[-1], newest))
            con.commit()
        except BaseException:
            with contextlib.suppress(duckdb.Error):
                con.rollback()
            raise
        # The change is made: what fails from here on only leaves the head half-way, or the log for the next opening.
        with contextlib.suppress(RegisterRefused, duckdb.Error):
            note_head(path, HeadNote(newest))
            con.execute("checkpoint")


def seal_change(con: duckdb.DuckDBPyConnection, before: Head, kind: str, source: Source, at: datetime) -> Head:
    """The change and its seals are in the open transaction, as the next link of the chain."""
    at = at.replace(tzinfo=None, microsecond=0)
    number, salt = before.change + 1, secrets.token_hex(16)
    seal = change_seal(salt, kind, at, source)
    seal_rows(con, number)
    chain = link(con, before.digest, number, seal)
    con.execute(
        "insert into changes values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, null)",
        [number, kind, at, source.who, source.reason, source.file, source.digest, salt, seal, chain],
    )
    return Head(number, chain, kind, moment(at))


def refuse_faults(path: Path, con: duckdb.DuckDBPyConnection) -> None:
    """Raise RegisterRefused when the rows, as they would stand, do not fit each other."""
    faults = faults_in(con)
    if faults:
        raise RegisterRefused(f"the change does not fit what {path.name} holds; nothing was changed", faults)
