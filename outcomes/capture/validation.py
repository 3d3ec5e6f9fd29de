"""Check all sheets: the rows that may be stored, the problems that refuse them, and the queries."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import polars as pl

from outcomes.capture.cell_columns import Codes, SheetColumns, entries_of, joined, read_columns
from outcomes.capture.cells import RowReader
from outcomes.capture.chronology import check_order
from outcomes.capture.codes import unify_codes
from outcomes.capture.columns import check_columns
from outcomes.capture.conditions import check_conditions
from outcomes.capture.data_queries import find_queries
from outcomes.capture.entry import Entry, RowQuery
from outcomes.capture.held_rows import BlankCell, Overlay, RegisterLookup
from outcomes.capture.raw_sheets import RawSheet, RawSheets
from outcomes.capture.references import check_references
from outcomes.capture.suspects import Suspects, find_suspects, with_every_field
from outcomes.errors import Problem
from outcomes.protocol import KEYS, SHEETS, Protocol, SheetRow

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class CheckedRows:
    """The outcome of checking: rows, queries and blanks are only there when nothing was refused.

    `plain` has the rows of new patients of whom no row is odd in any way, a frame a sheet with the number of each row,
    `single` all others. `notes` says what was assumed: codes matched without regard to case, words read by option,
    encodings. `blanks` are the cells left blank where the register holds a value.
    """

    single: tuple[SheetRow, ...]
    problems: tuple[Problem, ...]
    queries: tuple[RowQuery, ...]
    notes: tuple[str, ...] = ()
    blanks: tuple[BlankCell, ...] = ()
    plain: dict[str, Any] = field(default_factory=dict)

    @property
    def rows(self) -> tuple[SheetRow, ...]:
        """Every row, in the order of the sheets."""
        plain = (entry.row for sheet, frame in self.plain.items() for entry in entries_of(sheet, frame))
        return tuple(sorted((*self.single, *plain), key=lambda row: (SHEETS.index(row.sheet), row.number)))


def check_sheets(
    raw: RawSheets,
    protocol: Protocol,
    *,
    as_of: date,
    held: RegisterLookup,
    progress: Progress | None = None,
) -> CheckedRows:
    """Check every cell, and every row and date as they will stand in the register; raises nothing.

    All problems of all sheets are in one list, in the order of the sheets and their rows. `progress` is told how many
    rows of how many have been read.
    """
    check = _Check(protocol, as_of, raw.row_count, progress)
    for sheet in raw.sheets:
        check.read(sheet)
    theirs = held.among({name: codes.keys() for name, codes in check.codes.first.items()})
    check.codes.add_held(theirs, protocol)
    suspects = find_suspects(check.frames, check.alone, theirs.values, check.codes, protocol)
    read, code_notes = unify_codes(check.entries(suspects), theirs, protocol)
    overlay = Overlay(read, theirs)
    entries = overlay.entries(check.unread(raw))
    problems = [*raw.problems, *check.problems, *overlay.problems]
    problems += [*check_conditions(entries, protocol), *check_references(entries), *check_order(entries, protocol)]
    notes = (*(f"{sheet.name}: {note}" for sheet in raw.sheets for note in sheet.form.notes), *code_notes)
    if problems:
        return CheckedRows((), _in_order(map(check.addressed, problems), protocol), (), notes)
    queries = sorted(
        find_queries(entries, protocol), key=lambda each: (SHEETS.index(each.sheet), each.row, each.query_id)
    )
    rows = tuple(entry.row for sheet in SHEETS for entry in entries.read(sheet))
    return CheckedRows(rows, (), tuple(queries), notes, tuple(overlay.blanks), check.plain(suspects))


class _Check:
    """Gathers the rows and the problems of the sheets as they are read."""

    def __init__(self, protocol: Protocol, as_of: date, total: int, progress: Progress | None) -> None:
        self.protocol, self.as_of, self.total, self.progress = protocol, as_of, total, progress
        self.codes = Codes()
        self.frames = {sheet: with_every_field(joined([]), sheet, protocol) for sheet in SHEETS}
        self.alone: list[Entry] = []
        self.problems: list[Problem] = []
        self.refused_fields: dict[str, frozenset[str]] = {}
        self.columns: dict[tuple[str, str], int] = {}
        self.given: dict[str, frozenset[str]] = {}
        self.done = 0

    def read(self, sheet: RawSheet) -> None:
        columns = check_columns(sheet, self.protocol)
        self.problems.extend(columns.problems)
        self.columns.update({(sheet.name, field.id): place + 1 for place, field in columns.fields.items()})
        missing = {field.id for field in self.protocol.sheet(sheet.name) if not columns.holds(field.id)}
        refused_fields = frozenset(missing if columns.problems else ())
        self.refused_fields[sheet.name] = refused_fields
        reader = RowReader(sheet.name, columns, self.as_of, sheet.form, self.protocol.synonyms, refused_fields)
        blocks = [self._kept(block) for block in read_columns(reader, sheet.rows, self.codes) if columns.fields]
        self.given[sheet.name] = frozenset(field.id for field in columns.fields.values())
        self.frames[sheet.name] = with_every_field(joined(blocks), sheet.name, self.protocol)

    def _kept(self, block: SheetColumns) -> pl.DataFrame:
        self.alone.extend(block.alone)
        self.problems.extend(block.problems)
        self.done += block.frame.height + len(block.alone)
        if self.progress is not None:
            self.progress(self.done, self.total)
        return block.frame

    def entries(self, suspects: Suspects) -> list[Entry]:
        """The rows that are checked one by one, in the order in which they were read."""
        none = frozenset[str]()
        found = [
            replace(
                entry,
                refused_fields=self.refused_fields.get(sheet, none),
                blanks=self.given.get(sheet, none) - entry.values.keys(),
            )
            for sheet, frame in self.frames.items()
            for entry in entries_of(sheet, frame.filter(suspects.own(sheet)))
        ]
        return sorted((*self.alone, *found), key=lambda entry: (SHEETS.index(entry.sheet), entry.number))

    def plain(self, suspects: Suspects) -> dict[str, pl.DataFrame]:
        """The rows that need no further look; the others are given up, so that no sheet is in memory twice."""
        return {sheet: self.frames.pop(sheet).filter(~suspects.own(sheet)) for sheet in SHEETS}

    def addressed(self, problem: Problem) -> Problem:
        """The problem with the column of its field."""
        column = problem.column or self.columns.get((problem.sheet, problem.field), 0)
        return replace(problem, column=column) if problem.row else problem

    def unread(self, raw: RawSheets) -> frozenset[str]:
        """The sheets that were given, but whose rows cannot be known."""
        given = {sheet.name for sheet in raw.sheets}
        without_key = {sheet for sheet, refused in self.refused_fields.items() if KEYS[sheet][0] in refused}
        return frozenset(without_key | {problem.sheet for problem in raw.problems if problem.sheet not in given})


def _in_order(problems: Iterable[Problem], protocol: Protocol) -> tuple[Problem, ...]:
    sheets = {sheet: place for place, sheet in enumerate(SHEETS)}
    columns = {(field.sheet, field.id): place for place, field in enumerate(protocol.fields)}

    def place(problem: Problem) -> tuple[int, str, int, int, str]:
        column = columns.get((problem.sheet, problem.field), len(columns))
        return sheets.get(problem.sheet, -1), problem.sheet, problem.row, column, problem.what

    return tuple(sorted(dict.fromkeys(problems), key=place))
