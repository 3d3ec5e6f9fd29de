"""Estimators at the least that they can be given, by hand."""

import math

import pytest

from outcomes.statistics.balance import standardised_difference_of_shares


def test_one_lid_is_a_share_and_none_is_not():
    """Shares 1 of 1 and 1 of 2: -0.5 over the root of half of 0 and 0.25."""
    assert standardised_difference_of_shares([1], [1, 0]) == pytest.approx(-0.5 / math.sqrt(0.125))
    assert math.isnan(standardised_difference_of_shares([], [1, 0]))
