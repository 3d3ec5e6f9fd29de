"""Read a register or a freeze through one interface: current rows, digest, history.

The same interface reads the live register and a freeze: a freeze has no history.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import duckdb

from outcomes.errors import RegisterRefused
from outcomes.protocol import SHEETS, Key, Protocol, Value, folded_code, protocol_from_text
from outcomes.store.connection import PATIENT, Patience, open_to_read
from outcomes.store.content import content_digest
from outcomes.store.create import Opener, verified
from outcomes.store.current_rows import CurrentRow, current_rows
from outcomes.store.history import ValueVersion, read_history
from outcomes.store.rows_among import RowsAmong, rows_among
from outcomes.store.schema import has_table
from outcomes.store.sheet_sql import extract_sql

_FIRST_PROTOCOL = "select protocol from register"
_EVERY_CODE = "select case_id from reconstructions union select patient_id from patients"
_PROTOCOL = """
    with kept as (select 0 as change, protocol from register union all select change, protocol from protocols)
    select protocol from kept order by change desc limit 1
"""
GRAINS = (*SHEETS, "observations", "queries", "withdrawn")
SPAN = 2_000_000
"""How many reviews are read at a time."""
RowsByKey = dict[str, dict[Key, dict[str, Value]]]


@dataclass(frozen=True)
class Erasure:
    """That something was erased: when and why; not what."""

    on: str
    reason: str


@dataclass(frozen=True)
class Register:
    """A register or a freeze (whose name is `frozen`), open for reading inside the with-block that gave it."""

    con: duckdb.DuckDBPyConnection = field(repr=False)
    protocol: Protocol
    frozen: str = ""
    erasures: tuple[Erasure, ...] = ()

    @cached_property
    def digest(self) -> str:
        """64 hexadecimal digits over the rows as they stand and the protocol, whatever their order and their past."""
        return content_digest(self.con, self.protocol)

    @cached_property
    def cases(self) -> int:
        """How many reconstructions there are."""
        return int(self.con.execute("select count(*) from current_reconstructions").fetchall()[0][0])

    def extract(self, grain: str, span: tuple[int, int] | None = None) -> duckdb.DuckDBPyRelation:
        """The rows of one grain as they stand, as an object that hands them over as an Arrow stream.

        Of reviews and observations, which are in no order, those of the reviews with numbers in the span, if one is given.
        """
        rows = self.con.sql(self.extract_sql(grain))
        return rows.filter(f"review_id between {span[0]} and {span[1]}") if span else rows

    def review_spans(self, *, size: int = SPAN) -> Iterator[tuple[int, int]]:
        """The numbers of all reviews in spans, so that a reader holds the rows of one span at a time."""
        low, high = self.con.execute("select min(record), max(record) from reviews").fetchall()[0]
        if low is not None:
            yield from ((first, min(first + size - 1, high)) for first in range(low, high + 1, size))

    def extract_sql(self, grain: str) -> str:
        """The SQL that reads the rows of one grain."""
        if grain not in GRAINS:
            raise ValueError(f"{grain} is not one of " + ", ".join(GRAINS))
        return extract_sql(self.con, grain)

    def held(self) -> RowsByKey:
        """The rows as they stand, by sheet and by key, with what was recorded in each."""
        return {sheet: {row.key: row.values for row in rows} for sheet, rows in self._rows.items()}

    def amended(self) -> dict[str, dict[Key, dict[str, str | None]]]:
        """By sheet and key, what the last sheet said of each value that was amended in the register since."""
        return {sheet: {row.key: row.amended for row in rows if row.amended} for sheet, rows in self._rows.items()}

    def among(self, codes: Mapping[str, Collection[str]]) -> RowsAmong:
        """The rows as they stand of every patient who has one of the codes, by field and folded, or a case with one."""
        return rows_among(self.con, self.protocol, codes)

    def history(self, case_id: str) -> tuple[ValueVersion, ...]:
        """Every version of every value of a case and its patient, oldest first; RegisterRefused for no such case."""
        if self.frozen:
            raise RegisterRefused(f"the freeze {self.frozen} holds rows without their history; ask the register itself")
        return read_history(self.con, self.protocol, case_id)

    @cached_property
    def _rows(self) -> dict[str, list[CurrentRow]]:
        return {sheet: current_rows(self.con, self.protocol, sheet) for sheet in SHEETS}


@contextmanager
def reading(path: Path, patience: Patience = PATIENT, *, open_it: Opener = open_to_read) -> Iterator[Register]:
    """The register, verified and open for reading; an older one is first brought up to date, beside a copy of it.

    Raises RegisterRefused when it is absent, busy, damaged, newer than the program, or has lost changes.
    """
    with verified(open_it, path, patience) as (con, _chain):
        yield Register(con, kept_protocol(con), erasures=erasures(con))


def code_as_held(path: Path, typed: str, patience: Patience = PATIENT) -> str:
    """The code of a case or a patient as the register writes it, whatever its case, width and spacing; else as typed."""
    with verified(open_to_read, path, patience) as (con, _chain):
        held = {str(code) for (code,) in con.execute(_EVERY_CODE).fetchall()}
    alike = [code for code in held if folded_code(code) == folded_code(typed)]
    return alike[0] if len(alike) == 1 else typed


def kept_protocol(con: duckdb.DuckDBPyConnection) -> Protocol:
    """The protocol that the register has now: the one it was made with, or the last that took its place."""
    return protocol_from_text(
        con.execute(_PROTOCOL if has_table(con, "protocols") else _FIRST_PROTOCOL).fetchall()[0][0]
    )


def erasures(con: duckdb.DuckDBPyConnection) -> tuple[Erasure, ...]:
    """When and why something was erased."""
    rows = con.execute("select made_at, reason from changes where kind = 'erase' order by change").fetchall()
    return tuple(Erasure(at.date().isoformat(), reason) for at, reason in rows)
