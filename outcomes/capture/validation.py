"""Check all sheets: the rows that may be stored, the problems that refuse them, and the queries."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date

from outcomes.capture.cells import RowReader
from outcomes.capture.chronology import check_order
from outcomes.capture.codes import unify_codes
from outcomes.capture.columns import check_columns
from outcomes.capture.conditions import check_conditions
from outcomes.capture.data_queries import find_queries
from outcomes.capture.entry import Entry, RowQuery
from outcomes.capture.held_rows import BlankCell, HeldRows, Overlay
from outcomes.capture.raw_sheets import RawSheet, RawSheets
from outcomes.capture.references import check_references
from outcomes.errors import Problem
from outcomes.protocol import KEYS, SHEETS, Protocol, SheetRow

Progress = Callable[[int, int], None]
_STEP = 250


@dataclass(frozen=True)
class CheckedRows:
    """The outcome of checking: rows, queries and blanks are only there when nothing was refused.

    `notes` says what was assumed: codes matched without regard to case, words read by option, encodings. `blanks` are
    the cells left blank where the register holds a value.
    """

    rows: tuple[SheetRow, ...]
    problems: tuple[Problem, ...]
    queries: tuple[RowQuery, ...]
    notes: tuple[str, ...] = ()
    blanks: tuple[BlankCell, ...] = ()


def check_sheets(
    raw: RawSheets,
    protocol: Protocol,
    *,
    as_of: date,
    held: HeldRows,
    progress: Progress | None = None,
) -> CheckedRows:
    """Check every cell, and every row and date as they will stand in the register; raises nothing.

    All problems of all sheets are in one list, in the order of the sheets and their rows. `progress` is told how many
    rows of how many have been read.
    """
    check = _Check(protocol, as_of, raw.row_count, progress)
    for sheet in raw.sheets:
        check.read(sheet)
    read, code_notes = unify_codes(check.entries, held.values, protocol)
    overlay = Overlay(read, held)
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
    return CheckedRows(rows, (), tuple(queries), notes, tuple(overlay.blanks))


class _Check:
    """Gathers the rows and the problems of the sheets as they are read."""

    def __init__(self, protocol: Protocol, as_of: date, total: int, progress: Progress | None) -> None:
        self.protocol, self.as_of, self.total, self.progress = protocol, as_of, total, progress
        self.entries: list[Entry] = []
        self.problems: list[Problem] = []
        self.without_key: set[str] = set()
        self.columns: dict[tuple[str, str], int] = {}
        self.done = 0

    def read(self, sheet: RawSheet) -> None:
        columns = check_columns(sheet, self.protocol)
        self.problems.extend(columns.problems)
        self.columns.update({(sheet.name, field.id): place + 1 for place, field in columns.fields.items()})
        missing = {field.id for field in self.protocol.sheet(sheet.name) if not columns.holds(field.id)}
        refused_fields = frozenset(missing if columns.problems else ())
        if KEYS[sheet.name][0] in refused_fields:
            self.without_key.add(sheet.name)
        reader = RowReader(sheet.name, columns, self.as_of, sheet.form, self.protocol.synonyms, refused_fields)
        for number, cells in sheet.rows if columns.fields else ():
            entry, problems = reader.read(number, cells)
            self.entries.append(entry)
            self.problems.extend(problems)
            self._report_progress()

    def _report_progress(self) -> None:
        self.done += 1
        if self.progress is not None and (self.done % _STEP == 0 or self.done == self.total):
            self.progress(self.done, self.total)

    def addressed(self, problem: Problem) -> Problem:
        """The problem with the column of its field."""
        column = problem.column or self.columns.get((problem.sheet, problem.field), 0)
        return replace(problem, column=column) if problem.row else problem

    def unread(self, raw: RawSheets) -> frozenset[str]:
        """The sheets that were given, but whose rows cannot be known."""
        given = {sheet.name for sheet in raw.sheets}
        return frozenset(self.without_key | {problem.sheet for problem in raw.problems if problem.sheet not in given})


def _in_order(problems: Iterable[Problem], protocol: Protocol) -> tuple[Problem, ...]:
    sheets = {sheet: place for place, sheet in enumerate(SHEETS)}
    columns = {(field.sheet, field.id): place for place, field in enumerate(protocol.fields)}

    def place(problem: Problem) -> tuple[int, str, int, int, str]:
        column = columns.get((problem.sheet, problem.field), len(columns))
        return sheets.get(problem.sheet, -1), problem.sheet, problem.row, column, problem.what

    return tuple(sorted(dict.fromkeys(problems), key=place))
