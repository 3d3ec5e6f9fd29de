"""The end of observation for a dated event, at the boundaries of each way of capture, by hand."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from outcomes.cohort import event_times
from outcomes.cohort.observation import observation_ends
from outcomes.protocol import default_protocol
from tests.rows import AS_OF, DIVIDED, OPERATED, after, case, review, series_of, sheets

PROTOCOL = default_protocol()
TIMED = {timed.id: timed for timed in PROTOCOL.timed}
FIRST_END, SECOND_END, LAST_END, LAST_LENGTH = 21, 66, 2008, 2008 - 1644 + 1
"""Days after division on which the first, the second and the last window of the default schedule end, and its length."""


def ends(reviews=(), events=(), captured="contact", kinds=("recurrence",), **fields):
    protocol = replace(PROTOCOL, captured=tuple((kind, captured) for kind in kinds))
    series = series_of(sheets([case("A", **fields)], reviews, events), protocol=protocol)
    return observation_ends(series, tuple(kinds)).item(0, "watched_until")


def event(days, kind):
    return {"case_id": "A", "happened_on": after(days), "kind": kind}


@pytest.mark.parametrize("day, until", [
    (1, SECOND_END), (21, SECOND_END), (22, 136), (66, 136), (67, 273),
])  # fmt: skip
def test_contact_lasts_to_the_end_of_the_window_after_the_one_of_the_last_review(day, until):
    assert ends([review("A", day, notch_mm=0)]) == after(until)


@pytest.mark.parametrize("day, until", [
    (2008, LAST_END + LAST_LENGTH), (2009, LAST_END + 2 * LAST_LENGTH), (2008 + LAST_LENGTH, LAST_END + 2 * LAST_LENGTH),
    (2009 + LAST_LENGTH, LAST_END + 3 * LAST_LENGTH),
])  # fmt: skip
def test_beyond_the_last_window_its_length_is_added_again(day, until):
    long_ago = DIVIDED - timedelta(days=6000)
    rows = [{**review("A", 0, notch_mm=0), "reviewed_on": long_ago + timedelta(days=day)}]
    found = ends(rows, operated_on=long_ago - timedelta(days=31), divided_on=long_ago)
    assert found == min(long_ago + timedelta(days=until), AS_OF)


def test_never_reviewed_is_in_contact_to_the_end_of_the_first_window():
    assert ends() == after(FIRST_END)


def test_reviewed_before_division_only_is_as_never_reviewed():
    assert ends([{**review("A", 0), "reviewed_on": OPERATED + timedelta(days=10)}]) == after(FIRST_END)


def test_never_divided_is_counted_from_the_operation():
    operated = OPERATED
    assert ends(divided_on=None) == operated + timedelta(days=FIRST_END)
    reviewed = {**review("A", 0), "reviewed_on": operated + timedelta(days=30)}
    assert ends([reviewed], divided_on=None) == operated + timedelta(days=136)


def test_the_as_of_day_ends_it_if_sooner():
    assert ends([review("A", 800, notch_mm=0)]) == AS_OF


@pytest.mark.parametrize("away, moved", [(30, False), (31, True), (-30, False), (-31, True)])
def test_a_review_within_thirty_days_of_an_event_does_not_move_it(away, moved):
    rows = [review("A", 7, notch_mm=0), review("A", 200, notch_mm=0)]
    found = ends(rows, [event(200 + away, "revision")])
    assert found == (after(547) if moved else after(SECOND_END))


def test_telephone_counts_for_contact_and_not_for_what_is_found_by_looking():
    rows = [review("A", 100, notch_mm=0), {**review("A", 200), "mode": "telephone"}]
    assert ends(rows) == after(547)
    assert ends(rows, captured="reviews") == after(100)


def test_everything_heard_of_is_watched_to_the_as_of_day_but_for_withdrawal():
    rows = [review("A", 7, notch_mm=0)]
    assert ends(rows, captured="all") == AS_OF
    assert ends(rows, [event(90, "moved away")], captured="all") == AS_OF
    assert ends(rows, [event(90, "withdrawn")], captured="all") == after(90)


def test_moved_away_and_withdrawn_end_contact_on_their_day():
    rows = [review("A", 200, notch_mm=0)]
    for kind in ("moved away", "withdrawn"):
        assert ends(rows, [event(90, kind)]) == after(90)


def times(reviews, events, captured=()):
    protocol = replace(PROTOCOL, captured=captured or PROTOCOL.captured)
    series = series_of(sheets([case("A")], reviews, events), protocol=protocol)
    return event_times(series, TIMED["recurrence"]).select("days", "cause").row(0)


def since_operation(days):
    return days + (DIVIDED - OPERATED).days


@pytest.mark.parametrize("day, counted", [(66, True), (67, False)])
def test_an_event_counts_on_the_last_day_of_observation_and_not_after(day, counted):
    rows = [review("A", 7, notch_mm=0)]
    assert times(rows, [event(day, "recurrence")]) == (
        (since_operation(day), 1) if counted else (since_operation(66), 0)
    )
    assert times(rows, [event(day, "death")]) == ((since_operation(day), 2) if counted else (since_operation(66), 0))


def test_the_end_does_not_depend_on_whether_the_event_was_heard_of():
    rows = [review("A", 7, notch_mm=0), review("A", 400, notch_mm=0)]
    without = ends(rows)
    assert ends(rows, [event(500, "recurrence")]) == without


def test_a_linked_register_of_deaths_does_not_lengthen_what_is_found_at_reviews():
    rows = [review("A", 100, notch_mm=0)]
    captured = (("recurrence", "reviews"), ("death", "all"))
    assert times(rows, [event(300, "death")], captured) == (since_operation(100), 0)
    assert times(rows, [event(90, "death")], captured) == (since_operation(90), 2)


def test_the_register_of_the_contract_worked_by_hand():
    """Four lids, all divided on the same day; months are not needed: days and causes as the rule gives them."""
    cases = [case(name) for name in "ABCD"]
    reviews = [review("A", 183, notch_mm=0), review("B", 42, notch_mm=0), review("C", 7, notch_mm=0)]
    events = [
        {"case_id": "A", "happened_on": date(2025, 6, 1), "kind": "recurrence"},
        {"case_id": "B", "happened_on": after(500), "kind": "recurrence"},
        {"case_id": "C", "happened_on": after(60), "kind": "death"},
    ]
    found = event_times(series_of(sheets(cases, reviews, events)), TIMED["recurrence"]).select("days", "cause").rows()
    assert found == [
        ((date(2025, 6, 1) - OPERATED).days, 1),  # in contact to day 547
        (since_operation(136), 0),  # heard of after contact had ended at the end of the third window
        (since_operation(60), 2),  # the death lies in the second window
        (since_operation(FIRST_END), 0),
    ]
