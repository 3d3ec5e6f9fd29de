"""Check an amended row against the rest of the register before it is stored."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from outcomes.capture.entry import HeldRows, RowQuery
from outcomes.capture.raw_sheets import RawSheet, RawSheets, SheetForm
from outcomes.capture.validation import check_sheets
from outcomes.errors import DataRefused
from outcomes.protocol import KEYS, SHEETS, Protocol, Value

Key = tuple[str, ...]
_DAYS = {"reviews": "reviewed_on", "events": "happened_on"}


def check_amended(  # noqa: PLR0913 - what is changed, where, and against what
    protocol: Protocol,
    held: HeldRows,
    case_id: str,
    occasion: tuple[date | None, str],
    change: tuple[str, Value],
    *,
    as_of: date,
) -> tuple[RowQuery, ...]:
    """Check the row as amended against the rest of the register, and give what is odd about it.

    `occasion` is the day and the assessor of a review or event, or no day for a value of the case or its patient.
    Raises DataRefused when the amended row breaks a rule. A row that is not there, or not the only one, gives nothing:
    the store refuses those.
    """
    field, value = change
    rows = _rows(protocol, held, case_id, occasion, field)
    if len(rows) != 1:
        return ()
    [(sheet, key)] = rows
    values = {**held[sheet][key], field: value}
    row = RawSheet(sheet, tuple(values), ((1, tuple(values.values())),), SheetForm(decimal_comma=False))
    others = {**held, sheet: {each: kept for each, kept in held[sheet].items() if each != key}}
    checked = check_sheets(RawSheets("", (row,)), protocol, as_of=as_of, held=others)
    problems = [replace(problem, row=0) for problem in checked.problems]
    if not problems and tuple(str(values.get(part) or "") for part in KEYS[sheet]) in others[sheet]:
        raise DataRefused(f"the {sheet} hold such a row already; nothing was changed", [])
    if problems:
        raise DataRefused(f"{field} cannot be amended to that; nothing was changed", problems)
    return checked.queries


def _rows(
    protocol: Protocol, held: HeldRows, case_id: str, occasion: tuple[date | None, str], field: str
) -> list[tuple[str, Key]]:
    """The rows that are meant, each its sheet and key."""
    day, assessor = occasion
    sheets = _DAYS if day else ("reconstructions", "patients")
    sheet = next((name for name in sheets if any(each.id == field for each in protocol.sheet(name))), "")
    code = "patient_id" if sheet == "patients" else "case_id"
    wanted = _patient_of(held, case_id) if sheet == "patients" else case_id
    return [
        (sheet, key)
        for key, values in held.get(sheet, {}).items()
        if values.get(code) == wanted
        and (not day or values.get(_DAYS[sheet]) == day)
        and (not assessor or values.get("assessor") == assessor)
    ]


def _patient_of(held: HeldRows, case_id: str) -> Value:
    return held.get(SHEETS[1], {}).get((case_id,), {}).get("patient_id")
