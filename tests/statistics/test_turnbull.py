"""Turnbull's estimate against an independent maximiser, hand-made fractions and what must not matter."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.statistics.kaplan_meier import kaplan_meier
from outcomes.statistics.proportion import wilson
from outcomes.statistics.turnbull import proportion_by, turnbull, turnbull_without_parts
from tests.reference import close_enough, reference_case

LISTED = (
    "f01_turnbull_cosmesis",
    "f09_turnbull_edges",
    "f21_turnbull_cosmesis_from_list",
    "f22_turnbull_simulated200",
    "f25_turnbull_mixed_exact60",
)


def numbers(values):
    return np.array([math.inf if value == "Inf" else value for value in values], dtype=float)


def intervals(sample):
    return {"left": numbers(sample["left"]), "right": numbers(sample["right"])}


@pytest.mark.parametrize("case, name", [(case, name) for case in LISTED for name in reference_case(case).expected])
def test_cells_masses_and_curve(case, name):
    reference = reference_case(case)
    expected, tolerance = reference.expected[name], reference.tolerance
    estimate = turnbull(**intervals(reference.input["sets"][name]))
    assert estimate.converged
    assert close_enough(estimate.left, expected["cells_left"], tolerance)
    assert close_enough(estimate.right, expected["cells_right"], tolerance)
    assert close_enough(estimate.mass, expected["mass"], tolerance)
    assert close_enough(estimate.log_likelihood, expected["loglik"], tolerance)
    for t, survival in zip(expected["at"], expected["surv"], strict=True):
        low, high = estimate.survival_bounds(t)
        known = math.isclose(low, high, abs_tol=1e-12)
        assert close_enough(high if known else math.nan, survival, tolerance)


@pytest.mark.parametrize("name", list(reference_case("f28_turnbull_hand_fractions").expected))
def test_fractions_by_hand(name):
    reference = reference_case("f28_turnbull_hand_fractions")
    expected = reference.expected[name]
    estimate = turnbull(**intervals(reference.input["sets"][name]))
    assert close_enough(estimate.log_likelihood, expected["loglik"], reference.tolerance)
    if "cells" in expected:
        cells = [list(cell) for cell in zip(estimate.left, estimate.right, strict=True)]
        assert close_enough(cells, expected["cells"], reference.tolerance)
        assert close_enough(estimate.mass, expected["mass"], reference.tolerance)


def test_top_on_the_edge_without_a_slope():
    """a (a+b) (b+c) c is greatest at a = c = 1/2, where b has no slope either: an expectation step creeps for ever."""
    reference = reference_case("f31_turnbull_degenerate_boundary")
    expected, tolerance = reference.expected, reference.tolerance
    estimate = turnbull(**intervals(reference.input))
    mass = dict(zip(estimate.left, estimate.mass, strict=True))
    assert close_enough(estimate.survival_bounds(2)[0], expected["surv_after_2"], tolerance)
    assert close_enough(estimate.survival_bounds(3)[1], expected["surv_after_3"], tolerance)
    for place, name in ((1, "first"), (2, "middle"), (3, "last")):
        assert close_enough(mass.get(place, 0.0), expected[f"mass_{name}_cell"], tolerance)
    assert close_enough(estimate.log_likelihood, expected["loglik"], tolerance)


def test_known_times_and_losses_are_kaplan_meier():
    rng = np.random.default_rng(8)
    time, event = rng.integers(1, 15, 40).astype(float), rng.random(40) < 0.6
    estimate = turnbull(left=time, right=np.where(event, time, math.inf))
    curve = kaplan_meier(time=time, event=event)
    for t in range(16):
        if t <= time.max():
            assert estimate.survival_bounds(t) == pytest.approx([curve.at(t).estimate] * 2, abs=1e-6)


def test_one_inspection_of_everybody_is_a_proportion():
    estimate = turnbull(left=[0, 0, 0, 12, 12, 12, 12], right=[12, 12, 12] + [math.inf] * 4)
    assert estimate.survival_bounds(12) == pytest.approx((4 / 7, 4 / 7))


def test_nobody_at_all():
    estimate = turnbull(left=[], right=[])
    assert not estimate.mass.size
    assert math.isnan(estimate.log_likelihood)
    assert all(math.isnan(bound) for bound in estimate.survival_bounds(1))


@pytest.mark.parametrize(
    "given, said",
    [
        ({"left": [0, 3]}, r"right\[1\] is 2: must be no earlier than left\[1\], which is 3"),
        ({"right": [1, math.nan]}, r"right\[1\] is nan"),
        ({"left": [0, -1]}, r"left\[1\] is -1: must be a finite number, 0 or more"),
        ({"left": [0, math.nan]}, r"left\[1\] is nan"),
        ({"left": [0, math.inf]}, r"left\[1\] is inf"),
        ({"left": [1]}, "right has 2 values and left has 1"),
        ({"weight": [1, -1]}, r"weight\[1\] is -1"),
        ({"weight": [0, 0]}, "weight is 0 for every row"),
    ],
)
def test_impossible_input_is_refused(given, said):
    columns = {"left": [0, 1], "right": [1, 2], **given}
    with pytest.raises(ValueError, match=said):
        turnbull(**columns)
    with pytest.raises(ValueError, match=said):
        proportion_by(**columns, at=1)


@pytest.mark.parametrize(
    "given, said",
    [
        ({"at": math.nan}, "at is nan"),
        ({"confidence_level": 95}, "confidence_level is 95"),
        ({"patient": [1, None]}, r"patient\[1\] is None"),
    ],
)
def test_an_impossible_question_of_a_share_is_refused(given, said):
    with pytest.raises(ValueError, match=said):
        proportion_by(**{"left": [0, 1], "right": [1, 2], "at": 1, **given})


def many(lids, known, seed=1):
    """Reviews of every lid at times of its own, for an onset that is exponential; a share of the times is known."""
    rng = np.random.default_rng(seed)
    onset, reviews = rng.exponential(30, lids), np.cumsum(rng.exponential(12, (lids, 6)), axis=1)
    left = np.where(reviews < onset[:, None], reviews, 0).max(axis=1)
    right = np.where(reviews >= onset[:, None], reviews, math.inf).min(axis=1)
    exact = rng.random(lids) < known
    return np.where(exact, onset, left), np.where(exact, onset, right)


@pytest.mark.parametrize("lids, known", [(140, 0), (140, 0.3), (2_000, 0), (2_000, 0.3), (10_000, 0), (10_000, 0.5)])
def test_large_registers_reach_the_top(lids, known):
    """No slope towards any time is left (Gentleman and Geyer 1994), worked out here row by row at every end of a row."""
    left, right = many(lids, known)
    estimate = turnbull(left=left, right=right)
    assert estimate.converged
    assert estimate.mass.sum() == pytest.approx(1)
    below = np.append(0.0, np.cumsum(estimate.mass))
    first = np.searchsorted(estimate.left, left)
    first += (first < below.size - 1) & (left < right) & (estimate.right[np.minimum(first, below.size - 2)] == left)
    chance = below[np.searchsorted(estimate.right, right, side="right")] - below[first]
    assert estimate.log_likelihood == pytest.approx(np.log(chance).sum(), rel=1e-9)
    # The slope at a time t adds 1 / chance over the rows that hold it: those that began before, less those that ended.
    for t in np.random.default_rng(0).choice(np.append(right[np.isfinite(right)], left.max() + 1), 300):
        holds = (left < t) & (t <= right) | ((left == right) & (left == t))
        assert (holds / chance).sum() <= lids * (1 + 1e-6)


def test_known_times_and_losses_of_a_large_register_are_kaplan_meier():
    rng = np.random.default_rng(9)
    time, event = rng.random(4_000), rng.random(4_000) < 0.6
    estimate = turnbull(left=time, right=np.where(event, time, math.inf))
    curve = kaplan_meier(time=time, event=event)
    assert estimate.converged
    for t in np.quantile(time, [0.1, 0.5, 0.9]):
        assert estimate.survival_bounds(t) == pytest.approx([curve.at(t).estimate] * 2, abs=1e-6)


ends = st.one_of(st.just(math.inf), st.integers(0, 6))
rows = st.lists(st.tuples(st.integers(0, 8), ends, st.integers(1, 3)), min_size=1, max_size=12)


def columns(lids):
    left, width, weight = (np.array(column, dtype=float) for column in zip(*lids, strict=True))
    return left, left + width, weight.astype(int)


@given(rows)
@settings(deadline=None)
def test_nothing_better_exists(lids):
    """The slope towards each cell (Gentleman and Geyer 1994), worked out here from the result alone."""
    left, right, weight = columns(lids)
    estimate = turnbull(left=left, right=right, weight=weight)
    assert estimate.converged
    assert estimate.mass.sum() == pytest.approx(1)

    def covers(time, start, end):
        return (start < time) & (time <= end) | ((start == end) & (time == start))

    def middle(start, end):
        return start if start == end else start + (min(end, start + 1) - start) / 2

    places = np.array([middle(a, b) for a, b in zip(estimate.left, estimate.right, strict=True)])
    chance = np.array([estimate.mass[covers(places, a, b)].sum() for a, b in zip(left, right, strict=True)])
    everywhere = np.arange(0, 17, 0.5)
    slopes = [(weight * covers(t, left, right) / chance).sum() for t in everywhere]
    assert max(slopes) <= weight.sum() * (1 + 1e-6)
    assert estimate.log_likelihood == pytest.approx(float(weight @ np.log(chance)), abs=1e-6)


@given(rows, st.randoms())
@settings(deadline=None)
def test_order_is_irrelevant_and_a_weight_is_a_repetition(lids, shuffler):
    left, right, weight = columns(lids)
    weighted = turnbull(left=left, right=right, weight=weight)
    repeated = list(zip(np.repeat(left, weight), np.repeat(right, weight), strict=True))
    shuffler.shuffle(repeated)
    written_out = turnbull(left=[a for a, _ in repeated], right=[b for _, b in repeated])
    assert weighted.log_likelihood == pytest.approx(written_out.log_likelihood, abs=1e-6)


def test_a_share_with_everybody_reviewed_is_a_plain_proportion():
    """Reviews of all on day 90: 3 of 12 by then, so Wilson's limits of 3 of 12."""
    share = proportion_by(left=[0] * 3 + [90] * 9, right=[90] * 3 + [math.inf] * 9, at=90)
    plain = wilson(3, 12)
    assert (share.estimate, share.low, share.high) == pytest.approx((plain.estimate, plain.low, plain.high))


