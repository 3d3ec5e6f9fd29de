"""The difference of two proportions, against Newcombe's table, another program and what must hold."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import confint_proportions_2indep

from outcomes.statistics.difference import newcombe, square_and_add
from outcomes.statistics.result import Interval
from tests.reference import close_enough, reference_case

counts = st.integers(1, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@pytest.mark.parametrize("name", ["b01_newcombe1998_difference", "b02_difference_edges"])
def test_reference(name):
    case = reference_case(name)
    for key, table in case.input["tables"].items():
        # The case subtracts its second group from its first: ours is second minus first.
        first, second = (table["x2"], table["n2"]), (table["x1"], table["n1"])
        ours = newcombe(first, second, confidence_level=case.input["conf_level"])
        assert close_enough(ours.estimate, case.expected[key]["difference"], case.tolerance)
        assert close_enough((ours.low, ours.high), case.expected[key]["newcombe"], case.tolerance)


# Newcombe RG. Stat Med 1998;17:873-890, Table II, method 10, examples (a) to (h).
PRINTED = [
    ((48, 80), (56, 70), 0.0524, 0.3339),
    ((3, 10), (9, 10), 0.1705, 0.8090),
    ((2, 7), (6, 7), 0.0582, 0.8062),
    ((0, 29), (5, 56), -0.0381, 0.1926),
    ((0, 20), (0, 10), -0.1611, 0.2775),
    ((0, 10), (0, 10), -0.2775, 0.2775),
    ((0, 20), (10, 10), 0.6791, 1.0),
    ((0, 10), (10, 10), 0.6075, 1.0),
]


@pytest.mark.parametrize("first, second, low, high", PRINTED)
def test_as_printed(first, second, low, high):
    interval = newcombe(first, second)
    assert (round(interval.low, 4), round(interval.high, 4)) == (low, high)


@given(counts, counts)
def test_swapping_the_groups_flips_the_sign(first, second):
    one_way, other_way = newcombe(first, second), newcombe(second, first)
    assert one_way.estimate == -other_way.estimate
    assert one_way.low == pytest.approx(-other_way.high, abs=1e-12)
    assert -1 <= one_way.low <= one_way.estimate <= one_way.high <= 1


@given(counts, counts)
def test_an_independent_program_agrees(first, second):
    low, high = confint_proportions_2indep(*second, *first, method="newcomb")
    ours = newcombe(first, second)
    assert (ours.low, ours.high) == pytest.approx((low, high), abs=1e-9)


def test_an_empty_group_is_not_estimable():
    interval = newcombe((0, 0), (1, 5))
    assert all(math.isnan(part) for part in (interval.estimate, interval.low, interval.high))


def test_limits_already_known_are_squared_and_added():
    # 3-4-5 triangles on both sides, by hand.
    joined = square_and_add(Interval(0.2, 0.16, 0.23), Interval(0.5, 0.46, 0.53))
    assert joined.estimate == pytest.approx(0.3)
    assert joined.low == pytest.approx(0.3 - 0.05)
    assert joined.high == pytest.approx(0.3 + 0.05)
