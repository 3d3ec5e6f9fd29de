"""Loads and their repetition: what is stored, amended, skipped, and what the digest says."""

from dataclasses import replace
from datetime import date

import polars as pl
import pytest

from outcomes.errors import DataRefused, RegisterRefused
from outcomes.protocol import SheetRow, default_protocol
from outcomes.store import Source, check_register, create_register, reading, record_rows
from tests.store.clinic import AT, FILE, case, clinic, digest, event, made, patient, review


def test_what_is_loaded_is_held(tmp_path):
    with reading(made(tmp_path)) as register:
        held = register.held()
    assert {sheet: list(rows.values()) for sheet, rows in held.items()} == {
        sheet: [row.values for row in clinic() if row.sheet == sheet] for sheet in held
    }
    assert all(row.key in held[row.sheet] for row in clinic())


def test_a_repeated_load_is_skipped_and_leaves_no_byte_changed(tmp_path):
    path = made(tmp_path)
    before = path.read_bytes()
    again = record_rows(path, clinic(), source=FILE, at=AT)
    assert dict(again.skipped) == {"patients": 3, "reconstructions": 3, "reviews": 3, "events": 3}
    assert (again.change, dict(again.stored), dict(again.amended)) == (None, {}, {})
    assert path.read_bytes() == before


def test_a_changed_row_is_an_amendment_and_keeps_its_predecessor(tmp_path):
    path = made(tmp_path)
    second = Source(file="clinic 2.xlsx", digest="cd" * 32, who="NB", reason="measured again")
    row = replace(review(1, retraction_mm=2.0, oedema=None), erases=frozenset({"oedema"}))
    done = record_rows(path, [row], source=second, at=AT)
    assert (dict(done.amended), dict(done.stored)) == ({"reviews": 1}, {})
    with reading(path) as register:
        past = [entry for entry in register.history("C1") if entry.change == done.change]
    assert [(entry.field, entry.was, entry.value) for entry in past] == [
        ("retraction_mm", 0.5, 2.0),
        ("oedema", 1, None),
    ]
    assert {(entry.file, entry.file_digest, entry.who, entry.reason, entry.at, entry.day) for entry in past} == {
        ("clinic 2.xlsx", "cd" * 32, "NB", "measured again", AT, date(2025, 4, 28)),
    }


def test_a_value_that_the_sheet_does_not_give_is_kept(tmp_path):
    path = made(tmp_path)
    done = record_rows(path, [review(1, retraction_mm=None, oedema=None)], source=FILE, at=AT)
    assert (done.change, done.skipped) == (None, {"reviews": 1})
    record_rows(path, [review(1, retraction_mm=2.0, oedema=None)], source=FILE, at=AT)
    with reading(path) as register:
        row = register.held()["reviews"]["C1", "2025-04-28", "NB", "clinic"]
    assert (row["retraction_mm"], row["oedema"]) == (2.0, 1)


def test_a_case_that_was_loaded_once_has_each_value_once_in_its_history(tmp_path):
    with reading(made(tmp_path)) as register:
        past = register.history("C2")
    expected = [row.values for row in clinic() if row.sheet == "patients" and row.values["patient_id"] == "P2"]
    expected += [row.values for row in clinic() if row.values.get("case_id") == "C2"]
    assert sorted((entry.field, str(entry.value)) for entry in past) == sorted(
        (name, str(value)) for values in expected for name, value in values.items()
    )
    assert {entry.was for entry in past} == {None}


def test_the_digest_does_not_depend_on_the_order_of_rows_or_loads(tmp_path):
    for name in ("forwards", "backwards", "piecewise"):
        (tmp_path / name).mkdir()
    forwards = made(tmp_path / "forwards")
    backwards = made(tmp_path / "backwards", clinic()[::-1])
    piecewise = made(tmp_path / "piecewise", [row for row in clinic() if row.key[0] in {"P3", "C3"}])
    record_rows(piecewise, clinic(), source=FILE, at=AT)
    assert digest(forwards) == digest(backwards) == digest(piecewise)


def test_an_amendment_taken_back_gives_the_digest_from_before(tmp_path):
    path = made(tmp_path)
    before = digest(path)
    record_rows(path, [review(1, retraction_mm=2.0)], source=FILE, at=AT)
    amended = digest(path)
    record_rows(path, [review(1)], source=FILE, at=AT)
    assert before == digest(path) != amended


