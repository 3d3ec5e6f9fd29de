"""Cumulative incidence against R, exact fractions, statsmodels, and what must not matter."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.statistics.aalen_johansen import aalen_johansen, incidence_difference
from outcomes.statistics.clusters import effective_proportion, independent_lids, likeness
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
    nobody = aalen_johansen(time=[], cause=[], patient=[])
    assert math.isnan(nobody.at(0).estimate)
    assert np.isnan([*nobody.incidence[:, 0], *nobody.event_free, *nobody.variance[:, 0]]).all()


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
def test_order_is_irrelevant_and_a_weighted_share_is_that_of_repeated_rows(rows, shuffler):
    time, cause, weight, _ = (np.array(column) for column in zip(*rows, strict=True))
    weighted = aalen_johansen(time=time, cause=cause, weight=weight)
    repeated = list(zip(np.repeat(time, weight).tolist(), np.repeat(cause, weight).tolist(), strict=True))
    shuffler.shuffle(repeated)
    written_out = aalen_johansen(time=[t for t, _ in repeated], cause=[c for _, c in repeated])
    for field in ("time", "incidence", "event_free", "at_risk", "leaving"):
        assert getattr(weighted, field) == pytest.approx(getattr(written_out, field), abs=1e-12)


@given(lids, st.sampled_from([1e-10, 0.5, 1e6]), st.booleans())
@settings(deadline=None)
def test_a_weight_is_no_count_so_that_its_scale_does_not_matter(rows, scale, paired):
    time, cause, weight, _ = (np.array(column) for column in zip(*rows, strict=True))
    patient = np.arange(time.size) // 2 if paired else None
    plain = aalen_johansen(time=time, cause=cause, weight=weight, patient=patient)
    scaled = aalen_johansen(time=time, cause=cause, weight=weight * scale, patient=patient)
    alike = aalen_johansen(time=time, cause=cause, weight=np.full(time.size, scale), patient=patient)
    unweighted = aalen_johansen(time=time, cause=cause, patient=patient)
    for one, other in ((plain, scaled), (unweighted, alike)):
        assert one.variance == pytest.approx(other.variance, abs=1e-12)
        assert one.effective_lids == pytest.approx(other.effective_lids)
        for t in time:
            ours, theirs = one.at(t), other.at(t)
            assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high), abs=1e-9)


@pytest.mark.parametrize("day", [0.0, 1.0])
def test_an_event_on_day_0_pulls_as_any_other(day):
    """Of two lids one has the event: each pulls a quarter, so that the squares add up to an eighth."""
    curve = aalen_johansen(time=[day, 2.0], cause=[1, 0])
    assert curve.variance[0, -1] == 1 / 8
    assert curve.incidence[0, -1] == 1 / 2


def test_the_weighted_jackknife_done_the_long_way():
    """The influence is the derivative by a lid's weight; each counts times its weight."""
    time, cause = [1, 1, 2, 3, 3, 4, 5, 6, 6, 7], [1, 2, 0, 1, 0, 2, 1, 1, 2, 0]
    weight = np.array([1, 0.5, 2, 1, 3, 1, 0.2, 1, 1, 2])
    nudge, curve, pulls = 1e-6, aalen_johansen(time=time, cause=cause, weight=weight), []
    for lid in range(10):
        nudged = aalen_johansen(time=time, cause=cause, weight=weight + nudge * (np.arange(10) == lid))
        pulls.append(weight[lid] * (nudged.incidence - curve.incidence) / nudge)
    assert (np.array(pulls) ** 2).sum(axis=0) == pytest.approx(curve.variance, abs=1e-5)


def test_without_losses_weighted_limits_are_those_of_a_weighted_proportion():
    """All followed to the end, the weights the same among those with the event and those without: Kish's number."""
    event, weight = np.repeat([1, 0], [8, 16]), np.tile([0.5, 1.5, 1.0, 1.0], 6)
    share = aalen_johansen(time=2 - event, cause=event, weight=weight).at(2)
    plain = effective_proportion(event, range(24), weight=weight)
    assert (share.estimate, share.low, share.high) == pytest.approx((plain.estimate, plain.low, plain.high))
    none = aalen_johansen(time=[2] * 24, cause=[0] * 24, weight=weight).at(2)
    plain = effective_proportion([0] * 24, range(24), weight=weight)
    assert (none.low, none.high) == pytest.approx((plain.low, plain.high))


def test_an_event_of_a_lid_that_hardly_counts_is_as_no_event():
    """The only event has a weight of 1e-10 beside 19 lids of 1: the limits are those of none of 19, and nothing overflows."""
    share = aalen_johansen(time=[1] + [2] * 19, cause=[1] + [0] * 19, weight=[1e-10] + [1] * 19).at(2)
    assert share.high == pytest.approx(wilson(0, 19).high, abs=1e-6)


def test_a_share_of_1_but_for_rounding_is_no_certainty():
    """All had the event, after losses that leave sums of fractions: the limits are Wilson's, not 1 to 1."""
    rng = np.random.default_rng(330)
    time, cause = np.append(rng.random(290) * 9, 9), np.append(rng.integers(0, 2, 290), 1)
    share = aalen_johansen(time=time, cause=cause).at(9)
    assert share.estimate == pytest.approx(1)
    assert share.low < 0.9


