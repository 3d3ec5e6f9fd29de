"""Correct one value, or withdraw a patient, and keep the earlier version."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from outcomes.errors import RegisterRefused
from outcomes.protocol import DAYS, Field, Protocol, RowAddress, Value, value_text
from outcomes.store.audit_chain import Source
from outcomes.store.codec import Values
from outcomes.store.connection import PATIENT, Patience
from outcomes.store.current_rows import CurrentRow, current_rows, newest_rows, withdrawn_codes
from outcomes.store.transaction import Draft, changing

_CODES = {"patient_id", "case_id"}


@dataclass(frozen=True)
class Amendment:
    """Which value is to be what.

    Without a day it is a value of the reconstruction or its patient, else of the review on that day or, for a field
    that only events have or with a `kind`, of the event. `assessor` and `mode` tell several reviews of a day apart.

    A value of None means: not recorded after all. `queries` are those that the checks raise on the row as amended, each
    its id and what it says; None leaves those that there are.
    """

    case_id: str
    field: str
    value: Value
    day: date | None = None
    assessor: str = ""
    queries: Sequence[tuple[str, str]] | None = None
    mode: str = ""
    kind: str = ""

    @property
    def address(self) -> RowAddress:
        """The row that is meant."""
        return RowAddress(self.case_id, self.day, self.assessor, self.mode, self.kind)


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
    need_reason("an amendment", source)
    with changing(path, "amend", source, at, patience) as draft:
        field = _field(draft.protocol, amendment)
        row = _the_row(draft, amendment, field)
        was = row.values.get(field.id)
        if value_text(was) == value_text(amendment.value):
            raise RegisterRefused(f"{field.id} of {amendment.case_id} already is {_shown(was)}; nothing was changed")
        if field.id == "case_id":
            the_case(draft, str(amendment.value))
        _write(draft, row, field, amendment)
        return AmendmentResult(row.sheet, row.key, was, amendment.value, draft.number)


def withdraw_patient(
    path: Path, patient_id: str, *, source: Source, at: datetime, patience: Patience = PATIENT
) -> tuple[str, ...]:
    """The patient's rows are in no extract, count or later freeze afterwards; their past stays. Gives the case codes.

    A later file may still hold the patient: its rows are withheld. After a failure nothing is changed.
    """
    need_reason("a withdrawal", source)
    with changing(path, "withdraw", source, at, patience) as draft:
        patients = newest_rows(draft.con, draft.protocol, "patients")
        rows = [row for row in patients if row.values["patient_id"] == patient_id]
        if not rows:
            raise RegisterRefused(f'there is no patient "{patient_id}" in the register; check the code')
        if patient_id in withdrawn_codes(draft.con)["patient_id"]:
            raise RegisterRefused(f'the patient "{patient_id}" has already withdrawn; nothing was changed')
        cases = [row.values for row in current_rows(draft.con, draft.protocol, "reconstructions")]
        draft.add_version("patients", rows[0].record, rows[0].values, "withdrawn")
        return tuple(sorted(str(case["case_id"]) for case in cases if case["patient_id"] == patient_id))


def need_reason(what: str, source: Source) -> None:
    """Raise RegisterRefused for a change by hand that says no reason."""
    if not source.reason.strip():
        raise RegisterRefused(f"{what} needs a reason, which is kept with it; nothing was changed")


def the_case(draft: Draft, case_id: str) -> CurrentRow:
    """The reconstruction of that code; raises RegisterRefused when there is none, or its patient has withdrawn."""
    if case_id in withdrawn_codes(draft.con)["case_id"]:
        raise RegisterRefused(f'the patient of case "{case_id}" has withdrawn; nothing can be amended')
    newest = newest_rows(draft.con, draft.protocol, "reconstructions")
    cases = [row for row in newest if row.values["case_id"] == case_id]
    if not cases:
        raise RegisterRefused(f'there is no case "{case_id}" in the register; check the code')
    return min(cases, key=lambda row: row.removed)


def the_only(rows: list[CurrentRow], address: RowAddress, sheet: str) -> CurrentRow:
    """The one review or event of that day; raises RegisterRefused when there is none, or more than one."""
    meant = [row for row in rows if address.names(sheet, row.values)]
    if len(meant) == 1:
        return meant[0]
    what, case_id, day = sheet.removesuffix("s"), address.case_id, DAYS[sheet]
    if not meant:
        theirs = {str(row.values[day]) for row in rows if row.values["case_id"] == case_id}
        days = ", ".join(sorted(theirs)) or "none"
        raise RegisterRefused(f"{case_id} has no such {what} on {address.day}; its days: {days}")
    others = tuple(" ".join(filter(None, row.key[2:])) or "nobody named" for row in meant)
    remedy = "its kind" if sheet == "events" else "whose by naming the assessor (and the mode)"
    raise RegisterRefused(f"{case_id} has {len(meant)} {sheet} on {address.day}; say {remedy}", others)


def _field(protocol: Protocol, amendment: Amendment) -> Field:
    """The field that is meant: its sheet follows from whether a day is given."""
    sheets = amendment.address.sheets
    named = {field.id: field for sheet in reversed(sheets) for field in protocol.sheet(sheet)}
    if amendment.field in _CODES and (amendment.day is None or amendment.field == "patient_id"):
        raise RegisterRefused(
            "a study code cannot be amended: it ties rows together; erase the rows and load them anew"
        )
    if amendment.field in named:
        return named[amendment.field]
    if any(field.id == amendment.field for field in protocol.fields):
        remedy = "give the day of the review or event" if amendment.day is None else "leave out the day"
        raise RegisterRefused(f"{amendment.field} is no field of {' or '.join(sheets)}; {remedy}")
    near = difflib.get_close_matches(amendment.field, list(named), n=1)
    raise RegisterRefused(
        f'there is no field "{amendment.field}"'
        + (f'; did you mean "{near[0]}"?' if near else "; see the template for their names")
    )


def _the_row(draft: Draft, amendment: Amendment, field: Field) -> CurrentRow:
    case = the_case(draft, amendment.case_id)
    if case.removed:
        raise RegisterRefused(f'the case "{amendment.case_id}" was removed; `outcomes restore-row` brings it back')
    if field.sheet == "reconstructions":
        return case
    rows = current_rows(draft.con, draft.protocol, field.sheet)
    if field.sheet == "patients":
        return next(row for row in rows if row.values["patient_id"] == case.values["patient_id"])
    return the_only(rows, amendment.address, field.sheet)


def _write(draft: Draft, row: CurrentRow, field: Field, amendment: Amendment) -> None:
    """The row's next version, and what the last file had said of every amended value in it."""
    if amendment.value is None and field.required:
        raise RegisterRefused(f"{field.id} is required and cannot be blank; nothing was changed")
    values: Values = {**row.values, field.id: amendment.value}
    draft.add_version(row.sheet, row.record, {name: value for name, value in values.items() if value is not None})
    for name, said in {field.id: value_text(row.values.get(field.id)), **row.amended}.items():
        if said != value_text(values.get(name)):
            draft.add_overruled(row.sheet, row.record, name, said)
    for query_id, says in row.queries if amendment.queries is None else amendment.queries:
        draft.add_query(row.sheet, row.record, query_id, says)


def _shown(value: Value) -> str:
    return "not recorded" if value is None else f'"{value}"'
