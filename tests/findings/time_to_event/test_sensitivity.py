"""Can lids that were lost, covers that were changed, and unmasked eyes take a timed difference away?"""

from dataclasses import replace
from datetime import timedelta
from functools import cache

import numpy as np
import pytest

from outcomes.findings import compare, stamp
from outcomes.findings.propensity import choose_covers
from outcomes.findings.results import Contrast, Range, TimedFinding, TimedShare
from outcomes.findings.time_to_event.analysis import Timing
from outcomes.findings.time_to_event.sensitivity import event_loss, followed_apart, state_loss, with_doubts
from outcomes.protocol import read_protocol
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
    return TimedFinding(
        "recurrence", "Aalen-Johansen", "operation", 12, *sides, Contrast("", 0.0, -0.2, 0.2), "too few to say"
    )


@pytest.mark.parametrize(
    "lost, due, apart",
    [((0, 2), (20, 20), False), ((0, 3), (20, 20), True), ((3, 0), (20, 20), True), ((0, 5), (0, 20), False)],
)
def test_followed_apart_by_more_than_ten_points(lost, due, apart):
    assert followed_apart(found(lost, due), 10) is apart


def test_the_bounds_of_a_difference_take_the_worst_of_one_with_the_best_of_the_other():
    grafted = event_loss(np.array([3.0, 9.0, 20.0, 20.0]), np.array([1, 0, 0, 0]), np.full(4, 20.0), 12)
    advanced = event_loss(np.array([5.0, 20.0, 20.0, 20.0]), np.array([0, 0, 0, 0]), np.full(4, 20.0), 12)
    told = with_doubts(found(), (grafted, advanced), None)
    assert told.if_missing == Range(pytest.approx(0 - 2 / 4), pytest.approx(1 / 4 - 1 / 4))
    assert (told.grafted.due, told.grafted.lost, told.advanced.lost) == (4, 1, 1)


@cache
def swollen(comes=12, planned_otherwise=0, masked=False):
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
    if masked:
        reviews += [{**row, "masked": "yes", "assessor": "PL", "oedema": "1"} for row in reviews]
    series = series_of(sheets(lids, reviews), protocol=PROTOCOL, measures=("oedema",))
    made = compare(series, stamp(series, digest="0" * 64, frozen="", software="outcomes"))
    return next(each for each in made.timing if each.event == "oedema_settled" and each.at_months == 6)


def test_a_large_difference_that_nothing_speaks_against_is_read():
    told = swollen()
    assert told.reading == "better with advanced"
    assert told.if_missing.low == pytest.approx(told.contrast.estimate) == pytest.approx(told.if_missing.high)
    assert told.as_planned is None


def read_with(lost, if_missing):
    """The reading of a large difference, sound but for the lids that were lost."""
    series = series_of(sheets([lid(0, "graft"), lid(1, "advancement")]), protocol=PROTOCOL)
    contrast = Contrast("", -0.5, -0.7, -0.3)
    one = replace(found(lost), contrast=contrast, if_missing=if_missing)
    test = Contrast("", None, None, None, p=0.001, p_adjusted=0.01)
    (told,) = Timing((one,), (), (), {}).read(series, choose_covers(series), {"recurrence": test}, frozenset())
    return told


def test_lids_that_were_lost_block_a_reading_that_they_could_reverse_and_only_then():
    assert read_with((0, 0), Range(-0.5, -0.5)).reading == "better with advanced"
    assert read_with((0, 6), Range(-0.6, 0.1)).reasons == ("the lids that were not measured could reverse it",)
    assert read_with((0, 6), Range(None, None)).reading == "no clear difference"
    assert read_with((0, 6), Range(-0.6, -0.1)).reading == "better with advanced"
    assert read_with((6, 6), Range(-0.6, 0.1)).reading == "better with advanced"  # as many of each were lost


def test_a_difference_that_hangs_on_what_became_of_the_lost_is_not_estimated():
    told = swollen(comes=6)
    assert told.contrast.estimate is None
    assert told.note == "what became of the lids that were free at their last review before 6 months is not known"


def test_it_is_not_read_when_the_plan_tells_otherwise():
    told = swollen(planned_otherwise=6)
    assert told.contrast.low > 0
    assert told.as_planned.estimate == pytest.approx(0.0)
    assert told.reading == "no clear difference"
    assert told.reasons == ("by the cover that was planned it is not there",)


def test_it_is_not_read_when_masked_eyes_saw_another_difference():
    told = swollen(masked=True)
    assert told.reading == "no clear difference"
    assert "assessors who did not know the cover saw another difference" in told.reasons
