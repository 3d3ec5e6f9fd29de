"""Quartiles, worked by hand and against another program."""

import math
from statistics import quantiles

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.statistics.quantiles import quartiles


def test_by_hand():
    # Ranks 1 + (n - 1) p of five values are 2, 3 and 4; of four they are 1 3/4, 2 1/2 and 3 1/4.
    assert quartiles([1, 2, 3, 4, 5]) == (2, 3, 4)
    assert quartiles([4, 1, 3, 2]) == (1.75, 2.5, 3.25)


def test_edges():
    assert quartiles([2.5]) == (2.5, 2.5, 2.5)
    assert quartiles([1.0, 1.0, 1.0]) == (1.0, 1.0, 1.0)
    assert all(math.isnan(part) for part in quartiles([]))


@given(st.lists(st.integers(-10, 20).map(lambda half: half / 2), min_size=2, max_size=40))
def test_the_standard_library_agrees(values):
    assert quartiles(values) == pytest.approx(quantiles(values, n=4, method="inclusive"), abs=1e-12)


@pytest.mark.parametrize("value", [[1, math.nan], [1, math.inf], ["a"]])
def test_a_missing_value_is_refused(value):
    with pytest.raises(ValueError, match="value"):
        quartiles(value)
