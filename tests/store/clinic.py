"""A few invented rows, in the shape in which they come from the checks."""

from datetime import date, datetime, timedelta

from outcomes.protocol import Row, default_protocol
from outcomes.store import Source, create_register, record_rows

AT = datetime(2026, 3, 5, 14, 2)
FILE = Source(file="clinic.xlsx", digest="ab" * 32, who="NB", reason="")


def patient(number, **values):
    return Row("patients", number, {"patient_id": f"P{number}", "birth_year": 1950, "sex": "female", **values})


def case(number, **values):
    told = {
        "case_id": f"C{number}", "patient_id": f"P{number}", "side": "right", "operated_on": date(2025, 1, 7),
        "diagnosis": "basal cell carcinoma", "cover": "graft", "defect_width_mm": 18.5, "snap_back": 2, "divided_on": date(2025, 1, 28),
    }
    return Row("reconstructions", number, {**told, **values})


def review(number, days=90, **values):
    told = {
        "case_id": f"C{number}", "reviewed_on": date(2025, 1, 28) + timedelta(days=days), "assessor": "NB", "masked": "no",
        "mode": "clinic", "retraction_mm": 0.5, "oedema": 1, "trichiasis": "no",
    }
    return Row("reviews", number, {name: value for name, value in {**told, **values}.items() if value is not None})


def event(number, **values):
    return Row("events", number, {"case_id": f"C{number}", "happened_on": date(2025, 2, 3), "kind": "infection", **values})


def clinic(cases=3):
    numbers = range(1, cases + 1)
    return [make(number) for make in (patient, case, review, event) for number in numbers]


def made(folder, rows=None, protocol=None):
    """A register in the folder that holds the rows."""
    path = folder / "register.duckdb"
    create_register(path, protocol or default_protocol())
    record_rows(path, clinic() if rows is None else rows, source=FILE, at=AT)
    return path
