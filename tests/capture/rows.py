"""Check rows without a file: the sheets as they would have been read."""

from __future__ import annotations

from datetime import date, timedelta

from outcomes.capture import CheckedRows, HeldRows, check_sheets
from outcomes.capture.raw_sheets import RawSheets, SheetForm, raw_sheet
from outcomes.protocol import SHEETS, default_protocol
from tests.capture.clinic import AS_OF, grid

PROTOCOL = default_protocol()
OPERATED, DIVIDED = date(2024, 3, 5), date(2024, 3, 26)


def day(number, since=OPERATED):
    return since + timedelta(days=number)


def clinic(*, patients=(), case=None, reviews=(), events=(), more_cases=()):
    """One patient with one grafted lid, in four sheets; what is given is laid over it."""
    first = {
        "case_id": "C1", "patient_id": "P1", "side": "right", "operated_on": OPERATED, "divided_on": DIVIDED,
        "diagnosis": "basal cell carcinoma", "bcc_subtype": "nodular", "cover": "graft", **(case or {}),
    }  # fmt: skip
    return {
        "patients": list(patients) or [{"patient_id": "P1", "birth_year": 1950}],
        "reconstructions": [first, *more_cases],
        "reviews": list(reviews),
        "events": list(events),
    }


def review(number, since=DIVIDED, **more):
    """A review so many days after division."""
    return {
        "case_id": "C1", "reviewed_on": day(number, since), "assessor": "AB", "masked": "no", "mode": "clinic", **more,
    }  # fmt: skip


def event(number, kind, since=OPERATED, **more):
    return {"case_id": "C1", "happened_on": day(number, since), "kind": kind, **more}


def checked(rows, *, held=None, as_of=AS_OF, decimal_comma=False) -> CheckedRows:
    sheets = tuple(
        raw_sheet(name, [list(row) for row in grid(rows[name])], SheetForm(decimal_comma=decimal_comma))
        for name in SHEETS
        if rows.get(name)
    )
    return check_sheets(RawSheets("rows", sheets), PROTOCOL, as_of=as_of, held=HeldRows(held or {}))


def problems(rows, **given):
    """What was refused, as sheet, row, field and the beginning of the sentence after the value."""
    return [(each.sheet, each.row, each.field) for each in checked(rows, **given).problems]


def queries(rows, **given):
    found = checked(rows, **given)
    assert found.problems == ()
    return [(each.sheet, each.row, each.query_id) for each in found.queries]
