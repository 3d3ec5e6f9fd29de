"""The interval-censored log-rank test against printed results, independent values and the ordinary log-rank test."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.statistics.interval_logrank import interval_logrank, sun_scores
from outcomes.statistics.turnbull import cell_ranges, turnbull
from tests.reference import close_enough, reference_case

TESTED = (
    "f03_interval_logrank_cosmesis",
    "f20_interval_logrank_cosmesis_rad",
    "f23_interval_logrank_simulated200",
    "f26_interval_logrank_mixed_exact60",
    "f30_interval_logrank_exact_permutation",
)
EXACT = ("f29_sun_score_equals_logrank",)


def columns(sample):
    left, right = (
        np.array([math.inf if value == "Inf" else value for value in sample[side]], dtype=float)
        for side in ("left", "right")
    )
    return {"left": left, "right": right, "second": np.array(sample["z"]) == 1}


def values(test):
    """The reference's p value is the normal one of z."""
    return {"score": test.score, "variance": test.variance, "z": test.z, "p": math.erfc(abs(test.z) / math.sqrt(2))}


def finkelstein_scores(left, right):
    """The other published score, S log S in place of Sun's, here only to prove the curve that both stand on."""
    estimate = turnbull(left=left, right=right)
    first, last = cell_ranges(estimate, left=left, right=right)
    after = np.append(np.cumsum(estimate.mass[::-1])[::-1], 0.0)
    term = np.array([s * math.log(s) if s > 1e-12 else 0.0 for s in after])
    return (term[first] - term[last]) / (after[first] - after[last])


@pytest.mark.parametrize("case, name", [(case, name) for case in TESTED for name in reference_case(case).expected])
def test_sun_scores(case, name):
    reference = reference_case(case)
    test = interval_logrank(**columns(reference.input["sets"][name]))
    assert close_enough(values(test), reference.expected[name]["sun"], reference.tolerance)


@pytest.mark.parametrize("case, name", [(case, name) for case in TESTED for name in reference_case(case).expected])
def test_finkelstein_scores_on_the_same_curve(case, name):
    reference = reference_case(case)
    lids = columns(reference.input["sets"][name])
    scores = finkelstein_scores(lids["left"], lids["right"])
    score = scores[lids["second"]].sum()
    assert close_enough(score, reference.expected[name]["finkelstein"]["score"], reference.tolerance)


@pytest.mark.parametrize("name", ["gehan", "aml"])
def test_known_times_give_the_log_rank_test(name):
    reference = reference_case(EXACT[0])
    expected = reference.expected[name]
    test = interval_logrank(**columns(reference.input["sets"][name]))
    assert close_enough(test.score, expected["sun_score"], reference.tolerance)
    assert close_enough(test.score, expected["logrank_o_minus_e"], reference.tolerance)
    assert close_enough(test.variance, expected["permutation_variance"], reference.tolerance)
    assert close_enough(test.z, expected["z"], reference.tolerance)


def test_the_printed_results():
    """Fay MP, Shaw PA. J Stat Softw 2010;36(2): Z -2.6684, p 0.007622, score -9.141846; 999 shufflings gave p 0.002."""
    reference = reference_case("f20_interval_logrank_cosmesis_rad")
    test = interval_logrank(**columns(reference.input["sets"]["cosmesis"]))
    assert round(test.z, 4) == -2.6684
    assert round(values(test)["p"], 6) == 0.007622
    assert round(test.score, 6) == -9.141846
    assert test.permutation.p < 0.0106  # the printed 99 % interval ends there


@pytest.mark.parametrize("name", ["ten", "nine_unequal", "twelve_mixed", "identical_arms"])
def test_every_exchange_by_the_long_way(name):
    lids = columns(reference_case("f30_interval_logrank_exact_permutation").input["sets"][name])
    scores, second = sun_scores(left=lids["left"], right=lids["right"]), lids["second"]
    centre = scores.mean() * second.sum()
    sums = np.array([scores[list(chosen)].sum() for chosen in combinations(range(second.size), second.sum())])
    by_hand = np.mean(np.abs(sums - centre) >= abs(scores[second].sum() - centre) - 1e-6)
    test = interval_logrank(**lids)
    assert test.permutation.exact
    assert test.permutation.p == pytest.approx(by_hand)


