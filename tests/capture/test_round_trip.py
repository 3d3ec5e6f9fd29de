"""A row comes back the same, whichever way it is written down, and when it is written down again."""

import tempfile
from datetime import date, timedelta
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.protocol import default_protocol
from tests.capture.clinic import AS_OF, checked, said, write_folder, write_workbook

PROTOCOL = default_protocol()
OPERATED, DIVIDED = date(2020, 3, 3), date(2020, 3, 24)
CASE = {
    "case_id": "C1", "patient_id": "P1", "side": "left", "operated_on": OPERATED, "divided_on": DIVIDED,
    "diagnosis": "basal cell carcinoma", "cover": "graft",
}  # fmt: skip
HELD = {
    "patients": {("P1",): {"patient_id": "P1"}},
    "reconstructions": {("C1",): CASE},
    "reviews": {},
    "events": {},
}


def values_of(field):
    """Values that the field takes, as they are kept."""
    low, high = field.limits
    if field.kind == "code":
        return st.from_regex(r"[A-Z]{1,3}-?[0-9]{1,5}", fullmatch=True)
    if field.kind == "grade":
        return st.integers(0, int(high))
    if field.kind in {"number", "acuity"}:
        return st.integers(round(low * 10), round(high * 10)).map(lambda tenth: tenth / 10)
    if field.kind == "date":
        return st.dates(DIVIDED + timedelta(1), AS_OF)
    if field.kind == "year":
        return st.integers(int(low), 2019)
    return st.sampled_from(field.allowed)


def rows_of(sheet, **fixed):
    """Whole rows of a sheet: the fixed values, and some of the others."""
    others = {field.id: values_of(field) for field in PROTOCOL.sheet(sheet) if field.id not in fixed}
    required = {field.id for field in PROTOCOL.sheet(sheet) if field.required} - fixed.keys()
    return st.fixed_dictionaries(
        {name: others[name] for name in required},
        optional={name: values for name, values in others.items() if name not in required},
    ).map(lambda row: lawful(sheet, {**fixed, **row}))


def lawful(sheet, row):
    """The row without what its other cells forbid."""
    if row.get("mode") in {"telephone", "letter"}:
        row = {name: value for name, value in row.items() if PROTOCOL.field(sheet, name).unit != "mm"}
    for name in list(row):
        field = PROTOCOL.field(sheet, name)
        if field.only_with_field and row.get(field.only_with_field) not in field.only_with_values:
            del row[name]
    return row


REVIEWS = st.lists(
    rows_of("reviews", case_id="C1"), min_size=1, max_size=4,
    unique_by=lambda row: (row["reviewed_on"], row.get("assessor"), row.get("mode")),
)  # fmt: skip
CASES = st.lists(
    rows_of("reconstructions", patient_id="P1", operated_on=OPERATED, divided_on=DIVIDED), min_size=1, max_size=3,
    unique_by=lambda row: row["case_id"],
)  # fmt: skip
PATIENTS = st.lists(rows_of("patients"), min_size=1, max_size=3, unique_by=lambda row: row["patient_id"])


def read_every_way(sheets):
    with tempfile.TemporaryDirectory() as place:
        ways = [
            write_workbook(Path(place) / "clinic.xlsx", sheets),
            write_folder(Path(place) / "comma", sheets),
            write_folder(Path(place) / "semicolon", sheets, separator=";", encoding="utf-8-sig", end="\r\n"),
        ]
        outcomes = [checked(way, held=HELD) for way in ways]
    for outcome in outcomes:
        assert said(outcome) == []
    return [[row.values for row in outcome.rows] for outcome in outcomes]


@settings(max_examples=25, deadline=None)
@given(
    st.one_of(
        REVIEWS.map(lambda r: {"reviews": r}),
        CASES.map(lambda r: {"reconstructions": r}),
        PATIENTS.map(lambda r: {"patients": r}),
    )
)
def test_rows_come_back_as_they_were_and_reading_again_changes_nothing(sheets):
    [(sheet, written)] = sheets.items()
    first, *others = read_every_way(sheets)
    assert first == written
    assert all(other == first for other in others)
    assert read_every_way({sheet: first})[0] == first


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(PROTOCOL.fields).flatmap(lambda field: st.tuples(st.just(field), values_of(field))))
def test_a_value_that_was_read_is_read_as_itself(drawn):
    field, value = drawn
    once = field.read(value, as_of=AS_OF)
    assert once.problem == ""
    assert field.read(once.value, as_of=AS_OF) == once
    assert field.read(str(once.value), as_of=AS_OF) == once


@settings(max_examples=300, deadline=None)
@given(
    st.sampled_from(PROTOCOL.fields),
    st.one_of(st.text(max_size=30), st.integers(), st.floats(), st.booleans(), st.dates(), st.datetimes(), st.none()),
)
def test_any_cell_at_all_is_read_or_refused(field, cell):
    reading = field.read(cell, as_of=AS_OF)
    assert reading.value is None or reading.problem == ""
    if reading.value is not None:
        assert field.read(reading.value, as_of=AS_OF) == reading
