"""Lids lost to a timed event, its bounds, and the evidence for its verdict."""

from dataclasses import replace
from datetime import timedelta
from functools import cache

import numpy as np
import polars as pl
import pytest

from outcomes.findings import compare, stamp
from outcomes.findings.covariates import covariates
from outcomes.findings.decision_rule import rule
from outcomes.findings.propensity import choose_covers
from outcomes.findings.results import Contrast, Range, TimedFinding, TimedShare
from outcomes.findings.time_to_event.dated_events import Course
from outcomes.findings.time_to_event.interval_censored import _free_at
from outcomes.findings.time_to_event.result import TimedLids
from outcomes.findings.time_to_event.sensitivity import event_loss, followed_shares, state_loss, with_losses
from outcomes.findings.time_to_event.verdict import timed_draft
from outcomes.protocol import read_protocol
from outcomes.statistics.inverted_difference import inverted_difference
from outcomes.statistics.proportion import wilson
from outcomes.statistics.result import TestedEstimate
from tests.findings.test_invariance import FEW
from tests.rows import series_of, sheets
from tests.whole.planted.edges import lid, seen

PROTOCOL = read_protocol(FEW)
NEVER = np.inf


def test_lost_to_a_dated_event_by_hand():
    """Of five lids due by 12 months one had the event at 3, one died at 6, one was lost at 9 and two were followed on.

    The lost one had it or not: 1/5 or 2/5. A sixth, operated 4 months ago, is not due, and weighs nothing here.
    """
    months, cause = np.array([3.0, 6.0, 9.0, 20.0, 20.0]), np.array([1, 2, 0, 0, 0])
    loss = event_loss(months, cause, np.full(5, 20.0), 12)
    assert (loss.due, loss.lost) == (5, 1)
    assert (loss.least, loss.most) == (pytest.approx(1 / 5), pytest.approx(2 / 5))
    more = event_loss(np.append(months, 4.0), np.append(cause, 0), np.append(np.full(5, 20.0), 4.0), 12)
    assert (more.due, more.lost) == (5, 1)


def test_lost_to_a_state_by_hand():
    """Reviews at 3 and 12 months. One had it by 3; two were free at 12; one was free at 3 and never came again; one never came.

    Of five, one for certain and two more perhaps: 1/5 to 3/5. One seen with it at 15 and free at 9 was not lost, as it came back.
    """
    left, right = np.array([0.0, 12, 12, 3, 0]), np.array([3.0, NEVER, NEVER, NEVER, NEVER])
    loss = state_loss(left, right, np.full(5, 24.0), 12)
    assert (loss.due, loss.lost) == (5, 2)
    assert (loss.least, loss.most) == (pytest.approx(1 / 5), pytest.approx(3 / 5))
    assert state_loss(np.append(left, 9.0), np.append(right, 15.0), np.full(6, 24.0), 12).lost == 2


def test_a_lid_that_died_or_whose_time_had_not_come_is_not_lost():
    loss = state_loss(np.array([3.0, 12.0]), np.array([NEVER, NEVER]), np.array([5.0, 24.0]), 12)
    assert (loss.due, loss.lost) == (1, 0)


def found(lost=(0, 0), due=(20, 20)):
    sides = [TimedShare(20, 5, 0.25, 0.1, 0.5, due=all_due, lost=gone) for all_due, gone in zip(due, lost, strict=True)]
    contrast = Contrast("difference of cumulative incidence", 0.0, -0.2, 0.2)
    return TimedFinding("recurrence", "Aalen-Johansen", "operation", 36, *sides, contrast)


@pytest.mark.parametrize("lost, due, shares", [
    ((0, 2), (20, 20), (1.0, 0.9)), ((5, 0), (20, 10), (0.75, 1.0)), ((0, 5), (0, 20), None),
])  # fmt: skip
def test_the_share_followed_of_the_lids_due(lost, due, shares):
    assert followed_shares(found(lost, due)) == shares


def test_the_bounds_of_a_difference_take_the_worst_of_one_with_the_best_of_the_other():
    grafted = event_loss(np.array([3.0, 9.0, 20.0, 20.0]), np.array([1, 0, 0, 0]), np.full(4, 20.0), 12)
    advanced = event_loss(np.array([5.0, 20.0, 20.0, 20.0]), np.array([0, 0, 0, 0]), np.full(4, 20.0), 12)
    told = with_losses(found(), (grafted, advanced), None)
    assert told.unseen.worst_case == Range(pytest.approx(0 - 2 / 4), pytest.approx(1 / 4 - 1 / 4))
    assert (told.grafted.due, told.grafted.lost, told.advanced.lost) == (4, 1, 1)


RECURRENCE = next(timed for timed in PROTOCOL.timed if timed.id == "recurrence")


def drafted(finding, judged=None):
    series = series_of(sheets([lid(0, "graft"), lid(1, "advancement")]), protocol=PROTOCOL)
    return timed_draft(series, choose_covers(series, covariates(series)), RECURRENCE, finding, judged)