@pytest.mark.parametrize(
    "row",
    [
        patient(1, sex="male"),
        case(1, snap_back=3),
        review(1, oedema=2),
        review(1, days=91),
        event(1, percent_lost=5.0),
        patient(9),
    ],
    ids=["patient", "reconstruction", "value of a review", "day of a review", "event", "new patient"],
)
def test_every_kind_of_difference_changes_the_digest(tmp_path, row):
    path = made(tmp_path)
    before = digest(path)
    record_rows(path, [row], source=FILE, at=AT)
    assert digest(path) != before


def test_a_refused_load_changes_nothing(tmp_path):
    path = made(tmp_path)
    before = digest(path)
    lost = [patient(7), review(7)]
    with pytest.raises(RegisterRefused) as refused:
        record_rows(path, lost, source=FILE, at=AT)
    assert refused.value.reasons == ("review of C7 on 2025-04-28: its case is not in the register",)
    with pytest.raises(DataRefused, match="nothing was stored"):
        record_rows(path, [patient(8), SheetRow("patients", 9, {"patient_id": "P8"})], source=FILE, at=AT)
    with pytest.raises(DataRefused, match="nothing was stored"):
        record_rows(path, [patient(8, sex="fe\nmale")], source=FILE, at=AT)
    assert digest(path) == before
    assert check_register(path) == ()


def test_rows_that_a_later_file_leaves_out_stay(tmp_path):
    path = made(tmp_path)
    record_rows(path, [patient(4)], source=FILE, at=AT)
    with reading(path) as register:
        assert len(register.held()["patients"]) == 4
        assert register.cases == 3


def test_extracts_are_typed_and_but_for_the_many_reviews_ordered_by_what_they_say(tmp_path):
    for name in ("one", "other"):
        (tmp_path / name).mkdir()
    rows = [*clinic(), review(1, days=30), review(1, days=30, assessor="AZ"), review(1, days=30, assessor=None)]
    frames = []
    for path in (made(tmp_path / "one", rows), made(tmp_path / "other", rows[::-1])):
        with reading(path) as register:
            frames.append(
                {
                    grain: pl.DataFrame(register.extract(grain))
                    for grain in ("patients", "reconstructions", "reviews", "observations", "events")
                }
            )
    for grain in ("patients", "reconstructions", "events"):
        assert frames[0][grain].equals(frames[1][grain])
    with reading(tmp_path / "one" / "register.duckdb") as register:
        spans = list(register.review_spans(size=2))
        parts = [pl.DataFrame(register.extract("observations", span)) for span in spans]
        assert len(spans) > 1
        assert pl.concat(parts).sort(pl.all()).equals(frames[0]["observations"].sort(pl.all()))
    said = [each["reviews"].join(each["observations"], on="review_id", how="left").drop("review_id") for each in frames]
    assert said[0].sort(pl.all()).equals(said[1].sort(pl.all()))
    reviews = frames[0]["reviews"].sort("case_id", "reviewed_on", "assessor", "mode")
    assert reviews.columns == ["review_id", "case_id", "reviewed_on", "assessor", "masked", "mode", "date_precision"]
    assert reviews["assessor"].to_list()[:4] == [None, "AZ", "NB", "NB"]
    assert frames[0]["observations"].schema == {"review_id": pl.Int32, "field": pl.String, "value": pl.Float64}
    assert frames[0]["reconstructions"].schema["operated_on"] == pl.Date
    assert frames[0]["reconstructions"].columns == [field.id for field in default_protocol().sheet("reconstructions")]
    assert frames[0]["patients"].schema["birth_year"] == pl.Float64


def test_queries_stay_with_the_version_that_raised_them(tmp_path):
    class Odd:
        sheet, key, query_id, says = "reconstructions", ("C1",), "little_tarsus", "less tarsus left than 4 mm"

    path = tmp_path / "register.duckdb"
    create_register(path, default_protocol())
    record_rows(path, clinic(), queries=[Odd], source=FILE, at=AT)
    record_rows(path, clinic(), queries=[Odd], source=FILE, at=AT)
    with reading(path) as register:
        assert register.extract("queries").fetchall() == [
            ("reconstructions", "C1", "little_tarsus", "less tarsus left than 4 mm")
        ]
    record_rows(path, [case(1, tarsus_left_mm=5.0)], source=FILE, at=AT)
    with reading(path) as register:
        assert register.extract("queries").fetchall() == []


def test_values_come_back_exactly(tmp_path):
    odd = {"defect_width_mm": 0.1 + 0.2, "distraction_mm": 1e-17, "fellow_logmar": -0.3, "surgeon": "Ærø 'x' \"y\"; --"}
    path = made(tmp_path, [patient(1), case(1, **odd)])
    with reading(path) as register:
        assert register.held()["reconstructions"]["C1",] == case(1, **odd).values
