"""A small invented clinic without a fault, and ways to write it as a workbook or as a folder of tables.

The workbook is written by a library that the program does not use, as another spreadsheet program would.
"""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl

from outcomes.capture import CheckedRows, HeldRows, check_sheets, read_sheets
from outcomes.protocol import Protocol, default_protocol

AS_OF = date(2026, 6, 30)
Sheets = dict[str, list[dict[str, Any]]]


def clinic() -> Sheets:
    """Three patients, four lids, one of them not divided yet; a fresh copy each time."""
    return {
        "patients": [
            {"patient_id": "P001", "birth_year": 1950, "sex": "female", "smoker": "never", "diabetes": "no"},
            {"patient_id": "P002", "birth_year": 1941, "sex": "male", "smoker": "current", "diabetes": None},
            {"patient_id": "P003", "birth_year": None, "sex": "female", "smoker": None, "diabetes": "unknown"},
        ],
        "reconstructions": [
            case("C001", "P001", "right", date(2024, 3, 5), date(2024, 3, 26), cover="graft", graft_donor="upper lid"),
            case("C002", "P002", "left", date(2024, 4, 2), date(2024, 5, 7), cover="advancement", fellow_logmar="6/12"),
            case("C003", "P001", "left", date(2025, 1, 14), date(2025, 2, 18), cover="advancement"),
            case("C004", "P003", "left", date(2026, 6, 2), None, cover="graft"),
        ],
        "reviews": [
            review("C001", date(2024, 4, 2), margin_position_mm=5.5, fellow_margin_position_mm=5, oedema=2),
            review("C001", date(2024, 9, 24), margin_position_mm=6, fellow_margin_position_mm=5, oedema=0),
            review("C002", date(2024, 6, 18), scleral_show_mm=0.5, oedema=1, recurrence="none"),
            review("C002", date(2024, 11, 5), scleral_show_mm=1, entropion="no", satisfaction=8),
            review("C003", date(2025, 8, 19), notch_mm=0, lash_loss_percent=40, watering=1),
        ],
        "events": [
            {"case_id": "C001", "happened_on": date(2024, 3, 12), "kind": "cover failure", "percent_lost": 10},
            {"case_id": "C002", "happened_on": date(2025, 2, 3), "kind": "revision", "revision_kind": "lid tightening"},
        ],
    }


def case(
    case_id: str, patient_id: str, side: str, operated_on: date, divided_on: date | None, **more: Any
) -> dict[str, Any]:
    plain = {"diagnosis": "basal cell carcinoma", "bcc_subtype": "nodular", "defect_width_mm": 14.5, "lid_width_mm": 28}
    return {
        "case_id": case_id,
        "patient_id": patient_id,
        "side": side,
        "operated_on": operated_on,
        "divided_on": divided_on,
        "surgeon": "KM",
        **plain,
        **more,
    }


def review(case_id: str, reviewed_on: date, **more: Any) -> dict[str, Any]:
    return {"case_id": case_id, "reviewed_on": reviewed_on, "assessor": "AB", "masked": "no", "mode": "clinic", **more}


def grid(rows: list[dict[str, Any]]) -> list[list[Any]]:
    """The rows under a header of every name that any of them uses."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    return [names, *([row.get(name) for name in names] for row in rows)]


def write_workbook(path: Path, sheets: Sheets) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in grid(rows):
            sheet.append(row)
    book.save(path)
    return path


def write_folder(
    folder: Path, sheets: Sheets, *, separator: str = ",", encoding: str = "utf-8", end: str = "\n"
) -> Path:
    folder.mkdir()
    for name, rows in sheets.items():
        with (folder / f"{name}.csv").open("w", encoding=encoding, newline="") as table:
            writer = csv.writer(table, delimiter=separator, lineterminator=end)
            writer.writerows([written(cell, comma=separator != ",") for cell in row] for row in grid(rows))
    return folder


def written(cell: Any, *, comma: bool) -> str:
    if cell is None:
        return ""
    return str(cell).replace(".", ",") if comma and isinstance(cell, float) else str(cell)


def checked(path: Path, *, held: Any = None, protocol: Protocol | None = None) -> CheckedRows:
    protocol = protocol or default_protocol()
    return check_sheets(
        read_sheets(path, protocol),
        protocol,
        as_of=AS_OF,
        held=held if isinstance(held, HeldRows) else HeldRows(held or {}),
    )


def loaded(tmp_path: Path, sheets: Sheets, **given: Any) -> CheckedRows:
    """Write the clinic as a workbook, read it and check it."""
    return checked(write_workbook(tmp_path / "clinic.xlsx", sheets), **given)


def said(outcome: CheckedRows) -> list[str]:
    return [str(problem) for problem in outcome.problems]