def test_two_lids_of_a_patient_move_together():
    """Six patients, both lids alike: 20 exchanges of patients, of which the observed one and its mirror reach it."""
    left, right = np.repeat([0, 0, 0, 6, 6, 6], 2), np.repeat([3, 3, 3, math.inf, math.inf, math.inf], 2)
    patient = np.repeat(np.arange(6), 2)
    test = interval_logrank(left=left, right=right, second=patient < 3, patient=patient)
    assert test.permutation.p == pytest.approx(2 / 20)


@pytest.mark.parametrize(
    "given, said",
    [
        ({"second": [0, 2]}, r"second\[1\] is 2: must be 0 or 1"),
        ({"second": [1]}, "second has 1 values and left has 2"),
        ({"left": [0, math.nan]}, r"left\[1\] is nan"),
        ({"right": [1, 0]}, r"right\[1\] is 0: must be no earlier"),
        ({"patient": [1, None]}, r"patient\[1\] is None"),
    ],
)
def test_impossible_input_is_refused(given, said):
    with pytest.raises(ValueError, match=said):
        interval_logrank(**{"left": [0, 1], "right": [1, 2], "second": [0, 1], **given})


def test_nobody_at_all():
    assert math.isnan(interval_logrank(left=[], right=[], second=[]).p)
    assert sun_scores(left=[], right=[]).size == 0


def test_a_large_register_gives_the_normal_p():
    """3,000 lids reviewed at times of their own: the permutation agrees with the normal curve of z."""
    rng = np.random.default_rng(3)
    second = np.arange(3_000) % 2 == 1
    onset, reviews = rng.exponential(30 - 2 * second), np.cumsum(rng.exponential(12, (3_000, 6)), axis=1)
    left = np.where(reviews < onset[:, None], reviews, 0).max(axis=1)
    right = np.where(reviews >= onset[:, None], reviews, math.inf).min(axis=1)
    test = interval_logrank(left=left, right=right, second=second)
    assert test.permutation.p == pytest.approx(values(test)["p"], abs=5 * test.permutation.monte_carlo_error)
    assert test.at_risk_p == pytest.approx(test.permutation.p, abs=0.1)


def test_one_group_only():
    test = interval_logrank(left=[0, 1], right=[1, 2], second=[1, 1])
    assert math.isnan(test.z)
    assert math.isnan(test.permutation.p)


lids = st.lists(
    st.tuples(st.integers(0, 6), st.one_of(st.just(math.inf), st.integers(0, 5)), st.booleans()),
    min_size=2,
    max_size=10,
)


@given(lids, st.randoms())
@settings(deadline=None)
def test_scores_add_up_to_nothing_and_follow_their_rows(rows, shuffler):
    left, width, _ = (np.array(column, dtype=float) for column in zip(*rows, strict=True))
    scores = sun_scores(left=left, right=left + width)
    assert scores.sum() == pytest.approx(0, abs=1e-6)
    order = list(range(len(rows)))
    shuffler.shuffle(order)
    mixed = sun_scores(left=left[order], right=(left + width)[order])
    assert mixed == pytest.approx(scores[order], abs=1e-3)


@given(lids)
@settings(deadline=None)
def test_swapping_the_groups_turns_the_sign(rows):
    left, width, second = (np.array(column, dtype=float) for column in zip(*rows, strict=True))
    one = interval_logrank(left=left, right=left + width, second=second)
    other = interval_logrank(left=left, right=left + width, second=1 - second)
    assert one.z == pytest.approx(-other.z, abs=1e-6, nan_ok=True)
    assert one.permutation.p == pytest.approx(other.permutation.p, abs=1e-9, nan_ok=True)


def test_one_late_onset_in_a_group_that_was_followed_for_less_long_proves_nothing():
    """Ten lids reviewed up to month 36, ten up to 6, and one of these up to 24, with the only onset, seen at 30.

    Half-way, at 27, that lid is 1 of 11 still followed; the exchange of covers mixes the follow-up and finds it rarer.
    """
    test = interval_logrank(left=[36] * 10 + [6] * 10 + [24], right=[math.inf] * 20 + [30], second=[0] * 10 + [1] * 11)
    assert test.at_risk_p == pytest.approx(1 / 11)
    assert test.permutation.p < 0.06
    assert test.p == test.at_risk_p
