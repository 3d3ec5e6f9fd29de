"""Wrong rows are taken out and brought back, and stay out whatever is loaded."""

from datetime import date

import pytest

from outcomes.errors import OutcomesError
from outcomes.protocol import RowAddress
from outcomes.store import (
    Amendment,
    Source,
    amend_value,
    check_register,
    freeze,
    reading,
    reading_frozen,
    record_rows,
    remove_row,
    restore_row,
)
from tests.store.clinic import AT, FILE, clinic, digest, made, review

WHY = Source(who="NB", reason="entered for the wrong lid")
REVIEW, EVENT = RowAddress("C1", date(2025, 4, 28)), RowAddress("C1", date(2025, 2, 3), kind="infection")


def held(path):
    with reading(path) as register:
        return {sheet: sorted(rows) for sheet, rows in register.held().items()}


@pytest.mark.parametrize(
    "address, gone",
    [(REVIEW, ["reviews"]), (EVENT, ["events"]), (RowAddress("C1"), ["reconstructions", "reviews", "events"])],
)
def test_a_removed_row_is_in_no_extract_and_comes_back_as_it_was(tmp_path, address, gone):
    path = made(tmp_path)
    before, rows = digest(path), held(path)
    remove_row(path, address, source=WHY, at=AT)
    left = held(path)
    assert [sheet for sheet in rows if left[sheet] != rows[sheet]] == gone
    assert all(key[0] != "C1" for sheet in gone for key in left[sheet])
    freeze(path, "without", source=WHY, at=AT)
    with reading_frozen(path, "without") as frozen:
        assert {sheet: sorted(each) for sheet, each in frozen.held().items()} == left
    with reading(path) as register:
        [past] = [each for each in register.history("C1") if each.change == 2]
    assert (past.field, past.was, past.value, past.kind, past.reason) == (
        "removed", None, "yes", "remove", "entered for the wrong lid",
    )  # fmt: skip
    restore_row(path, address, source=WHY, at=AT)
    assert (digest(path), held(path), check_register(path)) == (before, rows, ())


def test_what_was_removed_stays_removed_when_it_is_loaded_again(tmp_path):
    path = made(tmp_path)
    remove_row(path, REVIEW, source=WHY, at=AT)
    remove_row(path, RowAddress("C2"), source=WHY, at=AT)
    again = record_rows(path, [*clinic(), review(2, days=200)], source=FILE, at=AT)
    assert (again.change, dict(again.stored), dict(again.amended)) == (None, {}, {})
    assert [(sheet, key[:2]) for sheet, key in again.removed] == [
        ("reconstructions", ("C2",)),
        ("reviews", ("C1", "2025-04-28")),
        ("reviews", ("C2", "2025-04-28")),
        ("reviews", ("C2", "2025-08-16")),
        ("events", ("C2", "2025-02-03")),
    ]


def test_a_removed_review_whose_date_was_amended_stays_removed_under_both(tmp_path):
    path = made(tmp_path)
    amend_value(path, Amendment("C1", "reviewed_on", date(2025, 4, 29), date(2025, 4, 28)), source=WHY, at=AT)
    remove_row(path, RowAddress("C1", date(2025, 4, 29)), source=WHY, at=AT)
    for days in (90, 91):
        assert record_rows(path, [review(1, days=days)], source=FILE, at=AT).change is None


@pytest.mark.parametrize(
    "act, address, says",
    [
        (remove_row, RowAddress("C9"), "no case"),
        (remove_row, RowAddress("C1", date(2025, 4, 1)), "its days: 2025-04-28"),
        (remove_row, RowAddress("C1", date(2025, 2, 3), kind="revision"), "no such event"),
        (restore_row, RowAddress("C1"), "is not removed"),
        (restore_row, REVIEW, "no such review"),
    ],
)
def test_what_is_not_there_is_said(tmp_path, act, address, says):
    path = made(tmp_path)
    before = digest(path)
    with pytest.raises(OutcomesError, match=says):
        act(path, address, source=WHY, at=AT)
    with pytest.raises(OutcomesError, match="needs a reason"):
        act(path, address, source=Source(who="NB"), at=AT)
    assert digest(path) == before


def test_a_row_of_a_removed_case_is_not_touched(tmp_path):
    path = made(tmp_path)
    remove_row(path, RowAddress("C1"), source=WHY, at=AT)
    for act in (remove_row, restore_row):
        with pytest.raises(OutcomesError, match="bring it back first"):
            act(path, REVIEW, source=WHY, at=AT)
    with pytest.raises(OutcomesError, match="was removed"):
        amend_value(path, Amendment("C1", "side", "left"), source=WHY, at=AT)
    with pytest.raises(OutcomesError, match="already removed"):
        remove_row(path, RowAddress("C1"), source=WHY, at=AT)


def test_a_removed_row_does_not_bar_another_of_its_key(tmp_path):
    path = made(tmp_path, [*clinic(), review(1, days=91)])
    remove_row(path, REVIEW, source=WHY, at=AT)
    amend_value(path, Amendment("C1", "reviewed_on", date(2025, 4, 28), date(2025, 4, 29)), source=WHY, at=AT)
    with pytest.raises(OutcomesError) as refused:
        restore_row(path, REVIEW, source=WHY, at=AT)
    assert "stands twice" in refused.value.reasons[0]


def test_the_case_of_a_review_is_amended_and_both_histories_say_so(tmp_path):
    path = made(tmp_path)
    record_rows(path, [review(1, days=200)], source=FILE, at=AT)
    done = amend_value(path, Amendment("C1", "case_id", "C2", date(2025, 8, 16)), source=WHY, at=AT)
    assert (done.was, done.value) == ("C1", "C2")
    for case_id in ("C1", "C2"):
        with reading(path) as register:
            assert ("case_id", "C1", "C2") in [(e.field, e.was, e.value) for e in register.history(case_id)]
    assert record_rows(path, [review(1, days=200)], source=FILE, at=AT).change is None
    with pytest.raises(OutcomesError, match="no case"):
        amend_value(path, Amendment("C2", "case_id", "C9", date(2025, 8, 16)), source=WHY, at=AT)
