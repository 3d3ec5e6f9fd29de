"""Check an amended row against the rest of the register before it is stored."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from outcomes.capture.entry import RowQuery
from outcomes.capture.held_rows import HeldRows
from outcomes.capture.raw_sheets import RawSheet, RawSheets, SheetForm
from outcomes.capture.validation import check_sheets
from outcomes.errors import DataRefused
from outcomes.protocol import KEYS, SHEETS, Key, Protocol, RowAddress, Value

RowsByKey = Mapping[str, Mapping[Key, Mapping[str, Value]]]


def check_amended(
    protocol: Protocol,
    held: RowsByKey,
    address: RowAddress,
    change: tuple[str, Value],
    *,
    as_of: date,
) -> tuple[RowQuery, ...]:
    """Check the row as amended against the rest of the register, and give what is odd about it.

    Raises DataRefused when the amended row breaks a rule. A row that is not there, or not the only one, gives nothing:
    the store refuses those.
    """
    field, value = change
    rows = _rows(protocol, held, address, field)
    if len(rows) != 1 or rows[0][1] not in held.get(rows[0][0], {}):
        return ()
    [(sheet, key)] = rows
    values = {**held[sheet][key], field: value}
    row = RawSheet(sheet, tuple(values), ((1, tuple(values.values())),), SheetForm(decimal_comma=False))
    others = {**held, sheet: {each: kept for each, kept in held[sheet].items() if each != key}}
    checked = check_sheets(RawSheets("", (row,)), protocol, as_of=as_of, held=HeldRows(others))
    problems = [replace(problem, row=0) for problem in checked.problems]
    if not problems and tuple(str(values.get(part) or "") for part in KEYS[sheet]) in others[sheet]:
        raise DataRefused(f"the {sheet} hold such a row already; nothing was changed", [])
    if problems:
        raise DataRefused(f"{field} cannot be amended to that; nothing was changed", problems)
    return checked.queries


def _rows(protocol: Protocol, held: RowsByKey, address: RowAddress, field: str) -> list[tuple[str, Key]]:
    """The rows that are meant, each its sheet and key."""
    named = (name for name in address.sheets if any(each.id == field for each in protocol.sheet(name)))
    sheet = next(named, "")
    if sheet == "patients":
        return [(sheet, (str(_patient_of(held, address.case_id)),))]
    return [(sheet, key) for key, values in held.get(sheet, {}).items() if address.names(sheet, values)]


def _patient_of(held: RowsByKey, case_id: str) -> Value:
    return held.get(SHEETS[1], {}).get((case_id,), {}).get("patient_id")
