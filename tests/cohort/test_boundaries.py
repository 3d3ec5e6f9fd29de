"""Boundaries of the cohort: day 0, the ends of a window, ties, the as-of day, the end of follow-up. Expected by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import polars as pl
import pytest

from outcomes.cohort import (
    DAYS_IN_MONTH,
    MISSING,
    NOT_APPLICABLE,
    NOT_DUE,
    SEEN,
    event_intervals,
    event_times,
    followed,
    never_reviewed,
    states,
)
from outcomes.cohort.characteristics import with_characteristics
from outcomes.cohort.measurements import measured_reviews, reviews_of_span
from outcomes.protocol import default_protocol
from tests.rows import AS_OF, DIVIDED, OPERATED, after, case, review, series_of, sheets

PROTOCOL = default_protocol()
TIMED = {timed.id: timed for timed in PROTOCOL.timed}
WINDOWS = {window.id: window for window in PROTOCOL.windows}
RECURRENCE, SETTLED = TIMED["recurrence"], TIMED["oedema_settled"]
ONE_DAY = timedelta(days=1)


def event(case_id, on, kind):
    return {"case_id": case_id, "happened_on": on, "kind": kind}


def row_of(found, case_id="A"):
    return found.filter(pl.col("case_id") == case_id).row(0, named=True)


def state_row(rows, *, window="six_months", measure="notching", clock="division", masked=None, **selection):
    found = states(series_of(rows, **selection), clock=clock, masked=masked)
    return found.filter((pl.col("window") == window) & (pl.col("measure") == measure)).row(0, named=True)


# Day 0.


def test_a_review_on_the_day_of_division_is_a_value_but_of_no_window():
    rows = sheets([case("A")], [review("A", 0, notch_mm=2)])
    series = series_of(rows)
    assert series.measured.get_column("since_division").to_list() == [0]
    assert set(states(series).get_column("status").unique()) <= {MISSING, NOT_DUE}


def test_a_window_from_day_0_does_not_take_the_day_of_division():
    rules = replace(PROTOCOL, windows=(replace(WINDOWS["one_week"], days=(0, 14)),), primary_window="one_week")
    rows = sheets([case("A"), case("B")], [review("A", 0, notch_mm=2), review("B", 1, notch_mm=2)])
    found = states(series_of(rows, protocol=rules)).filter(pl.col("measure") == "notching")
    assert found.select("case_id", "status").rows() == [("A", MISSING), ("B", SEEN)]


def test_a_review_before_division_is_no_value():
    assert series_of(sheets([case("A")], [review("A", -1, notch_mm=2)])).measured.height == 0


def test_a_state_seen_on_the_day_of_division_is_not_yet_looked_at():
    series = series_of(
        sheets([case("A"), case("B")], [review("A", 0, oedema=0), *(review("B", day, oedema=0) for day in (1, 2))])
    )
    assert event_intervals(series, SETTLED).select("case_id", "left", "right").rows() == [("B", 0.0, 1.0)]
    assert never_reviewed(series, SETTLED).get_column("case_id").to_list() == ["A"]


@pytest.mark.parametrize("days,kept", [(-1, []), (0, [(0, 1)]), (1, [(1, 1)])])
def test_an_event_on_day_0_counts_and_one_before_it_takes_the_lid_out(days, kept):
    events = [event("A", OPERATED + timedelta(days=days), "recurrence")]
    found = event_times(series_of(sheets([case("A")], events=events)), RECURRENCE)
    assert found.select("days", "cause").rows() == kept


@pytest.mark.parametrize("days,left_out", [(-1, True), (0, False)])
def test_day_0_of_an_event_counted_from_division_is_the_day_of_division(days, left_out):
    since_division = replace(RECURRENCE, clock="division")
    found = event_times(series_of(sheets([case("A")], events=[event("A", after(days), "recurrence")])), since_division)
    assert found.is_empty() is left_out


def test_a_competing_event_before_day_0_leaves_no_time():
    found = event_times(series_of(sheets([case("A")], events=[event("A", OPERATED - ONE_DAY, "death")])), RECURRENCE)
    assert found.select("days", "cause").rows() == [(0, 2)]


def test_a_lid_without_day_0_has_no_time():
    since_division = replace(RECURRENCE, clock="division")
    assert event_times(series_of(sheets([case("A", divided_on=None)])), since_division).is_empty()
    assert never_reviewed(series_of(sheets([case("A", divided_on=None)])), SETTLED).is_empty()


def test_a_month_is_a_twelfth_of_a_year_of_365_and_a_quarter_days():
    assert DAYS_IN_MONTH == 30.4375


def test_a_value_is_kept_to_a_thousandth_so_that_a_difference_has_no_dust():
    given = {"margin_position_mm": 6.1, "fellow_margin_position_mm": 5.8, "notch_mm": 1.2345, "retraction_mm": 1.0}
    series = series_of(sheets([case("A")]))
    seen = pl.DataFrame({"review_id": 1, "field": list(given), "value": list(given.values())})
    reviews = pl.DataFrame(review("A", 1) | {"review_id": 1})
    span = reviews_of_span(reviews, seen, pl.DataFrame({"case_id": ["A"], "case": [0]}), PROTOCOL)
    series = replace(series, measured=measured_reviews(span.rename({"case": "lid"}), series.cases, PROTOCOL))
    known = {each.id: value for each in PROTOCOL.measures for value in series.values(each.id).value.tolist()}
    assert known == {"margin_position": 6.1, "notching": 1.234, "retraction": 0.3}


def test_of_values_alike_in_all_but_size_the_lesser_comes_first():
    photograph = review("A", 10, mode="photograph", notch_mm=1)
    for reviews in ([review("A", 10, notch_mm=2), photograph], [photograph, review("A", 10, notch_mm=2)]):
        values = series_of(sheets([case("A")], [*reviews, review("A", 5, notch_mm=3)])).values("notching")
        assert values.value.tolist() == [3.0, 1.0, 2.0]
        assert values.since["division"].tolist() == [5, 10, 10]


# The ends of a window, and ties in it.


@pytest.mark.parametrize("window", [window.id for window in PROTOCOL.windows if window.days[1] < 800])
def test_every_window_takes_its_first_and_its_last_day_and_no_other(window):
    first, last = WINDOWS[window].days
    seen = {
        day: state_row(sheets([case("A")], [review("A", day, notch_mm=1)]), window=window)["status"] == SEEN
        for day in (first - 1, first, last, last + 1)
    }
    assert list(seen.values()) == [False, True, True, False]


def test_of_two_equally_near_the_later_counts_in_whatever_order_they_stand():
    one, two = review("A", 183 - 10, notch_mm=1), review("A", 183 + 10, notch_mm=2)
    for reviews in ([one, two], [two, one]):
        assert state_row(sheets([case("A")], reviews))["value"] == 2.0


def test_one_day_nearer_counts_before_later():
    rows = sheets([case("A")], [review("A", 183 - 9, notch_mm=1), review("A", 183 + 10, notch_mm=2)])
    assert state_row(rows)["value"] == 1.0


def test_nearer_counts_before_masked():
    rows = sheets(
        [case("A")], [review("A", 183, notch_mm=1), review("A", 184, notch_mm=2, masked="yes", assessor="GR")]
    )
    assert state_row(rows)["value"] == 1.0


def test_of_two_equally_near_the_later_counts_before_the_masked():
    rows = sheets(
        [case("A")], [review("A", 173, notch_mm=1, masked="yes", assessor="GR"), review("A", 193, notch_mm=2)]
    )
    assert state_row(rows)["value"] == 2.0


@pytest.mark.parametrize("order", [1, -1])
def test_of_two_on_one_day_the_masked_counts_and_of_two_masked_the_first_assessor(order):
    both = [review("A", 180, notch_mm=n, masked="yes", assessor=who) for n, who in ((1, "AB"), (2, "CD"))]
    rows = sheets([case("A")], [review("A", 180, notch_mm=3, assessor="AA"), *both[::order]])
    assert state_row(rows)["value"] == 1.0


def test_a_review_whose_masking_is_not_recorded_comes_after_one_that_is_known_to_be_unmasked():
    rows = sheets([case("A")], [review("A", 180, notch_mm=1, masked=None, assessor="AA"), review("A", 180, notch_mm=2)])
    assert state_row(rows)["value"] == 2.0


@pytest.mark.parametrize("masked,value", [(True, 2.0), (False, 1.0)])
def test_only_reviews_of_the_kind_asked_for_count(masked, value):
    rows = sheets(
        [case("A")], [review("A", 183, notch_mm=1), review("A", 200, notch_mm=2, masked="yes", assessor="GR")]
    )
    assert state_row(rows, masked=masked)["value"] == value


# The as-of day itself.


@pytest.mark.parametrize("days,known", [(0, True), (1, False)])
def test_what_happened_on_the_as_of_day_is_known(days, known):
    on = AS_OF + timedelta(days=days)
    rows = sheets(
        [case("A"), case("B", operated_on=on, divided_on=None)],
        [review("A", (on - DIVIDED).days, notch_mm=1)],
        [event("A", on, "revision")],
    )
    series = series_of(rows)
    assert ("B" in series.cases.get_column("case_id").to_list()) is known
    assert (series.reviews.height == 1, series.measured.height == 1, series.events.height == 1) == (known,) * 3


@pytest.mark.parametrize("days,divided_on", [(0, DIVIDED), (-1, None)])
def test_a_division_on_the_as_of_day_is_known(days, divided_on):
    series = series_of(sheets([case("A")]), as_of=DIVIDED + timedelta(days=days))
    assert series.cases.item(0, "divided_on") == divided_on


@pytest.mark.parametrize("planned,expected", [(AS_OF, NOT_APPLICABLE), (AS_OF + ONE_DAY, NOT_DUE)])
def test_a_division_planned_for_the_as_of_day_is_no_longer_ahead(planned, expected):
    rows = sheets([case("A", divided_on=None, division_planned_on=planned)])
    assert state_row(rows)["status"] == expected


def test_a_division_ahead_is_not_due_only_while_the_patient_lives():
    rows = sheets(
        [case("A", divided_on=None, division_planned_on=AS_OF + ONE_DAY)], events=[event("A", AS_OF, "death")]
    )
    assert state_row(rows)["status"] == NOT_APPLICABLE


@pytest.mark.parametrize(
    "end,days,kept", [("operated_from", 0, 1), ("operated_from", 1, 0), ("operated_to", 0, 1), ("operated_to", -1, 0)]
)
def test_both_ends_of_the_dates_asked_for_are_inside(end, days, kept):
    assert series_of(sheets([case("A")]), **{end: OPERATED + timedelta(days=days)}).cases.height == kept


# The end of follow-up.


def test_a_lid_whose_follow_up_ended_twice_is_at_risk_until_the_first_end():
    events = [event("A", after(10), "moved away"), event("A", after(15), "withdrawn")]
    found = event_times(series_of(sheets([case("A")], events=events)), RECURRENCE)
    assert found.select("days", "cause").rows() == [((after(10) - OPERATED).days, 0)]


def test_the_earliest_of_two_deaths_counts():
    events = [event("A", after(200), "death"), event("A", after(150), "death")]
    assert row_of(series_of(sheets([case("A")], events=events)).cases)["died_on"] == after(150)


def test_the_earliest_of_two_recurrences_counts():
    events = [event("A", after(20), "recurrence"), event("A", after(15), "recurrence")]
    found = event_times(series_of(sheets([case("A")], events=events)), RECURRENCE)
    assert found.item(0, "days") == (after(15) - OPERATED).days


@pytest.mark.parametrize("death,cause", [(14, 2), (15, 1), (16, 1)])
def test_of_an_event_and_death_the_earlier_counts_and_on_one_day_the_event(death, cause):
    events = [event("A", after(15), "recurrence"), event("A", after(death), "death")]
    assert event_times(series_of(sheets([case("A")], events=events)), RECURRENCE).item(0, "cause") == cause


def test_a_lid_never_reviewed_is_watched_to_the_end_of_the_first_window():
    found = event_times(series_of(sheets([case("A")])), RECURRENCE)
    assert found.select("days", "cause", "due_days").rows() == [(31 + 21, 0, (AS_OF - OPERATED).days)]


# Due days and potential follow-up end with death.


@pytest.mark.parametrize("died,due", [(None, (AS_OF - DIVIDED).days), (300, 300)])
def test_due_days_run_to_the_as_of_day_or_to_death(died, due):
    events = [event("A", after(died), "death")] if died else []
    series = series_of(sheets([case("A")], [review("A", 40, oedema=1)], events))
    assert event_intervals(series, SETTLED).item(0, "due_days") == due
    never = series_of(sheets([case("A")], events=events))
    assert never_reviewed(never, SETTLED).item(0, "due_days") == due


def test_moving_away_does_not_end_the_days_on_which_a_lid_was_due():
    series = series_of(sheets([case("A")], [review("A", 40, oedema=1)], [event("A", after(100), "moved away")]))
    assert event_intervals(series, SETTLED).item(0, "due_days") == (AS_OF - DIVIDED).days


@pytest.mark.parametrize("died,expected", [(272, NOT_APPLICABLE), (273, NOT_APPLICABLE), (274, MISSING)])
def test_death_on_the_last_day_of_a_window_makes_it_not_applicable(died, expected):
    assert state_row(sheets([case("A")], events=[event("A", after(died), "death")]))["status"] == expected


def test_a_lid_that_was_seen_before_the_patient_died_in_the_window_stays_seen():
    rows = sheets([case("A")], [review("A", 150, notch_mm=1)], [event("A", after(160), "death")])
    assert state_row(rows)["status"] == SEEN


def test_a_lid_that_was_seen_in_a_window_that_is_not_over_is_seen():
    rows = sheets([case("A")], [review("A", 150, notch_mm=1)])
    assert state_row(rows, as_of=after(160))["status"] == SEEN


def test_follow_up_of_a_lid_reviewed_on_the_day_of_division_only_is_none():
    series = series_of(sheets([case("A")], [review("A", 0, notch_mm=0)]))
    assert followed(series).select("observed", "potential", "died").rows() == [(0, (AS_OF - DIVIDED).days, False)]


def test_follow_up_of_who_died_is_complete_to_death_and_not_to_the_last_review():
    rows = sheets([case("A")], [review("A", 50, notch_mm=0)], [event("A", after(80), "death")])
    assert followed(series_of(rows)).select("observed", "potential", "died").rows() == [(80, 80, True)]


def test_who_died_before_division_was_followed_for_no_day():
    rows = sheets([case("A")], events=[event("A", DIVIDED - ONE_DAY, "death")])
    assert followed(series_of(rows)).select("observed", "potential").rows() == [(0, 0)]


# Between which two reviews a state was reached.


def test_the_left_end_is_the_last_review_before_the_state_and_never_one_after_it():
    reviews = [review("A", day, oedema=grade) for day, grade in ((10, 2), (20, 1), (30, 0), (40, 2), (50, 0), (60, 0))]
    found = event_intervals(series_of(sheets([case("A")], reviews)), SETTLED)
    assert found.select("left", "right", "latest").rows() == [(40.0, 50.0, 60)]


def test_a_threshold_counts_its_own_value():
    at_most = replace(SETTLED, when=replace(SETTLED.when, at_most=1, at_least=None))
    at_least = replace(SETTLED, when=replace(SETTLED.when, at_most=None, at_least=1))
    series = series_of(sheets([case("A")], [review("A", day, oedema=1) for day in (10, 20)]))
    for timed in (at_most, at_least):
        assert event_intervals(series, timed).item(0, "right") == 10.0
    over = replace(SETTLED, when=replace(SETTLED.when, at_most=None, at_least=2))
    assert event_intervals(series, over).item(0, "right") == float("inf")


def test_a_state_without_a_threshold_is_never_reached():
    series = series_of(sheets([case("A")], [review("A", 10, oedema=0)]))
    assert event_intervals(series, replace(SETTLED, when=None)).item(0, "right") == float("inf")


# Who counts.


def test_each_step_counts_those_who_remain_and_says_how_many_left():
    rows = sheets(
        [case("A"), case("B"), case("C", divided_on=None), case("D", "advancement")],
        [review("A", 50, notch_mm=0), review("D", 0, notch_mm=0)],
    )
    left = [
        (step.grafted, step.advanced, [(each.reason, each.lids) for each in step.lost]) for step in series_of(rows).flow
    ]
    assert left == [(3, 1, []), (2, 1, [("undivided", 1)]), (1, 1, [("never_measured", 1)])]


def test_a_filter_that_leaves_nobody_out_loses_nobody():
    step = series_of(sheets([case("A")]), operated_to=OPERATED).flow[1]
    assert (step.id, step.label, step.grafted, step.lost) == ("operated_to", str(OPERATED), 1, ())


def test_reviews_and_events_of_other_covers_do_not_come_along():
    rows = sheets(
        [case("A"), case("B", "transposition")],
        [review("B", 50, notch_mm=0)],
        [event("B", after(60), "revision")],
    )
    series = series_of(rows)
    assert (series.cases.height, series.reviews.height, series.measured.height, series.events.height) == (1, 0, 0, 0)


def test_what_is_not_recorded_of_a_patient_is_not_known_and_neither_yes_nor_no():
    series = series_of(sheets([case("A", canthus_involved="unknown"), case("B", canthus_involved="medial")]))
    assert series.cases.get_column("is:canthus").to_list() == [None, 1.0]
    again = with_characteristics(series.cases.drop("is:canthus"), PROTOCOL)
    assert again.get_column("is:canthus").to_list() == [None, 1.0]


def test_the_age_is_the_year_of_operation_less_the_year_of_birth_and_the_year_is_the_year():
    found = row_of(series_of(sheets([case("A", operated_on=date(2024, 12, 31), divided_on=None)])).cases)
    assert (found["is:age"], found["is:days_to_division"]) == (74.0, None)