def test_only_the_main_month_has_evidence_for_a_verdict():
    assert drafted(found()).evidence is not None
    assert drafted(replace(found(), at_months=12)).evidence is None


def test_lids_lost_more_from_one_cohort_withhold_a_difference_that_does_not_survive_it():
    judged = TestedEstimate(-0.3, -0.5, -0.1, 0.004, 0.1, np.inf, 0.95)
    assert rule(drafted(found(), judged).evidence, stands=True).verdict == "better with advanced"
    assert rule(drafted(found((0, 8)), judged).evidence, stands=True).withheld == "unseen"
    assert rule(drafted(found((8, 8)), judged).evidence, stands=True).verdict == "better with advanced"


@cache
def swollen(comes=12, planned_otherwise=0):
    """Twelve lids a cover, swollen for a year with a graft and never with advanced skin; so many advanced come after a week."""
    lids = [
        {**lid(number, cover), "cover_planned": cover} for cover in ("graft", "advancement") for number in range(12)
    ]
    for each in lids[:planned_otherwise]:
        each["cover_planned"] = "advancement"
    for each in lids[12 : 12 + planned_otherwise]:
        each["cover_planned"] = "graft"
    reviews = [
        {**row, "oedema": "1" if row["case_id"][0] == "G" else "0"} for row in seen(lids, lambda _: {"notch_mm": 0})
    ]  # fmt: skip
    stays_away = {each["case_id"] for each in lids[12 + comes :]}
    first = {each["case_id"]: each["divided_on"] + timedelta(days=8) for each in lids}
    reviews = [row for row in reviews if row["case_id"] not in stays_away or row["reviewed_on"] < first[row["case_id"]]]
    reviews = [{**row, "oedema": "1"} if row["case_id"] in stays_away else row for row in reviews]
    series = series_of(sheets(lids, reviews), protocol=PROTOCOL, measures=("oedema",))
    made = compare(series, stamp(series, digest="0" * 64, frozen="", software="outcomes"))
    return next(each for each in made.timing if each.event == "oedema_settled" and each.at_months == 6)


def test_a_large_difference_is_read_and_the_share_in_the_state_stands_beside_it():
    settled = swollen()
    assert settled.verdict == "better with advanced"
    assert settled.unseen.worst_case.low == pytest.approx(settled.contrast.estimate)
    assert settled.as_planned is None
    assert settled.in_state.window == "six_months"
    assert (settled.in_state.grafted.events, settled.in_state.advanced.events) == (0, 12)
    assert settled.in_state.contrast.estimate == pytest.approx(1.0)


def test_who_is_still_at_risk_stands_beside_the_share():
    """At six months all twelve grafted lids are still swollen and reviewed later on; every advanced lid has settled long before."""
    settled = swollen()
    assert (settled.grafted.at_risk, settled.advanced.at_risk) == (12, 0)


def test_who_is_at_risk_of_a_state_was_free_at_a_review_then_or_later():
    """Free to month 3 and in the state by 9; free to 6, to the day; free to 12; seen with it at the first review."""
    days = {"left": [91.3125, 182.625, 365.25, 0.0], "right": [273.9375, NEVER, NEVER, 30.0]}
    everybody = np.ones(4, dtype=bool)
    lids = TimedLids(everybody, everybody, np.arange(4), pl.DataFrame(days), None)
    assert [_free_at(lids, everybody, month) for month in (3, 6, 7, 12)] == [3, 2, 1, 1]


def test_a_dated_event_counts_who_is_followed_to_the_month_without_it():
    """Ends of observation by hand: at month 10 two of four are followed and free, at 20 one, to the day; one event, one death."""
    course = Course(
        "grafted", np.array([3.0, 9.0, 10.0, 20.0]), np.array([1, 2, 0, 0]), np.full(4, 20.0), None, None, 0.0, 0.0
    )
    assert [course.at_risk(month) for month in (3, 10, 20, 21)] == [4, 2, 1, 0]
    assert [course.events_by(month) for month in (2, 3, 20)] == [0, 1, 1]


def test_a_difference_that_hangs_on_what_became_of_the_lost_is_not_estimated():
    settled = swollen(comes=6)
    assert settled.contrast.estimate is None
    assert [note.id for note in settled.notes] == ["unknown_at_month", "no_interval"]
    assert settled.verdict == "too few to say"


def test_what_was_planned_stands_beside_it():
    settled = swollen(planned_otherwise=6)
    assert settled.contrast.low > 0
    assert settled.as_planned.estimate == pytest.approx(0.0)


def test_p_at_a_month_agrees_with_the_interval_of_that_month():
    def apart(confidence):
        return wilson(12, 20, confidence_level=confidence), wilson(2, 20, confidence_level=confidence)

    for level, excluded in ((0.95, True), (0.9999999, False)):
        found = inverted_difference(apart, level)
        assert (found.p < 1 - level) == found.excludes_none == excluded
    alike = inverted_difference(lambda confidence: (wilson(3, 20, confidence_level=confidence),) * 2, 0.95)
    assert (alike.estimate, alike.p) == (0.0, 1.0)
