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
def test_means_and_difference(case, name):
    """Where nothing happened the reference's error is 0 and ours is not estimable; so then is the difference's."""
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
        wanted = expected["se"][label] or None
        assert close_enough(means[label].standard_error, wanted, reference.tolerance)
    difference = restricted_mean_difference(means[first], means[second])
    assert close_enough(difference.estimate, expected["difference"], reference.tolerance)
    if 0 in expected["se"].values():
        assert math.isnan(difference.low)
    else:
        assert close_enough([difference.low, difference.high], expected["difference_ci"], reference.tolerance)


def test_the_curve_does_not_reach_so_far():
    assert math.isnan(restricted_mean(time=[1, 2, 3], event=[1, 1, 0], until=4).estimate)
    assert restricted_mean(time=[1, 2, 3], event=[1, 1, 1], until=4).estimate == pytest.approx(2)
    assert math.isnan(restricted_mean(time=[], event=[], until=4).estimate)
    assert math.isnan(interval_restricted_mean(left=[0, 3], right=[2, math.inf], until=4).estimate)
    assert math.isnan(interval_restricted_mean(left=[], right=[], until=4).estimate)
    known, unknown = RestrictedMean(3, 3, 3, 1), RestrictedMean(math.nan, math.nan, math.nan, math.nan)
    assert math.isnan(restricted_mean_difference(known, unknown).estimate)


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
    interval = RestrictedMean(40, 35, 45, 10).interval()
    assert (interval.low, interval.high) == pytest.approx((35 - 19.6, 45 + 19.6), abs=0.001)


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
def test_swapping_the_groups_turns_the_sign(lids, until):
    time, event = (np.array(column, dtype=float) for column in zip(*lids, strict=True))
    one, other = (
        restricted_mean(time=time[part], event=event[part], until=until) for part in (slice(2), slice(1, None))
    )
    forth, back = restricted_mean_difference(one, other), restricted_mean_difference(other, one)
    assert (forth.estimate, forth.low) == pytest.approx((-back.estimate, -back.high), nan_ok=True)
