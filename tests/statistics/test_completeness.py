"""Clark's completeness of follow-up against hand sums and a printed worked example."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.statistics.completeness import clark_completeness
from tests.reference import close_enough, reference_case


def times(rows, cutoff, horizon=math.inf):
    """Observed and potential time of rows (entry, last seen, event)."""
    entry, last, event = np.array(rows, dtype=float).T
    observed = last - entry
    potential = np.where(event == 1, observed, cutoff - entry)
    return {"observed": np.minimum(observed, horizon), "potential": np.minimum(potential, horizon)}


def totals(rows, cutoff, horizon=math.inf):
    lids = times(rows, cutoff, horizon)
    return {
        "observed": lids["observed"].sum(),
        "potential": lids["potential"].sum(),
        "index": clark_completeness(**lids),
    }


def test_clark_by_hand_sums():
    case = reference_case("i01_clark_index")
    rows, cutoff = case.input["rows"], case.input["cutoff"]
    assert close_enough(totals(rows, cutoff), case.expected["all"], case.tolerance)
    assert close_enough(totals(rows, cutoff, case.input["horizon"]), case.expected["horizon12"], case.tolerance)


@pytest.mark.parametrize("name", list(reference_case("i02_clark_edges").expected))
def test_clark_edges(name):
    case = reference_case("i02_clark_edges")
    sample = case.input["sets"][name]
    assert close_enough(totals(sample["rows"], sample["cutoff"]), case.expected[name], case.tolerance)


def test_clark_of_two_arms():
    case = reference_case("i03_clark_two_arms")
    arms = {arm: totals(case.input[arm], case.input["cutoff"]) for arm in ("a", "b")}
    difference = arms["a"]["index"] - arms["b"]["index"]
    assert close_enough({**arms, "difference": difference}, case.expected, case.tolerance)


@pytest.mark.parametrize("lost_in_year, printed", [(1, 62.3), (3, 92.5)])
def test_the_worked_example_of_bmc_med_res_methodol_2017_17_155(lost_in_year, printed):
    """100 subjects, 3 years, 10, 5 and 5 events a year and 40 lost in one year, all at mid-year (figure 1)."""
    events = [(year - 0.5, year - 0.5) for year, number in ((1, 10), (2, 5), (3, 5)) for _ in range(number)]
    observed, potential = zip(*events, *[(lost_in_year - 0.5, 3)] * 40, *[(3, 3)] * 40, strict=True)
    assert round(100 * clark_completeness(observed=observed, potential=potential), 1) == printed


def test_more_seen_than_there_could_be_is_refused():
    with pytest.raises(ValueError, match=r"observed\[0\] is 5: must lie from 0 to the potential of the same lid, 4"):
        clark_completeness(observed=[5], potential=[4])


def test_one_potential_for_each_observed():
    with pytest.raises(ValueError, match="potential has 2 values and observed has 1"):
        clark_completeness(observed=[5], potential=[6, 7])


@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), min_size=1, max_size=9))
@settings(deadline=None)
def test_it_is_a_share_and_a_repetition_changes_nothing(lids):
    observed = np.array([min(lid) for lid in lids])
    potential = np.array([max(lid) for lid in lids])
    once = clark_completeness(observed=observed, potential=potential)
    twice = clark_completeness(observed=np.tile(observed, 2), potential=np.tile(potential, 2))
    assert once == pytest.approx(twice, nan_ok=True)
    assert math.isnan(once) or 0 <= once <= 1


@pytest.mark.parametrize("observed, potential", [([math.nan], [1]), ([-1], [1]), ([1], [math.nan]), ([1], [math.inf])])
def test_a_time_that_cannot_be_is_refused(observed, potential):
    with pytest.raises(ValueError, match="must be a finite number, 0 or more"):
        clark_completeness(observed=observed, potential=potential)
