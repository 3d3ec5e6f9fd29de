"""Check assembled rows as every load is checked, and leave out what is refused, until the rest may be stored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from outcomes.capture.entry import RowQuery
from outcomes.capture.foreign.account import CellAccount
from outcomes.capture.foreign.assembly import assemble
from outcomes.capture.foreign.context import Assembly, Key, LoadContext
from outcomes.capture.foreign.fit import fitted
from outcomes.capture.foreign.mapping import Mapping
from outcomes.capture.foreign.sheet import ForeignSheet
from outcomes.capture.held_rows import HeldRows
from outcomes.capture.raw_sheets import RawSheet, RawSheets, SheetForm
from outcomes.capture.validation import CheckedRows, check_sheets
from outcomes.errors import Problem
from outcomes.protocol import KEYS, SHEETS, Protocol, Raw, SheetRow

REFUSED_CELLS = "refused_cells"
_REFERENCES = {"reconstructions": ("patient_id",), "reviews": ("case_id",), "events": ("case_id",)}


@dataclass(frozen=True)
class MappedRows:
    """The rows that may be stored, with their queries, what became of each cell, and the numbers for the link file."""

    checked: CheckedRows
    account: CellAccount
    numbers: dict[str, str]
    comments: int


def map_rows(sheets: Sequence[ForeignSheet], mapping: Mapping, context: LoadContext) -> MappedRows:
    """Every row of the sheets that the mapping and the checks let through.

    A value that is refused is left out of its row; a row is left out where its key, or a field that is required, is
    refused, or where it cannot have happened then. Each such row that is stored carries a query. Raises DataRefused where
    the mapping is not one of these sheets.
    """
    protocol = context.protocol
    assembly = assemble(sheets, fitted(mapping, sheets, protocol), context)
    _drop_named_only(assembly, context.held)
    while True:
        raw, keys = _raw_sheets(assembly, protocol)
        checked = check_sheets(raw, protocol, as_of=context.as_of, held=context.held)
        if not checked.problems:
            break
        for problem in checked.problems:
            _leave_out(assembly, problem, keys, protocol)
    comments = sum(len(sheet.comments) for sheet in sheets)
    queries = (*checked.queries, *_queries(assembly, checked.rows, keys))
    return MappedRows(replace(checked, queries=queries), assembly.account, assembly.numbers, comments)


def _drop_named_only(assembly: Assembly, held: HeldRows) -> None:
    """A patient or case that the sheets only name, and that the register holds, is no row of its own."""
    for sheet in ("patients", "reconstructions"):
        rows = assembly.rows[sheet]
        for key in [key for key, values in rows.items() if values.keys() <= {"case_id", "patient_id"}]:
            if key in held.values.get(sheet, {}):
                del rows[key]


def _raw_sheets(assembly: Assembly, protocol: Protocol) -> tuple[RawSheets, dict[tuple[str, int], Key]]:
    sheets = []
    keys: dict[tuple[str, int], Key] = {}
    for sheet in SHEETS:
        rows = assembly.rows[sheet]
        used = {name for values in rows.values() for name in values}
        header = tuple(each.id for each in protocol.sheet(sheet) if each.id in used or each.required)
        numbered = list(enumerate(rows.items(), start=2))
        keys |= {(sheet, number): key for number, (key, _) in numbered}
        cells = tuple((number, tuple(values.get(name) for name in header)) for number, (_, values) in numbered)
        sheets.append(RawSheet(sheet, header, cells, SheetForm(decimal_comma=False)))
    return RawSheets("", tuple(sheets)), keys


def _leave_out(assembly: Assembly, problem: Problem, keys: dict[tuple[str, int], Key], protocol: Protocol) -> None:
    """Leave out the value that is refused, or its whole row."""
    key = keys[problem.sheet, problem.row]
    values = assembly.rows[problem.sheet].get(key)
    if values is None:
        return
    essential = {each.id for each in protocol.sheet(problem.sheet) if each.required} | set(KEYS[problem.sheet])
    if problem.field not in essential and problem.field in values:
        values.pop(problem.field)
        assembly.account.refuse_target(
            (problem.sheet, key, problem.field), problem.field, problem.what, problem.general
        )
        return
    name = problem.sheet.removesuffix("s")
    refers = problem.field in _REFERENCES.get(problem.sheet, ())
    what = "what it belongs to is left out" if refers else f"{problem.field} {problem.what}"
    general = what if refers else f"{problem.field} {problem.general or problem.what}"
    for field in values:
        target = problem.sheet, key, field
        assembly.account.refuse_target(
            target, "", f"the {name} is left out: {what}", f"the {name} is left out: {general}"
        )
    del assembly.rows[problem.sheet][key]


def _queries(assembly: Assembly, rows: Sequence[SheetRow], keys: dict[tuple[str, int], Key]) -> list[RowQuery]:
    """One query for each stored row of which a cell was refused."""
    return [
        RowQuery(row.sheet, row.number, row.key, REFUSED_CELLS, f"cells of its sheet that were refused: {count}")
        for row in rows
        if (count := assembly.account.refused_in[row.sheet, keys[row.sheet, row.number]])
    ]


def first_cases(rows: Sequence[SheetRow], count: int) -> list[tuple[SheetRow, list[SheetRow]]]:
    """The first cases with the rows of their patient, reviews and events, as they would stand."""
    cases = [row for row in rows if row.sheet == "reconstructions"][:count]
    return [
        (
            case,
            [
                row
                for row in rows
                if (row.sheet == "patients" and row.values["patient_id"] == case.values["patient_id"])
                or (row.sheet in {"reviews", "events"} and row.values["case_id"] == case.values["case_id"])
            ],
        )
        for case in cases
    ]


def shown_values(row: SheetRow) -> dict[str, Raw]:
    """The values of a row without its codes."""
    return {name: value for name, value in row.values.items() if name not in {"case_id", "patient_id"}}
