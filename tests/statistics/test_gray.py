"""Gray's test against the log-rank test, a slow second hand, and what must not matter."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.statistics.aalen_johansen import aalen_johansen
from outcomes.statistics.gray import gray_test
from tests.reference import close_enough, reference_case

# Scrucca L, Santucci A, Aversa F. Bone Marrow Transplant 2007;40:381-387: disease, months, status.
LEUKAEMIA = """
0 13 2  0 1 1   0 72 0  0 7 2   0 8 2   1 67 0  0 9 2   0 5 2   1 70 0  1 4 0  1 7 0   1 68 0  0 1 2   1 10 2  1 7 2
1 3 1   1 4 1   1 4 1   1 3 1   1 3 1   0 22 2  1 8 1   1 2 2   0 0 2   0 0 1  0 35 0  1 35 0  0 4 2   0 14 2  0 26 2
0 3 2   1 2 0   1 8 0   1 32 0  0 12 1
"""


def leukaemia():
    disease, months, status = np.array(LEUKAEMIA.split(), dtype=int).reshape(-1, 3).T
    return {"time": months, "cause": status, "second": disease == 1}


def gap_by_the_long_way(time, cause, second):
    """Observed minus expected, one time and one group at a time, from the curves themselves."""
    curves = [aalen_johansen(time=time[second == side], cause=cause[second == side]) for side in (False, True)]

    def just_before(curve, steps, t, start):
        row = np.searchsorted(curve.time, t, side="left") - 1
        return steps[row] if row >= 0 else start

    gap = 0.0
    for t in np.unique(time[cause == 1]):
        sizes = []
        for side, curve in zip((False, True), curves, strict=True):
            followed = ((time >= t) & (second == side)).sum()
            free = just_before(curve, curve.event_free, t, 1.0)
            sizes.append(followed * (1 - just_before(curve, curve.incidence[0], t, 0.0)) / free if followed else 0.0)
        now = (time == t) & (cause == 1)
        gap += (now & second).sum() - now.sum() * sizes[1] / sum(sizes)
    return gap


@pytest.mark.parametrize("name", list(reference_case("d11_logrank_classics").expected))
def test_with_nothing_competing_it_is_the_log_rank_test(name):
    reference = reference_case("d11_logrank_classics")
    sample, expected = reference.input["sets"][name], reference.expected[name]
    labels = np.array([str(label) for label in sample["group"]])
    test = gray_test(time=sample["time"], cause=sample["event"], second=labels == max(labels))
    assert close_enough(test.observed, expected["observed"][1], reference.tolerance)
    assert close_enough(test.expected, expected["expected"][1], reference.tolerance)
    chi_squared = (test.observed - test.expected) ** 2 / test.variance
    assert close_enough(chi_squared, expected["chisq"], reference.tolerance)
    assert test.permutation_p == pytest.approx(expected["p"], abs=0.02)
    assert test.at_risk_p == pytest.approx(expected["p"], abs=0.1)  # a dozen events take few values
    assert test.p == max(test.permutation_p, test.at_risk_p)


def test_the_long_way_gives_the_same():
    lids = leukaemia()
    test = gray_test(**lids)
    assert test.observed - test.expected == pytest.approx(gap_by_the_long_way(**lids))


def test_every_arrangement_by_the_long_way():
    rng = np.random.default_rng(6)
    time, cause, second = rng.integers(1, 9, 9), rng.integers(0, 3, 9), np.arange(9) < 4
    test = gray_test(time=time, cause=cause, second=second)
    statistics = []
    for chosen in combinations(range(9), 4):
        other = np.isin(np.arange(9), chosen)
        shared = gray_test(time=time, cause=cause, second=other)
        gap = gap_by_the_long_way(time, cause, other)
        statistics.append(gap**2 / shared.variance if shared.variance > 0 else 0.0)
    mine = gap_by_the_long_way(time, cause, second) ** 2 / test.variance
    assert test.exact
    assert test.permutation_p == pytest.approx(np.mean(np.array(statistics) >= mine - 1e-9))


def test_the_dead_stay_in_the_risk_set():
    """First group: two die on day 1. Nobody is lost, so on day 2 both groups still stand as three against three."""
    test = gray_test(time=[1, 1, 3, 2, 3, 3], cause=[2, 2, 0, 1, 0, 0], second=[0, 0, 0, 1, 1, 1])
    assert test.expected == pytest.approx(1 / 2)


def test_a_group_of_which_nobody_is_left_expects_no_more_events():
    """Both of the second group die on day 1; the events of the first group come later, with the first alone at risk."""
    test = gray_test(time=[1, 1, 2, 3, 3], cause=[2, 2, 1, 1, 0], second=[1, 1, 0, 0, 0])
    assert (test.observed, test.expected, test.variance) == (0, 0, 0)


def test_given_the_risk_sets_by_hand():
    """Three events, all of the second group, whose share at risk is 3/6, 2/5 and 1/3: 37/30 expected, 3 observed.

    As far away lies only 3 of 3 (none at all is 37/30 away, 3 is 53/30), with a chance of 3/6 x 2/5 x 1/3.
    """
    test = gray_test(time=[1, 2, 3, 9, 9, 2], cause=[1, 1, 1, 0, 0, 0], second=[1, 1, 1, 0, 0, 0])
    assert test.expected == pytest.approx(1 / 2 + 2 / 5 + 1 / 3)
    assert test.at_risk_p == pytest.approx(1 / 2 * 2 / 5 * 1 / 3)


def test_one_late_event_in_a_group_that_was_followed_for_less_long_proves_nothing():
    """Ten lids followed for 40 months, ten for 6, and one of these for 30, when it has the only event.

    Its group has 1 of the 11 at risk, so chance alone gives it the event in 1 of 11; the permutation finds it rarer than
    that, since it mixes the follow-up.
    """
    time, cause = [40] * 10 + [6] * 10 + [30], [0] * 20 + [1]
    test = gray_test(time=time, cause=cause, second=[0] * 10 + [1] * 11)
    assert test.at_risk_p == pytest.approx(1 / 11)
    assert test.permutation_p < 0.02
    assert test.p == test.at_risk_p


def test_a_draw_says_its_error():
    test = gray_test(**leukaemia())
    assert not test.exact
    assert test.monte_carlo_error == pytest.approx(math.sqrt(test.permutation_p * (1 - test.permutation_p) / 9_999))
    assert test == gray_test(**leukaemia())


@pytest.mark.parametrize(
    "given, said",
    [
        ({"time": [1, math.nan]}, r"time\[1\] is nan"),
        ({"time": [1, -1]}, r"time\[1\] is -1"),
        ({"cause": [1, 1.7]}, r"cause\[1\] is 1.7: must be a whole number, 0 or more"),
        ({"cause": [1, math.nan]}, r"cause\[1\] is nan"),
        ({"second": [0, 3]}, r"second\[1\] is 3"),
        ({"patient": [1]}, "patient has 1 values and time has 2"),
    ],
)
def test_impossible_input_is_refused(given, said):
    with pytest.raises(ValueError, match=said):
        gray_test(**{"time": [1, 2], "cause": [1, 0], "second": [0, 1], **given})


@pytest.mark.parametrize("days", [False, True])
def test_a_large_register_gives_the_p_of_its_own_normal_curve(days):
    """2,000 lids alike in both groups: the permutation agrees with the normal curve of the difference over its error."""
    rng = np.random.default_rng(4)
    second, patient = rng.random(2_000) < 0.4, np.arange(2_000)
    time, cause = rng.exponential(500, 2_000), rng.choice(3, 2_000, p=[0.5, 0.35, 0.15])
    test = gray_test(time=np.ceil(time / 20) if days else time, cause=cause, second=second, patient=patient)
    z = (test.observed - test.expected) / math.sqrt(test.variance)
    assert test.permutation_p == pytest.approx(math.erfc(abs(z) / math.sqrt(2)), abs=0.03)
    assert "inf" in repr(test)


def test_one_group_only_or_no_event():
    assert math.isnan(gray_test(time=[1, 2], cause=[1, 0], second=[1, 1]).p)
    assert gray_test(time=[1, 2, 3, 4], cause=[0, 0, 2, 2], second=[1, 0, 1, 0]).p == 1


lids = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 2), st.booleans()), min_size=2, max_size=8)


@given(lids, st.randoms())
@settings(deadline=None)
def test_order_and_the_names_of_the_groups_do_not_matter(rows, shuffler):
    time, cause, second = (np.array(column) for column in zip(*rows, strict=True))
    test = gray_test(time=time, cause=cause, second=second)
    swapped = gray_test(time=time, cause=cause, second=~second)
    assert swapped.p == pytest.approx(test.p, nan_ok=True)
    assert swapped.observed - swapped.expected == pytest.approx(-(test.observed - test.expected), nan_ok=True)
    mixed = list(rows)
    shuffler.shuffle(mixed)
    time, cause, second = (np.array(column) for column in zip(*mixed, strict=True))
    assert gray_test(time=time, cause=cause, second=second).p == pytest.approx(test.p, nan_ok=True)
