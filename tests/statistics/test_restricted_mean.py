"""Restricted means against R, hand-made areas and what must not matter."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.statistics.restricted_mean import (
    RestrictedMean,
    interval_restricted_mean,
    restricted_mean,
    restricted_mean_difference,
)
from tests.reference import close_enough, reference_case

CASES = ("d17_rmst_pbc", "d19_rmst_edges")


@pytest.mark.parametrize("case, name", [(case, name) for case in CASES for name in reference_case(case).expected])
def test_means_and_errors(case, name):
    """Where nothing happened the reference's error is 0; ours is not estimable, nor are the limits."""
    reference = reference_case(case)
    sample, expected = reference.input["sets"][name], reference.expected[name]
    second, first = expected["contrast"].split(" minus ")
    labels, means = np.array([str(label) for label in sample["group"]]), {}
    for label in (first, second):
        own = labels == label
        means[label] = restricted_mean(
            time=np.array(sample["time"])[own], event=np.array(sample["event"])[own], until=expected["tau"]
        )
        assert close_enough(means[label].estimate, expected["rmst"][label], reference.tolerance)
        assert close_enough(means[label].standard_error, expected["se"][label] or None, reference.tolerance)
    difference = restricted_mean_difference(means[first].interval(), means[second].interval())
    assert close_enough(difference.estimate, expected["difference"], reference.tolerance)
    if 0 in expected["se"].values():
        assert math.isnan(difference.low)
    else:
        error = math.hypot(means[first].standard_error, means[second].standard_error)
        assert close_enough(error, expected["difference_se"], reference.tolerance)


def test_with_many_events_the_limits_are_nearly_the_normal_ones():
    """Primary biliary cholangitis trial, 312 patients, ten years: -0.1369 (-0.9385 to 0.6647), by R survival 3.5.3."""
    reference = reference_case("d17_rmst_pbc")
    sample = reference.input["sets"]["pbc"]
    time, event, group = (np.array(sample[key]) for key in ("time", "event", "group"))
    one, other = (
        restricted_mean(time=time[group == side], event=event[group == side], until=10).interval() for side in (0, 1)
    )
    difference = restricted_mean_difference(one, other)
    assert (difference.low, difference.high) == pytest.approx((-0.9385, 0.6647), abs=0.03)


def test_the_curve_does_not_reach_so_far():
    assert math.isnan(restricted_mean(time=[1, 2, 3], event=[1, 1, 0], until=4).estimate)
    assert restricted_mean(time=[1, 2, 3], event=[1, 1, 1], until=4).estimate == pytest.approx(2)
    assert math.isnan(restricted_mean(time=[], event=[], until=4).estimate)
    assert math.isnan(interval_restricted_mean(left=[0, 3], right=[2, math.inf], until=4).estimate)
    assert math.isnan(interval_restricted_mean(left=[], right=[], until=4).estimate)
    assert math.isnan(restricted_mean(time=[1, 2], event=[0, 0], until=2).interval().low)


def test_between_reviews_by_hand():
    """Of four, one between 0 and 20, one between 20 and 40, two free at 60: (10 + 30 + 60 + 60) / 4 = 40."""
    mean = interval_restricted_mean(left=[0, 20, 60, 60], right=[20, 40, math.inf, math.inf], until=60)
    assert (mean.earliest, mean.estimate, mean.latest) == pytest.approx((35, 40, 45))
    # One left out: 50, 130/3, 100/3 and 100/3; the jackknife of a plain mean is its standard error.
    values = np.array([10, 30, 60, 60])
    assert mean.standard_error == pytest.approx(values.std(ddof=1) / 2, rel=1e-5)


def test_both_lids_of_a_patient_are_left_out_together():
    left, right = [0, 20, 60, 60], [20, 40, math.inf, math.inf]
    alone = interval_restricted_mean(left=left, right=right, until=60)
    twice = interval_restricted_mean(left=left * 2, right=right * 2, until=60, patient=[1, 2, 3, 4] * 2)
    assert twice.standard_error == pytest.approx(alone.standard_error, rel=1e-5)


def test_limits_stand_outside_the_bounds():
    """Lost: 20, or 15 to 25, of 60; the error is half of it, so the factor is exp(0.98) = 2.6645."""
    interval = RestrictedMean(until=60, estimate=40, earliest=35, latest=45, standard_error=10).interval()
    assert (interval.low, interval.high) == pytest.approx((0, 60 - 15 / 2.6645), abs=0.001)


rows = st.lists(st.tuples(st.integers(0, 9), st.booleans()), min_size=2, max_size=10)


@given(rows, st.integers(1, 9))
@settings(deadline=None)
def test_known_times_give_the_same_area_either_way(lids, until):
    time, event = (np.array(column, dtype=float) for column in zip(*lids, strict=True))
    plain = restricted_mean(time=time, event=event, until=until)
    between = interval_restricted_mean(left=time, right=np.where(event == 1, time, math.inf), until=until)
    assert between.estimate == pytest.approx(plain.estimate, abs=1e-5, nan_ok=True)
    assert between.earliest == pytest.approx(between.latest, abs=1e-9, nan_ok=True)


@given(rows, st.integers(1, 9))
@settings(deadline=None)
def test_limits_hold_the_mean_and_swapping_the_groups_turns_the_sign(lids, until):
    time, event = (np.array(column, dtype=float) for column in zip(*lids, strict=True))
    parts = (slice(2), slice(1, None))
    one, other = (restricted_mean(time=time[part], event=event[part], until=until).interval() for part in parts)
    assert math.isnan(one.low) or 0 <= one.low <= one.estimate <= one.high <= until
    forth, back = restricted_mean_difference(one, other), restricted_mean_difference(other, one)
    assert (forth.estimate, forth.low) == pytest.approx((-back.estimate, -back.high), nan_ok=True)


@pytest.mark.parametrize("until", [0, -1, math.nan, math.inf])
def test_a_day_that_cannot_be_is_refused(until):
    with pytest.raises(ValueError, match=f"until is {until}: must be a finite time above 0"):
        restricted_mean(time=[1, 2], event=[1, 0], until=until)
    with pytest.raises(ValueError, match=f"until is {until}"):
        interval_restricted_mean(left=[0, 1], right=[1, 2], until=until)


@pytest.mark.parametrize(
    "given, said",
    [
        ({"right": [1, 0]}, r"right\[1\] is 0: must be no earlier"),
        ({"left": [0]}, "right has 2 values and left has 1"),
        ({"patient": [1, None]}, r"patient\[1\] is None"),
    ],
)
def test_impossible_input_is_refused(given, said):
    with pytest.raises(ValueError, match=said):
        interval_restricted_mean(**{"left": [0, 1], "right": [1, 2], "until": 1, **given})


def test_an_impossible_level_is_refused():
    with pytest.raises(ValueError, match="confidence_level is 95"):
        restricted_mean(time=[1, 2], event=[1, 0], until=2).interval(confidence_level=95)


@pytest.mark.slow
def test_the_error_of_many_patients_is_that_of_a_plain_mean():
    """1,000 known times without a loss: the mean is a plain one, whose error leaving out 200 parts is near s / sqrt(n)."""
    time = np.random.default_rng(6).exponential(20, 1_000)
    mean = interval_restricted_mean(left=time, right=time, until=40)
    plain = np.minimum(time, 40)
    assert mean.estimate == pytest.approx(plain.mean(), rel=1e-6)
    assert mean.standard_error == pytest.approx(plain.std(ddof=1) / math.sqrt(1_000), rel=0.25)