def test_none_of_twelve_is_not_certainty():
    share = proportion_by(left=[90] * 12, right=[math.inf] * 12, at=90)
    assert share.estimate == 0
    assert share.high == pytest.approx(wilson(0, 12).high)


def test_inside_a_cell_the_limits_allow_for_all_and_none_of_it():
    """Six had it between day 40 and day 60, six were free of it on day 90: on day 50 none or half."""
    left, right = [40] * 6 + [90] * 6, [60] * 6 + [math.inf] * 6
    share = proportion_by(left=left, right=right, at=50)
    assert share.estimate == pytest.approx(0.25)
    assert share.low == 0
    assert share.high == pytest.approx(wilson(3, 6).high)


def test_the_share_is_not_known_past_the_last_review():
    left, right = [0, 90, 90], [90, math.inf, math.inf]
    assert proportion_by(left=left, right=right, at=90).estimate == pytest.approx(1 / 3)
    assert math.isnan(proportion_by(left=left, right=right, at=91).estimate)
    assert math.isnan(proportion_by(left=[], right=[], at=91).low)


def test_two_lids_of_a_patient_count_for_less():
    left, right, patient = [0, 0, 90, 90, 90, 90], [90, 90] + [math.inf] * 4, [1, 1, 2, 2, 3, 3]
    together = proportion_by(left=left, right=right, at=90, patient=patient)
    strangers = proportion_by(left=left, right=right, at=90)
    assert together.estimate == pytest.approx(strangers.estimate)
    assert together.low < strangers.low
    assert together.high > strangers.high


