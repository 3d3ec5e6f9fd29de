"""Amendments by hand and withdrawals: what stands, what is kept, and what a repeated file may not undo."""

from datetime import date

import pytest

from outcomes.errors import RegisterRefused
from outcomes.store import Amendment, Source, amend_value, check_register, reading, record_rows, withdraw_patient
from tests.store.clinic import AT, FILE, case, clinic, event, made, patient, review

HAND = Source(who="NB", reason="read the ruler wrongly")
DAY = date(2025, 4, 28)


def held(path, sheet, *key):
    with reading(path) as register:
        return register.held()[sheet].get(key)


def amended(path, *args, **more):
    return amend_value(path, Amendment(*args, **more), source=HAND, at=AT)


def test_an_amended_value_stands_and_its_predecessor_is_kept(tmp_path):
    path = made(tmp_path)
    done = amended(path, "C1", "retraction_mm", 1.5, DAY)
    assert (done.was, done.value, done.key) == (0.5, 1.5, ("C1", "2025-04-28", "NB", "clinic"))
    assert held(path, "reviews", *done.key) == review(1, retraction_mm=1.5).values
    with reading(path) as register:
        last = register.history("C1")[-1]
    assert (last.kind, last.field, last.was, last.value, last.who, last.reason) == (
        "amend",
        "retraction_mm",
        0.5,
        1.5,
        "NB",
        "read the ruler wrongly",
    )


@pytest.mark.parametrize(
    "args, sheet, key",
    [
        (("C1", "snap_back", 4), "reconstructions", ("C1",)),
        (("C1", "smoker", "never"), "patients", ("P1",)),
        (("C1", "revision_kind", "z", date(2025, 2, 3)), "events", ("C1", "2025-02-03", "infection")),
        (("C1", "oedema", 0, DAY), "reviews", ("C1", "2025-04-28", "NB", "clinic")),
    ],
)
def test_a_value_of_every_sheet_can_be_amended(tmp_path, args, sheet, key):
    path = made(tmp_path)
    amended(path, *args)
    assert held(path, sheet, *key)[args[1]] == args[2]


def test_a_value_can_be_amended_to_not_recorded(tmp_path):
    path = made(tmp_path)
    amended(path, "C1", "oedema", None, DAY)
    assert held(path, "reviews", "C1", "2025-04-28", "NB", "clinic") == review(1, oedema=None).values


def test_the_same_file_again_does_not_undo_an_amendment(tmp_path):
    path = made(tmp_path)
    amended(path, "C1", "retraction_mm", 1.5, DAY)
    again = record_rows(path, clinic(), source=FILE, at=AT)
    assert again.change is None
    assert [(each.field, each.said, each.stands) for each in again.overruled] == [("retraction_mm", "0.5", 1.5)]
    assert held(path, "reviews", "C1", "2025-04-28", "NB", "clinic")["retraction_mm"] == 1.5


def test_a_file_that_says_something_new_elsewhere_keeps_the_amendment(tmp_path):
    path = made(tmp_path)
    amended(path, "C1", "retraction_mm", 1.5, DAY)
    for _ in range(2):
        record_rows(path, [review(1, oedema=3)], source=FILE, at=AT)
        assert (
            held(path, "reviews", "C1", "2025-04-28", "NB", "clinic") == review(1, oedema=3, retraction_mm=1.5).values
        )


def test_a_file_that_says_something_new_about_the_amended_value_wins(tmp_path):
    path = made(tmp_path)
    amended(path, "C1", "retraction_mm", 1.5, DAY)
    done = record_rows(path, [review(1, retraction_mm=2.5)], source=FILE, at=AT)
    assert (done.overruled, dict(done.amended)) == ((), {"reviews": 1})
    assert held(path, "reviews", "C1", "2025-04-28", "NB", "clinic")["retraction_mm"] == 2.5


