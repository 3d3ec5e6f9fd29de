"""E-values, against print and closed forms."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.statistics.e_value import e_value, e_value_limit, risk_ratio_of_shift
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
