"""A share in whole people of 100 loses and invents nobody."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.findings.counsel.natural_frequencies import of_hundred, whole_parts
from outcomes.statistics.proportion import wilson
from tests.reference import reference_case

shares = st.lists(st.integers(0, 1000), min_size=2, max_size=5).filter(any)


@given(shares)
def test_parts_add_up_to_100_and_none_is_further_than_one_from_its_share(counts):
    exact = [count / sum(counts) for count in counts]
    parts = whole_parts(tuple(exact))
    assert sum(parts) == 100
    assert all(abs(part - 100 * share) < 1 + 1e-6 for part, share in zip(parts, exact, strict=True))


def test_largest_remainder_by_hand():
    # 100 times 2/7, 2/7 and 3/7 is 28.57, 28.57 and 42.86: floors add up to 98, the two largest remainders are .86 and .57
    assert whole_parts((2 / 7, 2 / 7, 3 / 7)) == (29, 28, 43)


@given(st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_range_never_claims_more_than_the_interval(counts):
    events, n = counts
    interval = wilson(events, n)
    said = of_hundred(interval.estimate, interval.low, interval.high)
    assert said.had + said.had_not == 100
    assert said.low <= 100 * interval.low + 1e-6
    assert said.high >= 100 * interval.high - 1e-6
    assert said.low <= said.had <= said.high
    assert (said.not_low, said.not_high) == (100 - said.high, 100 - said.low)
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
