"""Cumulative incidence against R, exact fractions, statsmodels, and what must not matter."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.statistics.aalen_johansen import aalen_johansen, incidence_difference
from outcomes.statistics.clusters import effective_proportion
from outcomes.statistics.difference import newcombe, square_and_add
from outcomes.statistics.kaplan_meier import kaplan_meier
from outcomes.statistics.proportion import wilson
from tests.reference import close_enough, reference_case

IN_SETS = ("e01_aj_mgus2", "e03_aj_cgvhd", "e04_aj_edges", "e06_aj_melanoma", "e20_aj_exact_fractions")
EDGES = "e21_aj_no_event_edges"


def named_sets(case):
    return [(case, name) for name in reference_case(case).expected]


def check_set(case, name):
    """Event-free share, incidences and jackknife errors at every listed time, carried forward past the end as in R."""
    reference = reference_case(case)
    sample, expected = reference.input["sets"][name], reference.expected[name]
    curve = aalen_johansen(time=sample["time"], cause=sample["event"])
    rows = np.searchsorted(curve.time, expected["at"], side="right") - 1
    assert close_enough(curve.event_free[rows], expected["event_free"], reference.tolerance)
    for cause in range(1, len(curve.incidence) + 1):
        wanted = expected.get(f"cause{cause}")
        if wanted is not None:
            assert close_enough(curve.incidence[cause - 1, rows], wanted["cif"], reference.tolerance)
            errors = np.sqrt(curve.variance[cause - 1, rows])
            assert close_enough(errors, wanted["se_infinitesimal_jackknife"], reference.tolerance)
    return curve, expected


@pytest.mark.parametrize("case, name", [pair for case in IN_SETS for pair in named_sets(case)])
def test_estimates_and_errors(case, name):
    check_set(case, name)


@pytest.mark.parametrize("name", list(reference_case(EDGES).expected))
def test_no_event_is_a_zero_with_an_upper_limit(name):
    curve, expected = check_set(EDGES, name)
    assert curve.time[-1] == expected["max_followup"]
    for t in expected["at"]:
        share = curve.at(t)
        assert share.low <= share.estimate <= share.high
        assert share.estimate > 0 or share.high > 0


@pytest.mark.parametrize("name", ["mgus2", "bmt"])
def test_one_minus_kaplan_meier_says_too_much(name):
    reference = reference_case("e07_naive_vs_aj")
    sample, expected = reference.input["sets"][name], reference.expected[name]
    curve = aalen_johansen(time=sample["time"], cause=sample["event"])
    naive = kaplan_meier(time=sample["time"], event=np.array(sample["event"]) == 1)
    shares = [curve.at(t).estimate for t in expected["at"]]
    assert close_enough(shares, expected["aalen_johansen"], reference.tolerance)
    assert close_enough(
        [1 - naive.at(t).estimate for t in expected["at"]], expected["naive_one_minus_km"], reference.tolerance
    )


def test_statsmodels_agrees():
    from statsmodels.duration.survfunc import CumIncidenceRight

    rng = np.random.default_rng(3)
    time, cause = rng.integers(1, 40, 80), rng.integers(0, 3, 80)
    other = CumIncidenceRight(time, cause)
    curve = aalen_johansen(time=time, cause=cause)
    rows = np.searchsorted(curve.time, other.times)
    for row in (0, 1):
        assert curve.incidence[row, rows] == pytest.approx(other.cinc[row])


def test_the_jackknife_done_the_long_way():
    """The influence is the derivative by a lid's weight: nudge each weight in turn."""
    time, cause = [1, 1, 2, 3, 3, 4, 5, 6, 6, 7], [1, 2, 0, 1, 0, 2, 1, 1, 2, 0]
    nudge, curve, pulls = 1e-6, aalen_johansen(time=time, cause=cause), []
    for lid in range(10):
        weight = np.ones(10) + nudge * (np.arange(10) == lid)
        nudged = aalen_johansen(time=time, cause=cause, weight=weight)
        pulls.append((nudged.incidence[0] - curve.incidence[0]) / nudge)
    assert (np.array(pulls) ** 2).sum(axis=0) == pytest.approx(curve.variance[0], abs=1e-5)


@pytest.mark.parametrize("events", [0, 20])
def test_none_and_all_of_twenty_are_wilson_of_a_plain_share(events):
    share = aalen_johansen(time=[1] * events + [2] * (20 - events), cause=[1] * events + [0] * (20 - events)).at(2)
    plain = wilson(events, 20)
    assert (share.low, share.high) == pytest.approx((plain.low, plain.high), abs=1e-9)


def test_limits_without_competition_are_those_of_the_survival_curve_of_the_event():
    """2 of 20, by hand: 0.1 to the power of exp(+-1.96 sqrt(0.0045) / 0.1 / 2.302585)."""
    share = aalen_johansen(time=[1, 1] + [2] * 18, cause=[1, 1] + [0] * 18).at(2)
    spread = 1.959964 * math.sqrt(0.1 * 0.9 / 20) / (0.1 * 2.302585)
    assert (share.low, share.high) == pytest.approx((0.1 ** math.exp(spread), 0.1 ** math.exp(-spread)), rel=1e-5)


def test_the_dead_are_known_not_to_recur():
    """Ten die, ten are followed to the end: none of 20 recurred, as of 20 who all lived."""
    share = aalen_johansen(time=[1] * 10 + [2] * 10, cause=[2] * 10 + [0] * 10).at(2)
    assert share.high == pytest.approx(wilson(0, 20).high)
    all_dead = aalen_johansen(time=[1] * 10 + [2] * 10, cause=[2] * 20).at(5)
    assert all_dead.high == pytest.approx(wilson(0, 20).high)


