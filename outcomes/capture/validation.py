"""Check all sheets: the rows that may be stored, the problems that refuse them, and the queries."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date

from outcomes.capture.cells import RowReader
from outcomes.capture.chronology import check_order
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

    `blanks` are the cells left blank where the register holds a value.
    """

    rows: tuple[SheetRow, ...]
    problems: tuple[Problem, ...]
    queries: tuple[RowQuery, ...]
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
    overlay = Overlay(check.entries, held, protocol)
    entries = overlay.entries(check.unread(raw))
    problems = [*raw.problems, *check.problems, *overlay.problems]
    problems += [*check_conditions(entries, protocol), *check_references(entries), *check_order(entries, protocol)]
    if problems:
        return CheckedRows((), _in_order(problems, protocol), ())
    queries = sorted(
        find_queries(entries, protocol), key=lambda each: (SHEETS.index(each.sheet), each.row, each.query_id)
    )
    rows = tuple(entry.row for sheet in SHEETS for entry in entries.read(sheet))
    return CheckedRows(rows, (), tuple(queries), tuple(overlay.blanks))


class _Check:
    """Gathers the rows and the problems of the sheets as they are read."""

    def __init__(self, protocol: Protocol, as_of: date, total: int, progress: Progress | None) -> None:
        self.protocol, self.as_of, self.total, self.progress = protocol, as_of, total, progress
        self.entries: list[Entry] = []
        self.problems: list[Problem] = []
        self.without_key: set[str] = set()
        self.done = 0

    def read(self, sheet: RawSheet) -> None:
        columns = check_columns(sheet, self.protocol)
        self.problems.extend(columns.problems)
        missing = {field.id for field in self.protocol.sheet(sheet.name) if not columns.holds(field.id)}
        refused_fields = frozenset(missing if columns.problems else ())
        if KEYS[sheet.name][0] in refused_fields:
            self.without_key.add(sheet.name)
        reader = RowReader(sheet.name, columns, self.as_of, sheet.decimal_comma, refused_fields)
        for number, cells in sheet.rows:
            entry, problems = reader.read(number, cells)
            self.entries.append(entry)
            self.problems.extend(problems)
            self._report_progress()

    def _report_progress(self) -> None:
        self.done += 1
        if self.progress is not None and (self.done % _STEP == 0 or self.done == self.total):
            self.progress(self.done, self.total)

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