def test_a_review_whose_date_was_amended_is_not_stored_twice_by_the_same_file(tmp_path):
    path = made(tmp_path)
    amended(path, "C1", "reviewed_on", date(2025, 4, 29), DAY)
    again = record_rows(path, clinic(), source=FILE, at=AT)
    assert (again.change, again.skipped["reviews"]) == (None, 3)
    corrected = [row for row in clinic() if row != review(1)] + [review(1, days=91)]
    settled = record_rows(path, corrected, source=FILE, at=AT)  # the sheet agrees now: the amendment is settled
    assert (settled.change, settled.skipped["reviews"], dict(settled.amended)) == (3, 3, {})
    assert record_rows(path, corrected, source=FILE, at=AT).change is None


def test_what_cannot_be_amended_is_said(tmp_path):
    path = made(tmp_path, [*clinic(), review(1, assessor="AZ")])
    with reading(path) as register:
        before = register.digest
    for args, says in (
        (("C9", "side", "left"), "no case"),
        (("C1", "retractoin_mm", 1.0, DAY), 'did you mean "retraction_mm"'),
        (("C1", "retraction_mm", 1.0), "give the day"),
        (("C1", "side", "left", DAY), "leave out the day"),
        (("C1", "retraction_mm", 1.0, date(2025, 4, 1)), "its days: 2025-04-28"),
        (("C1", "retraction_mm", 1.0, DAY), "2 reviews on 2025-04-28; say whose"),
        (("C1", "side", "right"), "already is"),
        (("C1", "side", None), "required"),
        (("C1", "patient_id", "P2"), "study code"),
        (("C1", "assessor", "AZ", DAY, "NB"), "does not fit"),
    ):
        with pytest.raises(RegisterRefused, match=says):
            amended(path, *args)
    with pytest.raises(RegisterRefused, match="reason"):
        amend_value(path, Amendment("C1", "side", "left"), source=Source(who="NB"), at=AT)
    amended(path, "C1", "retraction_mm", 0.75, DAY, assessor="AZ")
    amended(path, "C1", "retraction_mm", 0.5, DAY, assessor="AZ")
    with reading(path) as register:
        assert register.digest == before


def test_an_amendment_keeps_open_queries_unless_new_ones_are_given(tmp_path):
    class Odd:
        sheet, key, query_id, says = "reconstructions", ("C1",), "little_tarsus", "less tarsus left than 4 mm"

    path = made(tmp_path, [])
    record_rows(path, clinic(), queries=[Odd], source=FILE, at=AT)
    amended(path, "C1", "snap_back", 3)
    with reading(path) as register:
        assert len(register.extract("queries").fetchall()) == 1
    amended(path, "C1", "tarsus_left_mm", 5.0, queries=())
    with reading(path) as register:
        assert len(register.extract("queries").fetchall()) == 0


def test_a_withdrawn_patient_is_in_no_extract_and_comes_back_with_no_file(tmp_path):
    path = made(tmp_path)
    assert withdraw_patient(path, "P2", source=HAND, at=AT) == ("C2",)
    again = record_rows(path, [*clinic(), review(2, days=400), event(2, kind="death")], source=FILE, at=AT)
    assert dict(again.withheld) == {"patients": 1, "reconstructions": 1, "reviews": 2, "events": 2}
    with reading(path) as register:
        shown = [
            str(register.extract(grain).fetchall()) for grain in ("patients", "reconstructions", "reviews", "events")
        ]
        assert register.cases == 2
        assert all("P2" not in rows and "C2" not in rows for rows in shown)
        assert register.history("C2")[-1].reason == HAND.reason
        withdrawn = register.digest
    assert check_register(path) == ()
    (tmp_path / "without").mkdir()
    without = made(tmp_path / "without", [row for row in clinic() if row.key[0] not in {"P2", "C2"}])
    with reading(without) as register:
        assert register.digest == withdrawn
    for refused in (
        lambda: withdraw_patient(path, "P2", source=HAND, at=AT),
        lambda: amended(path, "C2", "side", "left"),
    ):
        with pytest.raises(RegisterRefused, match="withdrawn"):
            refused()


def test_a_new_case_of_a_withdrawn_patient_is_withheld(tmp_path):
    path = made(tmp_path)
    withdraw_patient(path, "P2", source=HAND, at=AT)
    done = record_rows(path, [patient(5), case(5, patient_id="P2"), review(5)], source=FILE, at=AT)
    assert (dict(done.stored), dict(done.withheld)) == ({"patients": 1}, {"reconstructions": 1, "reviews": 1})