def test_loss_before_any_event_widens_the_limit():
    """Peto's number: 5 of 20 still followed, nothing happened to anybody, so the limit is that of none of 5."""
    curve = aalen_johansen(time=[1] * 15 + [3] * 5, cause=[0] * 20)
    assert curve.at(1).high == pytest.approx(wilson(0, 20).high)
    assert curve.at(2).high == pytest.approx(wilson(0, 5).high)


def test_nobody_followed_so_long():
    curve = aalen_johansen(time=[1, 2, 3], cause=[1, 0, 0])
    assert math.isnan(curve.at(4).estimate)
    assert math.isnan(curve.at(4).high)
    assert math.isnan(aalen_johansen(time=[], cause=[]).at(0).estimate)


def test_two_like_lids_count_as_one():
    """Eighteen patients whose two lids do the same: the variance and the limits of eighteen lids."""
    time, cause = np.arange(1, 19), np.arange(18) % 3
    one = aalen_johansen(time=time, cause=cause)
    two = aalen_johansen(time=np.tile(time, 2), cause=np.tile(cause, 2), patient=np.tile(time, 2))
    assert two.variance == pytest.approx(one.variance)
    for t in range(19):
        assert (two.at(t).low, two.at(t).high) == pytest.approx((one.at(t).low, one.at(t).high))


def test_unlike_lids_do_not_count_for_more_than_strangers():
    """In every patient one lid has the event and the other has not."""
    time, cause, patient = [1, 2] * 6, [1, 0] * 6, np.repeat(np.arange(6), 2)
    together, strangers = (
        aalen_johansen(time=time, cause=cause, patient=patient),
        aalen_johansen(time=time, cause=cause),
    )
    assert together.at(2).low < strangers.at(2).low
    assert together.at(2).high > strangers.at(2).high


def test_without_losses_patients_count_as_in_a_plain_proportion():
    """The variance is p (1 - p) over the effective number that the plain proportion of the same lids has."""
    patient = np.repeat(np.arange(10), 2)
    event = np.array([1, 1, 1, 0, 1, 1] + [0] * 14)
    curve = aalen_johansen(time=2 - event, cause=event, patient=patient)
    plain = effective_proportion(event, patient)
    assert curve.variance[0, -1] == pytest.approx(0.25 * 0.75 / plain.effective_n)


def test_difference_with_no_events_is_newcombe():
    lids = [(2, 0, 0)] * 15 + [(2, 0, 1)] * 20
    time, cause, group = zip(*lids, strict=True)
    ours, plain = incidence_difference(time=time, cause=cause, second=group, at=2), newcombe((0, 15), (0, 20))
    assert (ours.estimate, ours.low, ours.high) == pytest.approx((plain.estimate, plain.low, plain.high))


def test_difference_is_not_known_beyond_the_shorter_follow_up():
    difference = incidence_difference(time=[1, 9, 1, 4], cause=[1, 0, 1, 0], second=[0, 0, 1, 1], at=6)
    assert math.isnan(difference.estimate)
    assert math.isnan(difference.low)


lids = st.lists(
    st.tuples(st.integers(0, 9), st.integers(0, 2), st.integers(1, 3), st.booleans()), min_size=1, max_size=12
)


@given(lids, st.randoms())
@settings(deadline=None)
def test_order_is_irrelevant_and_a_weight_is_a_repetition(rows, shuffler):
    time, cause, weight, _ = (np.array(column) for column in zip(*rows, strict=True))
    weighted = aalen_johansen(time=time, cause=cause, weight=weight)
    repeated = list(zip(np.repeat(time, weight).tolist(), np.repeat(cause, weight).tolist(), strict=True))
    shuffler.shuffle(repeated)
    written_out = aalen_johansen(time=[t for t, _ in repeated], cause=[c for _, c in repeated])
    for field in ("time", "incidence", "event_free", "variance", "at_risk", "leaving"):
        assert getattr(weighted, field) == pytest.approx(getattr(written_out, field), abs=1e-12)


@given(lids)
@settings(deadline=None)
def test_the_states_add_up_and_a_patient_a_lid_changes_nothing(rows):
    time, cause, _, _ = (np.array(column) for column in zip(*rows, strict=True))
    curve = aalen_johansen(time=time, cause=cause)
    assert curve.incidence.sum(axis=0) + curve.event_free == pytest.approx(1)
    named = aalen_johansen(time=time, cause=cause, patient=[f"p{place}" for place in range(time.size)])
    assert named.variance == pytest.approx(curve.variance)
    assert named.dependence == 1
    for t in time:
        share = curve.at(t)
        assert share.low - 1e-9 <= share.estimate <= share.high + 1e-9


@given(lids)
@settings(deadline=None)
def test_swapping_the_groups_turns_the_difference_round(rows):
    time, cause, _, second = (np.array(column) for column in zip(*rows, strict=True))
    one = incidence_difference(time=time, cause=cause, second=second, at=4)
    other = incidence_difference(time=time, cause=cause, second=~second, at=4)
    assert (one.estimate, one.low, one.high) == pytest.approx((-other.estimate, -other.high, -other.low), nan_ok=True)


def test_square_and_add_is_what_joins_the_two_curves():
    time, cause, second = [1, 2, 3, 5, 1, 2, 4, 5], [1, 0, 2, 0, 0, 1, 1, 0], np.repeat([0, 1], 4)
    sides = [
        aalen_johansen(time=np.array(time)[second == side], cause=np.array(cause)[second == side]).at(5)
        for side in (0, 1)
    ]
    assert incidence_difference(time=time, cause=cause, second=second, at=5) == square_and_add(*sides)
