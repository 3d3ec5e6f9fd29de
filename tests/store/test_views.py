"""The documented views at their boundaries: day 0, the ends of a window, ties, the first end. Expected by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from outcomes.protocol import RowAddress, default_protocol
from outcomes.store import Amendment, Source, amend_value, reading, remove_row
from outcomes.store.connection import open_beside
from outcomes.store.query.views import VIEWS, make_views, needed_views
from tests.rows import DIVIDED, OPERATED, after, case, register_at, review, sheets
from tests.store.clinic import AT

pytestmark = pytest.mark.quick

PROTOCOL = default_protocol()
CASES = {
    # Six months is day 137 to 273, nominal 183.
    "tie": [review("tie", 173, notch_mm=1), review("tie", 193, notch_mm=2)],
    "tie_reversed": [review("tie_reversed", 193, notch_mm=2), review("tie_reversed", 173, notch_mm=1)],
    "tie_masked": [
        review("tie_masked", 173, notch_mm=1, masked="yes", assessor="GR"),
        review("tie_masked", 193, notch_mm=2),
    ],
    "nearer": [review("nearer", 174, notch_mm=1), review("nearer", 193, notch_mm=2)],
    "one_day": [review("one_day", 180, notch_mm=1), review("one_day", 180, notch_mm=2, masked="yes", assessor="ZZ")],
    "two_masked": [
        review("two_masked", 180, notch_mm=number, masked="yes", assessor=who) for number, who in ((2, "CD"), (1, "AB"))
    ],
    "first_day": [review("first_day", 137, notch_mm=1), review("first_day", 136, notch_mm=2)],
    "last_day": [review("last_day", 273, notch_mm=1), review("last_day", 274, notch_mm=2)],
    "day_0": [review("day_0", 0, notch_mm=1)],
    "before": [review("before", -3, notch_mm=1)],
    "both_lids": [review("both_lids", 183, margin_position_mm=6.5, fellow_margin_position_mm=5, retraction_mm=0)],
    "unseen": [],
}
EVENTS = [
    {"case_id": "tie", "happened_on": after(400), "kind": "death"},
    {"case_id": "tie", "happened_on": after(300), "kind": "moved away"},
    {"case_id": "tie", "happened_on": after(100), "kind": "revision"},
    {"case_id": "day_0", "happened_on": DIVIDED, "kind": "infection"},
]


@pytest.fixture(scope="module")
def register(tmp_path_factory):
    rows = sheets(
        [case(name) for name in CASES] + [case("undivided", divided_on=None)],
        [each for reviews in CASES.values() for each in reviews],
        EVENTS,
    )
    return register_at(tmp_path_factory.mktemp("views") / "register.duckdb", rows)


@pytest.fixture(scope="module")
def con(register):
    with reading(register, open_it=open_beside) as held:
        make_views(held)
        yield held.con


def row(con, view, case_id, *names, where="true"):
    found = con.execute(f"select {', '.join(names)} from {view} where case_id = ? and {where}", [case_id]).fetchall()
    return found[0] if found else None


def in_window(con, case_id, window="six_months"):
    found = row(con, "window_values", case_id, "value", where=f"\"window\" = '{window}' and measure = 'notching'")
    return found and found[0]


@pytest.mark.parametrize(
    "case_id,value",
    [
        ("tie", 2.0), ("tie_reversed", 2.0), ("tie_masked", 2.0), ("nearer", 1.0), ("one_day", 2.0), ("two_masked", 1.0),
        ("first_day", 1.0), ("last_day", 1.0), ("day_0", None), ("unseen", None),
    ],
)  # fmt: skip
def test_the_value_that_counts_in_a_window(con, case_id, value):
    assert in_window(con, case_id) == value


def test_a_value_on_the_day_of_division_is_measured_and_in_no_window(con):
    assert row(con, "measured", "day_0", "value", "days_since_division") == (1.0, 0)
    assert row(con, "window_values", "day_0", "value") is None


def test_a_value_before_division_is_not_measured(con):
    assert row(con, "measured", "before", "value") is None


def test_a_window_from_day_0_does_not_take_the_day_of_division(register):
    one_week = replace(PROTOCOL.window("one_week"), days=(0, 14))
    with reading(register, open_it=open_beside) as held:
        make_views(replace(held, protocol=replace(PROTOCOL, windows=(one_week,))))
        assert row(held.con, "measured", "day_0", "value") == (1.0,)
        assert row(held.con, "window_values", "day_0", "value") is None


def test_a_review_on_the_day_of_division_is_one_of_follow_up(con):
    assert row(con, "follow_up", "day_0", "reviews", "last_review_on", "months_followed") == (1, DIVIDED, 0.0)


def test_a_review_before_division_is_none_of_follow_up(con):
    assert row(con, "follow_up", "before", "reviews", "last_review_on", "last_known_on") == (0, None, DIVIDED)


def test_follow_up_ends_with_the_first_end_and_no_revision_is_one(con):
    assert row(con, "follow_up", "tie", "ended_on", "ended_by") == (after(300), "moved away")
    assert row(con, "follow_up", "day_0", "ended_on", "ended_by") == (None, None)


@pytest.mark.parametrize(
    "case_id,last", [("tie", after(400)), ("last_day", after(274)), ("unseen", DIVIDED), ("undivided", OPERATED)]
)
def test_the_last_known_day_is_the_latest_of_operation_division_reviews_and_events(con, case_id, last):
    assert row(con, "follow_up", case_id, "last_known_on") == (last,)


def test_months_followed_run_from_division_to_the_last_review(con):
    reviews, months = row(con, "follow_up", "last_day", "reviews", "months_followed")
    assert (reviews, round(months * 30.4375, 6)) == (2, 274)


def test_days_of_an_event_are_counted_on_both_clocks(con):
    assert row(con, "events", "day_0", "days_since_operation", "days_since_division") == (31, 0)


def test_the_value_of_both_lids_stands_before_the_entered_one(con):
    assert row(con, "measured", "both_lids", "value", "poor", where="measure = 'retraction'") == (1.5, True)


@pytest.mark.parametrize("case_id,poor", [("tie", True), ("day_0", True)])
def test_a_value_at_the_bound_is_poor(con, case_id, poor):
    assert row(con, "measured", case_id, "value", "poor", where="measure = 'notching'") == (1.0, poor)


@pytest.mark.parametrize("name", VIEWS)
def test_a_view_is_the_same_without_those_that_it_does_not_need(name, tmp_path):
    path = register_at(tmp_path / "r.duckdb", sheets([case("A")], [review("A", 183, notch_mm=1)], EVENTS[:0]))
    with reading(path, open_it=open_beside) as whole, reading(path, open_it=open_beside) as part:
        make_views(whole)
        make_views(part, [name])
        assert part.con.execute(f"from {name}").fetchall() == whole.con.execute(f"from {name}").fetchall()
        names = "from information_schema.tables where table_catalog = 'question' and table_schema = 'main'"
        made = {view for (view,) in part.con.execute(f"select table_name {names}").fetchall()}
    assert name in made
    assert made == set(needed_views([name]))


def test_a_question_of_cases_copies_no_review():
    assert needed_views(["cases"]) == ("cases",)
    assert needed_views(["window_values"]) == ("measures", "windows", "cases", "measured", "window_values")


@pytest.mark.parametrize("view", ["reviews", "measured", "window_values"])
def test_what_was_amended_or_removed_is_in_no_view(view, tmp_path):
    """Reviews and their values are read where they lie, beside their past."""
    path = register_at(
        tmp_path / "r.duckdb",
        sheets(
            [case("A")], [review("A", 183, notch_mm=1), review("A", 193, notch_mm=2), review("A", 365, notch_mm=3)], []
        ),
    )
    why = Source(who="NB", reason="typed wrongly")
    amend_value(path, Amendment("A", "notch_mm", 4.0, after(183)), source=why, at=AT)
    remove_row(path, RowAddress("A", after(365)), source=why, at=AT)
    with reading(path, open_it=open_beside) as held:
        make_views(held)
        value = "notch_mm" if view == "reviews" else "value"
        kept = held.con.execute(f"select {value} from {view} order by all").fetchall()
        assert kept == ([(4.0,)] if view == "window_values" else [(2.0,), (4.0,)])
