"""E-values, against print and closed forms."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.statistics.e_value import (
    e_value,
    e_value_limit,
    e_values_of_shares,
    e_values_of_shift,
    risk_ratio_of_shift,
)
from outcomes.statistics.result import Interval
from tests.reference import close_enough, reference_case


def interval(ratio):
    return Interval(ratio["estimate"], ratio["lower"], ratio["upper"])


@pytest.mark.parametrize("name, limit", [("h05_evalues", "limit"), ("h07_evalues_rr", "ci")])
def test_reference(name, limit):
    case = reference_case(name)
    for key, ratio in case.input["rr"].items():
        assert close_enough(e_value(ratio["estimate"]), case.expected[key]["point"], case.tolerance)
        assert close_enough(e_value_limit(interval(ratio)), case.expected[key][limit], case.tolerance)


def test_reference_of_a_shift():
    case = reference_case("h05_evalues")
    ours = e_value(risk_ratio_of_shift(case.input["smd"]))
    assert close_enough(ours, case.expected["smd_0.5_exp0.91d"], case.tolerance)


# VanderWeele TJ, Ding P. Ann Intern Med 2017;167:268-274: 3.9 gives 7.26. The second example, 10.73 (8.02 to 14.36), is
# printed as 20.94777 and 15.52336 in the documentation of a program by the same authors.
def test_as_printed():
    assert round(e_value(3.9), 2) == 7.26
    assert round(e_value(10.73), 5) == 20.94777
    assert round(e_value_limit(Interval(10.73, 8.02, 14.36)), 5) == 15.52336


@given(st.floats(0.01, 100))
def test_turning_the_ratio_over_changes_nothing(ratio):
    assert e_value(ratio) == pytest.approx(e_value(1 / ratio))
    assert e_value(ratio) >= max(ratio, 1 / ratio) * (1 - 1e-12)


def test_edges():
    assert e_value(1.0) == 1.0
    assert e_value(0.0) == e_value(math.inf) == math.inf
    assert math.isnan(e_value(math.nan))
    assert math.isnan(e_value_limit(Interval(2.0, math.nan, math.nan)))
    assert e_value_limit(Interval(0.0, 0.0, 0.5)) == e_value(0.5)


# By hand: shares 0.2 and 0.4, the limit nearer to none 0.3; 2 + sqrt(2) and 1.5 + sqrt(0.75).
def test_e_values_of_shares_by_hand():
    found = e_values_of_shares(0.2, Interval(0.2, 0.1, 0.3), fewest_events=5)
    assert (found.estimate, found.limit) == pytest.approx((2 + math.sqrt(2), 1.5 + math.sqrt(0.75)))
    assert e_values_of_shares(0.5, Interval(-0.5, -0.6, -0.1), fewest_events=5).estimate == math.inf
    assert e_values_of_shares(0.2, Interval(0.1, -0.1, 0.3), fewest_events=5).limit == 1


@pytest.mark.parametrize(
    "found, reason",
    [
        (lambda: e_values_of_shares(0.2, Interval(0.2, 0.1, 0.3), fewest_events=4), "few_events"),
        (lambda: e_values_of_shares(0.2, Interval(0.2, math.nan, math.nan), fewest_events=9), "no_limits"),
        (lambda: e_values_of_shift(Interval(0.2, math.nan, math.nan), 1.0), "no_limits"),
        (lambda: e_values_of_shift(Interval(0.2, 0.1, 0.3), 0.0), "no_variation"),
    ],
    ids=["few", "share_without_limits", "shift_without_limits", "no_variation"],
)
def test_why_there_are_none(found, reason):
    assert found().reason == reason
    assert math.isnan(found().estimate)
    assert math.isnan(found().limit)


def test_impossible_input_is_refused():
    with pytest.raises(ValueError, match="risk_ratio is -1: must be 0 or more"):
        e_value(-1.0)
    with pytest.raises(ValueError, match=r"first_share is 1\.2"):
        e_values_of_shares(1.2, Interval(0.1, 0.0, 0.2), fewest_events=9)


def test_a_shift_beyond_all_numbers_is_infinite():
    assert risk_ratio_of_shift(1e6) == math.inf
    assert e_values_of_shift(Interval(-5.0, -6.0, -4.0), 1e-6).estimate == math.inf