def test_a_large_register_needs_no_square_of_memory():
    """50,000 distinct times: influences of each lid at each time would need 20 GB."""
    rng = np.random.default_rng(5)
    time, cause, patient = rng.random(50_000), rng.integers(0, 3, 50_000), np.arange(50_000) // 2
    curve = aalen_johansen(time=time, cause=cause, patient=patient)
    assert np.isfinite(curve.variance).all()
    low, high = curve.limits()
    assert (low[1:] <= high[1:]).all()


@pytest.mark.parametrize("paired", [False, True])
def test_limits_of_the_curve_are_those_at_its_times(paired):
    rng = np.random.default_rng(8)
    time, cause = rng.integers(1, 30, 60), rng.integers(0, 3, 60)
    curve = aalen_johansen(time=time, cause=cause, patient=np.arange(60) // 2 if paired else None)
    low, high = curve.limits(cause=2)
    shares = [curve.at(t, cause=2) for t in curve.time]
    assert low.tolist() == [share.low for share in shares]
    assert high.tolist() == [share.high for share in shares]


def test_how_alike_the_lids_of_a_patient_are_by_the_long_way():
    """One influence a lid and step by nudging its weight, and `likeness` of each step, in patients of one to five lids."""
    rng = np.random.default_rng(12)
    patient = rng.integers(0, 15, 40)
    time = rng.integers(1, 9, 15)[patient] + rng.integers(0, 3, 40)
    cause = np.where(rng.random(40) < 0.6, rng.integers(0, 3, 15)[patient], rng.integers(0, 3, 40))
    curve, nudge = aalen_johansen(time=time, cause=cause, patient=patient), 1e-6
    plain = aalen_johansen(time=time, cause=cause)
    pulls = np.array([
        (aalen_johansen(time=time, cause=cause, weight=1 + nudge * (np.arange(40) == lid)).incidence[0]
         - plain.incidence[0]) / nudge
        for lid in range(40)
    ])  # fmt: skip
    strangers = independent_lids(np.ones(40), patient, alike=0.0)
    fewest = 1 / math.sqrt((np.bincount(patient) * (np.bincount(patient) - 1)).sum() / 2)
    assert any(fewest < likeness(column, patient) < 1 for column in pulls.T)
    for step in range(1, curve.time.size):
        raised = strangers / independent_lids(np.ones(40), patient, alike=likeness(pulls[:, step], patient))
        assert curve.variance[0, step] == pytest.approx(plain.variance[0, step] * raised, rel=1e-3)


@pytest.mark.parametrize(
    "given, said",
    [
        ({"cause": [1, 1.7]}, r"cause\[1\] is 1.7: must be a whole number from 0 to 99"),
        ({"cause": [1, -1]}, r"cause\[1\] is -1"),
        ({"cause": [1, 1000]}, r"cause\[1\] is 1000"),
        ({"cause": [1, math.nan]}, r"cause\[1\] is nan"),
        ({"cause": [1]}, "cause has 1 values and time has 2"),
        ({"time": [1, math.nan]}, r"time\[1\] is nan"),
        ({"time": [1, -2]}, r"time\[1\] is -2"),
        ({"weight": [0, 0]}, "weight is 0 for every row"),
        ({"weight": [1, -1]}, r"weight\[1\] is -1"),
        ({"weight": [1]}, "weight has 1 values and time has 2"),
        ({"patient": ["a", None]}, r"patient\[1\] is None"),
        ({"confidence_level": 95}, "confidence_level is 95"),
    ],
)
def test_impossible_input_is_refused(given, said):
    with pytest.raises(ValueError, match=said):
        aalen_johansen(**{"time": [1, 2], "cause": [1, 0], **given})


@pytest.mark.parametrize(
    "given, said",
    [
        ({"second": [0, 2]}, r"second\[1\] is 2: must be 0 or 1"),
        ({"second": [1]}, "second has 1 values and time has 2"),
        ({"cause": [1, 1.7]}, "is 1.7: must be a whole number from 0 to 99"),
        ({"at": math.nan}, "t is nan"),
        ({"confidence_level": 0}, "confidence_level is 0"),
    ],
)
def test_an_impossible_difference_is_refused(given, said):
    with pytest.raises(ValueError, match=said):
        incidence_difference(**{"time": [1, 2], "cause": [1, 0], "second": [0, 1], "at": 1, **given})


@pytest.mark.parametrize("cause", [0, 3, -1, 1.5])
def test_a_cause_that_the_curve_has_not_is_refused(cause):
    curve = aalen_johansen(time=[1, 2], cause=[1, 0])
    with pytest.raises(ValueError, match=f"cause is {cause}"):
        curve.at(1, cause=cause)
    with pytest.raises(ValueError, match="t is nan"):
        curve.at(math.nan)


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


def test_patients_of_one_lid_each_with_unequal_weights_are_as_lids_alone():
    rng = np.random.default_rng(7)
    for size in range(3, 30):
        time, cause, weight = rng.exponential(1, size), rng.integers(0, 2, size), rng.random(size) + 0.01
        alone = aalen_johansen(time=time, cause=cause, weight=weight)
        named = aalen_johansen(time=time, cause=cause, weight=weight, patient=rng.permutation(size))
        assert named.variance == pytest.approx(alone.variance)
