"""A few invented rows, in the shape in which they come from the checks."""

import atexit
import shutil
import tempfile
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path

from outcomes.protocol import SheetRow, default_protocol
from outcomes.store import Source, create_register, reading, record_rows

AT = datetime(2026, 3, 5, 14, 2)  # noqa: DTZ001 - a time of the clinic's clock
FILE = Source(file="clinic.xlsx", digest="ab" * 32, who="NB", reason="")


def patient(number, **values):
    return SheetRow("patients", number, {"patient_id": f"P{number}", "birth_year": 1950, "sex": "female", **values})


def case(number, **values):
    told = {
        "case_id": f"C{number}",
        "patient_id": f"P{number}",
        "side": "right",
        "operated_on": date(2025, 1, 7),
        "diagnosis": "basal cell carcinoma",
        "cover": "graft",
        "defect_width_mm": 18.5,
        "snap_back": 2,
        "divided_on": date(2025, 1, 28),
    }
    return SheetRow("reconstructions", number, {**told, **values})


def review(number, days=90, **values):
    told = {
        "case_id": f"C{number}",
        "reviewed_on": date(2025, 1, 28) + timedelta(days=days),
        "assessor": "NB",
        "masked": "no",
        "mode": "clinic",
        "retraction_mm": 0.5,
        "oedema": 1,
        "trichiasis": "no",
    }
    return SheetRow("reviews", number, {name: value for name, value in {**told, **values}.items() if value is not None})


def event(number, **values):
    return SheetRow(
        "events", number, {"case_id": f"C{number}", "happened_on": date(2025, 2, 3), "kind": "infection", **values}
    )


def clinic(cases=3):
    numbers = range(1, cases + 1)
    return [make(number) for make in (patient, case, review, event) for number in numbers]


@cache
def _made_once():
    """The register of `clinic()`, made once in a run of the tests: most tests begin with it."""
    path = Path(tempfile.mkdtemp(prefix="store-tests-")) / "register.duckdb"
    atexit.register(shutil.rmtree, path.parent, ignore_errors=True)
    create_register(path, default_protocol())
    record_rows(path, clinic(), source=FILE, at=AT)
    return path


def made(folder, rows=None):
    """A register in the folder that holds the rows; those of `clinic()` when none are given."""
    path = folder / "register.duckdb"
    if rows is None:
        shutil.copytree(_made_once().parent, folder, dirs_exist_ok=True)
        return path
    create_register(path, default_protocol())
    if rows:
        record_rows(path, rows, source=FILE, at=AT)
    return path


def digest(path):
    with reading(path) as register:
        return register.digest
