"""The clinic sheet: one page a case to fill in with a pen, in the order of the prompts of entry, as a tagged PDF."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from outcomes.errors import OutcomesError
from outcomes.report.typst_render import typesetter

TEMPLATE = Path(__file__).with_name("templates") / "clinic_sheet.typ"


@dataclass(frozen=True)
class SheetQuestion:
    """One line to fill in: what is asked, what it takes, its choices to tick, and the last value with its day."""

    label: str
    takes: str
    choices: tuple[str, ...]
    last: str


@dataclass(frozen=True)
class ClinicSheet:
    """One case: its code, what is known of it, and the questions, those that are always asked before the further ones."""

    case_id: str
    known: tuple[str, ...]
    questions: tuple[SheetQuestion, ...]
    further: tuple[SheetQuestion, ...]


def write_clinic_sheets(path: Path, sheets: Sequence[ClinicSheet], *, footer: str) -> None:
    """Write one page a case; raises OutcomesError where a file is in the way or cannot be written."""
    if path.exists():
        raise OutcomesError(f"{path} is there already; choose another name or move it away")
    data = {"sheets": [asdict(sheet) for sheet in sheets], "footer": footer}
    made = typesetter(TEMPLATE, data=json.dumps(data, ensure_ascii=False)).compile(format="pdf", pdf_standards=["ua-1"])
    if not isinstance(made, bytes):
        raise TypeError("a PDF is one file")
    try:
        path.write_bytes(made)
    except OSError as error:
        raise OutcomesError(f"the clinic sheets cannot be written to {path}: {error.strerror}") from error
