"""Correct one value, or withdraw a patient, and keep the earlier version."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from outcomes.errors import RegisterRefused
from outcomes.protocol import Field, Protocol, Value
from outcomes.store.audit_chain import Source
from outcomes.store.codec import Values, text_of
from outcomes.store.connection import PATIENT, Patience
from outcomes.store.current_rows import CurrentRow, current_rows, withdrawn_codes
from outcomes.store.transaction import Draft, changing

_CODES = {"patient_id", "case_id"}
_DAYS = {"reviews": "reviewed_on", "events": "happened_on"}


@dataclass(frozen=True)
class Amendment:
    """Which value is to be what.

    Without a day it is a value of the reconstruction or its patient, else of the review (or, for a field that only
    events have, of the event) on that day. `assessor` tells several reviews of a day apart.

    A value of None means: not recorded after all. `queries` are those that the checks raise on the row as amended, each
    its id and what it says; None leaves those that there are.
    """

    case_id: str
    field: str
    value: Value
    day: date | None = None
    assessor: str = ""
    queries: Sequence[tuple[str, str]] | None = None


@dataclass(frozen=True)
class AmendmentResult:
    """What was changed: the row's sheet and key, and what stood before. `change` is the number of the change."""

    sheet: str
    key: tuple[str, ...]
    was: Value
    value: Value
    change: int


def amend_value(
    path: Path, amendment: Amendment, *, source: Source, at: datetime, patience: Patience = PATIENT
) -> AmendmentResult:
    """The value stands as amended afterwards, its predecessor is kept, and a file that repeats it does not undo it.

    The caller has checked the value against its field. After a failure nothing is changed. Raises RegisterRefused when
    the case, the field or the day is not there, when it is not clear which review is meant, or without a reason.
    """
    if not source.reason.strip():
        raise RegisterRefused("an amendment needs a reason, which is kept with it; nothing was changed")
    with changing(path, "amend", source, at, patience) as draft:
        field = _field(draft.protocol, amendment)
        row = _the_row(draft, amendment, field)
        was = row.values.get(field.id)
        if text_of(was) == text_of(amendment.value):
            raise RegisterRefused(f"{field.id} of {amendment.case_id} already is {_shown(was)}; nothing was changed")
        _write(draft, row, field, amendment)
        return AmendmentResult(row.sheet, row.key, was, amendment.value, draft.number)


def withdraw_patient(
    path: Path, patient_id: str, *, source: Source, at: datetime, patience: Patience = PATIENT
) -> tuple[str, ...]:
    """The patient's rows are in no extract, count or later freeze afterwards; their past stays. Gives the case codes.

    A later file may still hold the patient: its rows are withheld. After a failure nothing is changed.
    """
    if not source.reason.strip():
        raise RegisterRefused("a withdrawal needs a reason, which is kept with it; nothing was changed")
    with changing(path, "withdraw", source, at, patience) as draft:
        rows = [row for row in current_rows(draft, "patients") if row.values["patient_id"] == patient_id]
        if not rows:
            raise RegisterRefused(f'there is no patient "{patient_id}" in the register; check the code')
        if patient_id in withdrawn_codes(draft)["patient_id"]:
            raise RegisterRefused(f'the patient "{patient_id}" has already withdrawn; nothing was changed')
        draft.add_version("patients", rows[0].record, rows[0].values, withdrawn=True)
        cases = [row.values for row in current_rows(draft, "reconstructions")]
        return tuple(sorted(str(case["case_id"]) for case in cases if case["patient_id"] == patient_id))


def _field(protocol: Protocol, amendment: Amendment) -> Field:
    """The field that is meant: its sheet follows from whether a day is given."""
    sheets = ("reconstructions", "patients") if amendment.day is None else ("reviews", "events")
    named = {field.id: field for sheet in reversed(sheets) for field in protocol.sheet(sheet)}
    if amendment.field in _CODES:
        raise RegisterRefused(
            "a study code cannot be amended: it ties rows together; erase the rows and load them anew"
        )
    if amendment.field in named:
        return named[amendment.field]
    if any(field.id == amendment.field for field in protocol.fields):
        remedy = "give the day of the review or event" if amendment.day is None else "leave out the day"
        raise RegisterRefused(f"{amendment.field} is no field of {sheets[0]} or {sheets[1]}; {remedy}")
    near = difflib.get_close_matches(amendment.field, list(named), n=1)
    raise RegisterRefused(
        f'there is no field "{amendment.field}"'
        + (f'; did you mean "{near[0]}"?' if near else "; see the template for their names")
    )


def _the_row(draft: Draft, amendment: Amendment, field: Field) -> CurrentRow:
    if amendment.case_id in withdrawn_codes(draft)["case_id"]:
        raise RegisterRefused(f'the patient of case "{amendment.case_id}" has withdrawn; nothing can be amended')
    cases = [row for row in current_rows(draft, "reconstructions") if row.values["case_id"] == amendment.case_id]
    if not cases:
        raise RegisterRefused(f'there is no case "{amendment.case_id}" in the register; check the code')
    if field.sheet == "reconstructions":
        return cases[0]
    if field.sheet == "patients":
        whose = cases[0].values["patient_id"]
        return next(row for row in current_rows(draft, "patients") if row.values["patient_id"] == whose)
    theirs = [row for row in current_rows(draft, field.sheet) if row.values["case_id"] == amendment.case_id]
    return _on_the_day(theirs, amendment, field)


def _on_the_day(rows: list[CurrentRow], amendment: Amendment, field: Field) -> CurrentRow:
    """The one review or event of that day; raises RegisterRefused when there is none, or more than one."""
    what, day = field.sheet.removesuffix("s"), _DAYS[field.sheet]
    meant = [row for row in rows if row.values[day] == amendment.day]
    if amendment.assessor:
        meant = [row for row in meant if row.values.get("assessor") == amendment.assessor]
    if len(meant) == 1:
        return meant[0]
    if not meant:
        days = ", ".join(sorted({str(row.values[day]) for row in rows})) or "none"
        raise RegisterRefused(f"{amendment.case_id} has no such {what} on {amendment.day}; its days: {days}")
    assessors = tuple(" ".join(row.key[2:]) or "nobody named" for row in meant)
    raise RegisterRefused(
        f"{amendment.case_id} has {len(meant)} {field.sheet} on {amendment.day}; say whose by naming the assessor",
        assessors,
    )


def _write(draft: Draft, row: CurrentRow, field: Field, amendment: Amendment) -> None:
    """The row's next version, and what the last file had said of every amended value in it."""
    if amendment.value is None and field.required:
        raise RegisterRefused(f"{field.id} is required and cannot be blank; nothing was changed")
    values: Values = {**row.values, field.id: amendment.value}
    draft.add_version(row.sheet, row.record, {name: value for name, value in values.items() if value is not None})
    for name, said in {field.id: text_of(row.values.get(field.id)), **row.said}.items():
        draft.add_overruled(row.sheet, row.record, name, said)
    for query_id, says in row.queries if amendment.queries is None else amendment.queries:
        draft.add_query(row.sheet, row.record, query_id, says)


def _shown(value: Value) -> str:
    return "not recorded" if value is None else f'"{value}"'
