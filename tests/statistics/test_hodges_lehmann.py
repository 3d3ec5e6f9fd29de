"""The shift between two groups, against printed examples, other programs and what must hold."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import mannwhitneyu

from outcomes.statistics.hodges_lehmann import (
    allow_for_rounding,
    hodges_lehmann,
    resampled_hodges_lehmann,
    weighted_hodges_lehmann,
)
from tests.reference import close_enough, reference_case

half_mm = st.integers(-4, 12).map(lambda half: half / 2)
groups = st.lists(half_mm, min_size=1, max_size=25)


@pytest.mark.parametrize("name", ["c01_mannwhitney_permeability", "c03_mannwhitney_pain", "c05_mannwhitney_asat"])
def test_reference(name):
    case = reference_case(name)
    ours = hodges_lehmann(case.input["y"], case.input["x"], confidence_level=case.input["conf_level"])
    assert close_enough(ours.estimate, case.expected["hl_shift_x_minus_y"], case.tolerance)
    assert close_enough((ours.low, ours.high), case.expected["hl_ci_order_exact_index"], case.tolerance)


def test_reference_at_the_edges():
    case = reference_case("c06_mannwhitney_edges")
    for key, values in case.input["sets"].items():
        ours = hodges_lehmann(values["y"], values["x"])
        assert close_enough(ours.estimate, case.expected[key]["hl_shift_x_minus_y"], case.tolerance)


@given(groups, groups)
def test_swapping_the_groups_flips_the_sign(first, second):
    one_way, other_way = hodges_lehmann(first, second), hodges_lehmann(second, first)
    assert one_way.estimate == -other_way.estimate
    assert one_way.low == pytest.approx(-other_way.high, nan_ok=True)


@given(groups, groups, half_mm)
def test_moving_one_group_moves_the_estimate_and_both_limits(first, second, shift):
    here, there = hodges_lehmann(first, second), hodges_lehmann(first, np.array(second) + shift)
    assert (there.estimate, there.low, there.high) == pytest.approx(
        (here.estimate + shift, here.low + shift, here.high + shift), nan_ok=True
    )


@given(
    st.lists(st.floats(-50, 50).map(lambda value: round(value, 5)), min_size=12, max_size=40, unique=True),
    st.integers(5, 7),
)
def test_the_limits_hold_the_shifts_that_the_exact_rank_test_does_not_reject(values, first_n):
    first, second = np.array(values[:first_n]), np.array(values[first_n:])
    ours = hodges_lehmann(first, second)
    hair = 1e-7
    inside = (ours.low + hair, ours.high - hair)
    outside = (ours.low - hair, ours.high + hair)
    assert all(mannwhitneyu(second - shift, first, method="exact").pvalue > 0.05 for shift in inside)
    assert all(mannwhitneyu(second - shift, first, method="exact").pvalue <= 0.05 for shift in outside)


def test_too_few_for_the_level():
    # Three against three: the whole range of differences holds the truth with a chance of 1 - 2/20, which is 90 %.
    ours = hodges_lehmann([1.0, 2.0, 3.0], [4.1, 5.2, 6.3])
    assert (math.isnan(ours.low), math.isnan(ours.high)) == (True, True)
    ninety = hodges_lehmann([1.0, 2.0, 3.0], [4.1, 5.2, 6.3], confidence_level=0.9)
    assert (ninety.low, ninety.high) == pytest.approx((1.1, 5.3))


def test_all_equal_or_nothing_there():
    equal = hodges_lehmann([0.0] * 20, [0.0] * 18)
    assert equal.estimate == 0
    assert math.isnan(equal.low)
    for first, second in (([], [1.0]), ([1.0], []), ([], [])):
        assert math.isnan(hodges_lehmann(first, second).estimate)


def test_lids_that_share_patients_widen_the_limits_and_nothing_else():
    generator = np.random.default_rng(3)
    first, second = np.round(20 * generator.normal(size=(2, 30))) / 2
    lone = hodges_lehmann(first, second, first_patient=range(30), second_patient=range(30, 60))
    paired = hodges_lehmann(
        np.repeat(first, 2), np.repeat(second, 2), first_patient=np.arange(60) // 2, second_patient=np.arange(60) // 2
    )
    assert lone == hodges_lehmann(first, second)
    # Every lid twice over is no more knowledge: the widened limits are those of the lids once.
    assert (paired.estimate, paired.low, paired.high) == (lone.estimate, lone.low, lone.high)
    ignored = hodges_lehmann(np.repeat(first, 2), np.repeat(second, 2))
    assert ignored.high - ignored.low < paired.high - paired.low


@given(groups, groups)
def test_rounding_never_brings_none_into_an_interval_that_left_it_out(first, second):
    plain = hodges_lehmann(first, second)
    rounded = allow_for_rounding(plain, 0.5)
    if math.isnan(plain.low):
        assert math.isnan(rounded.low)
        return
    assert (rounded.low, rounded.high) == (plain.low - 0.25, plain.high + 0.25)
    assert (plain.low <= 0 <= plain.high) == (rounded.low <= 0 <= rounded.high)


@given(groups, groups)
def test_equal_weights_are_no_weights(first, second):
    weighted = weighted_hodges_lehmann(first, second, [0.3] * len(first), [0.7] * len(second))
    assert weighted == pytest.approx(hodges_lehmann(first, second).estimate)


@given(st.data(), groups, groups)
def test_a_whole_weight_is_a_lid_counted_so_often(data, first, second):
    first_weight = data.draw(st.lists(st.integers(0, 3), min_size=len(first), max_size=len(first)))
    second_weight = data.draw(st.lists(st.integers(0, 3), min_size=len(second), max_size=len(second)))
    repeated = hodges_lehmann(np.repeat(first, first_weight), np.repeat(second, second_weight)).estimate
    weighted = weighted_hodges_lehmann(first, second, first_weight, second_weight)
    assert weighted == pytest.approx(repeated, nan_ok=True)


def test_many_resamples_are_each_their_own():
    generator = np.random.default_rng(8)
    first, second = generator.normal(size=70), generator.normal(size=60)  # more pairs than are taken at once
    first_weight = generator.integers(0, 3, size=(1200, 70))
    second_weight = generator.random(size=(1200, 60))
    together = resampled_hodges_lehmann(first, second, first_weight, second_weight)
    for row in (0, 475, 476, 1199):
        alone = weighted_hodges_lehmann(first, second, first_weight[row], second_weight[row])
        assert together[row] == pytest.approx(alone)
