"""A share in whole people of 100 loses and invents nobody."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.findings.counsel.natural_frequencies import of_hundred
from outcomes.statistics.proportion import wilson
from tests.reference import reference_case


@given(st.lists(st.floats(0, 1), min_size=2, max_size=6).map(sorted))
def test_counts_never_fall_while_a_share_rises(shares):
    """A cumulative share rises with time; death takes from those that are left, never from those that had it."""
    counts = [of_hundred(share, share, share, competed=min(0.5, 1 - share)).had for share in shares]
    assert counts == sorted(counts)


@given(st.integers(0, 1000), st.integers(0, 1000))
def test_people_are_the_nearest_whole_number_and_add_up(share, competed):
    competed = min(competed, 1000 - share)
    said = of_hundred(share / 1000, share / 1000, share / 1000, competed=competed / 1000)
    assert said.had + said.had_not == 100
    assert said.competed <= said.had_not
    assert abs(said.had - share / 10) <= (0.5 if 5 <= share <= 995 else 1)
    assert abs(said.competed - competed / 10) <= 1


def test_what_made_nine_into_eight():
    """The largest remainder gave 9 of 100 at three years and 8 at five, as more had died by then."""
    assert of_hundred(0.0851, 0, 1, competed=0.184).had == 9
    assert of_hundred(0.0852, 0, 1, competed=0.309).had == 9


@given(st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_range_never_claims_more_than_the_interval(counts):
    events, n = counts
    interval = wilson(events, n)
    said = of_hundred(interval.estimate, interval.low, interval.high)
    assert said.had + said.had_not == 100
    assert said.low <= 100 * interval.low + 1e-6
    assert said.high >= 100 * interval.high - 1e-6
    assert said.low <= said.had <= said.high
    assert (said.had == 0) == (events == 0)
    assert (said.had_not == 0) == (events == n)


@pytest.mark.parametrize("events, n, low, high", [(0, 20, 0, 17), (1, 29, 0, 18), (29, 29, 88, 100), (81, 263, 25, 37)])
def test_published_intervals_rounded_outwards(events, n, low, high):
    """Newcombe, Stat Med 1998;17:857-872, method 3: 0-0.1611, 0.0061-0.1718, 0.8830-1, 0.2553-0.3662."""
    interval = wilson(events, n)
    said = of_hundred(interval.estimate, interval.low, interval.high)
    assert (said.low, said.high) == (low, high)


def test_reference_values_of_small_groups_are_said_outwards():
    case = reference_case("a02_zero_events")
    for counts, expected in case.expected.items():
        events, n = (int(part) for part in counts.split("/"))
        interval = wilson(events, n)
        said = of_hundred(interval.estimate, interval.low, interval.high)
        assert (said.had, said.low, said.high) == (0, 0, math.ceil(100 * expected["wilson"][1]))
