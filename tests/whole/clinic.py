"""A clinic of a few dozen lids, and the program run as its user runs it."""

from __future__ import annotations

import csv
import os
import subprocess
import sys
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl

from demo.generate import clinic
from outcomes.protocol import SHEETS

ROOT = Path(__file__).resolve().parents[2]
CLOSED_ON = "2026-06-30"
OWN_PROTOCOL = 'extends = "default"\n[rules]\nimbalance_smd = 0.2\n'

Sheets = dict[str, list[dict[str, Any]]]


def outcomes(*arguments: str | Path, folder: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the program in a folder, as a person would, and give what it said."""
    command = [sys.executable, "-m", "outcomes.cli", *(str(argument) for argument in arguments)]
    variables = {**os.environ, "PYTHONPATH": str(ROOT), **environment}
    return subprocess.run(command, cwd=folder, env=variables, capture_output=True, text=True, check=False)


def part_of_the_clinic(cases: int) -> Sheets:
    """The first cases of the invented clinic, with all that belongs to them."""
    whole = clinic()
    some = whole["reconstructions"][:cases]
    codes, patients = {row["case_id"] for row in some}, {row["patient_id"] for row in some}
    return {
        "patients": [row for row in whole["patients"] if row["patient_id"] in patients],
        "reconstructions": some,
        "reviews": [row for row in whole["reviews"] if row["case_id"] in codes],
        "events": [row for row in whole["events"] if row["case_id"] in codes],
    }


def fill(template: Path, sheets: Sheets, filled: Path) -> Path:
    """Type the rows into the template under its own headings, as a person would, and save it."""
    book = openpyxl.load_workbook(template)
    for sheet, rows in sheets.items():
        page = book[sheet]
        places = {cell.value: cell.column for cell in page[1]}
        for number, row in enumerate(rows, start=2):
            for name, value in row.items():
                if value not in {None, ""}:
                    page.cell(number, places[name], value)
    book.save(filled)
    return filled


def european_folder(sheets: Sheets, folder: Path) -> Path:
    """The same rows as four CSV files with semicolons, decimal commas and a byte-order mark."""
    folder.mkdir()
    for sheet in SHEETS:
        names = list(dict.fromkeys(name for row in sheets[sheet] for name in row))
        with (folder / f"{sheet}.csv").open("w", encoding="utf-8-sig", newline="") as file:
            writer = csv.writer(file, delimiter=";")
            writer.writerow(names)
            writer.writerows([[_european(row.get(name)) for name in names] for row in sheets[sheet]])
    return folder


def _european(value: Any) -> str:
    if isinstance(value, datetime):
        value = value.date()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return f"{value:g}".replace(".", ",")
    return "" if value is None else str(value)


def compared(register: Path, out: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Compare the register as it was known on the closing day."""
    return outcomes(
        "compare", "--register", register, "--as-of", CLOSED_ON, "--out", out, *arguments, folder=register.parent
    )


def tables_of(report: Path) -> dict[str, bytes]:
    """Every table and the comparison of a report, by name."""
    files = [*sorted((report / "tables").iterdir()), report / "comparison.json"]
    return {file.name: file.read_bytes() for file in files}