@given(rows, st.integers(0, 20))
@settings(deadline=None)
def test_a_share_lies_within_its_limits(lids, at):
    left, right, _ = columns(lids)
    share = proportion_by(left=left, right=right, at=at)
    if not math.isnan(share.estimate):
        assert 0 <= share.low <= share.estimate + 1e-9 <= share.high + 2e-9 <= 1 + 3e-9


def test_without_a_part_the_likelihood_is_as_great_as_that_of_an_estimate_from_nothing():
    rng = np.random.default_rng(7)
    event, visit = rng.exponential(200, 900), np.array([30.0, 90, 180, 360, 720])
    seen = np.sort(visit + np.round(rng.normal(0, 9, (900, 5))), axis=1)
    place = (event[:, None] > seen).sum(axis=1)
    padded = np.column_stack([np.zeros(900), seen, np.full(900, np.inf)])
    left, right = padded[np.arange(900), place], padded[np.arange(900), place + 1]
    part = np.arange(900) % 6
    for number, found in enumerate(turnbull_without_parts(left=left, right=right, part=part)):
        anew = turnbull(left=left[part != number], right=right[part != number])
        assert found.converged
        assert found.log_likelihood == pytest.approx(anew.log_likelihood, abs=1e-6)
        assert found.log_likelihood >= anew.log_likelihood - 1e-6
    assert number == 5
