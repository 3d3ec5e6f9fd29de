"""A difference of shares whose p agrees with its interval at every level."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.statistics.difference import newcombe
from outcomes.statistics.inverted_difference import inverted_difference
from outcomes.statistics.proportion import NOT_ESTIMABLE, wilson

counts = st.integers(0, 20)


def shares(first, second):
    return lambda level: tuple(wilson(each, 20, confidence_level=level) for each in (first, second))


@given(counts, counts, st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.99]))
def test_p_is_small_exactly_where_the_interval_of_that_level_excludes_none(first, second, level):
    found = inverted_difference(shares(first, second), confidence_level=level)
    if abs(found.p - (1 - level)) > 1e-6:
        assert (found.p < 1 - level) == found.excludes_none


def test_the_interval_is_that_of_newcombe():
    """Newcombe RG. Stat Med 1998;17:873-890, Table II prints 9/10 against 3/10 as 0.1705 to 0.8090."""
    found = inverted_difference(
        lambda level: (wilson(3, 10, confidence_level=level), wilson(9, 10, confidence_level=level))
    )
    assert (round(found.low, 4), round(found.high, 4)) == (0.1705, 0.8090)
    same = newcombe((3, 10), (9, 10))
    assert (found.low, found.high) == (same.low, same.high)


@given(counts, counts)
def test_exchanging_the_cohorts_keeps_p_and_turns_the_sign(first, second):
    one, other = inverted_difference(shares(first, second)), inverted_difference(shares(second, first))
    assert one.p == pytest.approx(other.p, abs=1e-6)
    assert one.low == pytest.approx(-other.high)


def test_equal_shares_have_p_1_and_what_is_not_estimable_has_none():
    assert inverted_difference(shares(3, 3)).p == 1.0
    assert math.isnan(inverted_difference(lambda _: (NOT_ESTIMABLE, wilson(1, 20))).p)


def test_a_difference_beyond_all_doubt_has_a_p_of_nearly_0():
    found = inverted_difference(lambda level: tuple(wilson(n, 5000, confidence_level=level) for n in (10, 4990)))
    assert found.p < 1e-14


@pytest.mark.parametrize("level", [0.0, 1.0, 95])
def test_an_impossible_level_is_refused(level):
    with pytest.raises(ValueError, match="confidence_level"):
        inverted_difference(shares(1, 2), confidence_level=level)
