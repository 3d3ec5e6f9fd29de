"""Estimators at the least that they can be given, by hand."""

import math

import numpy as np
import pytest

from outcomes.statistics.balance import standardised_difference_of_shares
from outcomes.statistics.influence import incidence_influence
from outcomes.statistics.kaplan_meier import risk_table


def test_one_lid_is_a_share_and_none_is_not():
    """Shares 1 of 1 and 1 of 2: -0.5 over the root of half of 0 and 0.25."""
    assert standardised_difference_of_shares([1], [1, 0]) == pytest.approx(-0.5 / math.sqrt(0.125))
    assert math.isnan(standardised_difference_of_shares([], [1, 0]))


def test_an_event_on_day_0_pulls_as_any_other():
    """Of two lids one has the event: each pulls a quarter, whether on day 0 or on day 1."""
    for day in (0.0, 1.0):
        influence = incidence_influence(risk_table([day, 2.0], None), np.array([1, 0]), 1)
        assert influence[:, -1].tolist() == [0.25, -0.25]
