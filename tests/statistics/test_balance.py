"""Standardised differences, against closed forms and other programs."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.statistics.balance import standardised_difference, standardised_difference_of_shares
from tests.reference import close_enough, reference_case

values = st.lists(st.integers(0, 60).map(lambda half: half / 2), min_size=2, max_size=20)


def yes_or_no(events, n):
    return [1] * events + [0] * (n - events)


def test_reference_of_the_formula():
    case = reference_case("h04_smd_formula")
    measured, shares = case.input["continuous"], {key: case.input[key] for key in ("binary", "complete")}
    ours = standardised_difference(measured["x0"], measured["x1"])
    assert close_enough(ours, case.expected["continuous"], case.tolerance)
    for key, counts in shares.items():
        first, second = yes_or_no(counts["x0"], counts["n0"]), yes_or_no(counts["x1"], counts["n1"])
        assert close_enough(standardised_difference_of_shares(first, second), case.expected[key], case.tolerance)


def test_reference_of_case_and_control():
    case = reference_case("h05_smd_formulas")
    group = np.array(case.input["group"]) == 1
    for key, formula in (
        ("age", standardised_difference),
        ("parity", standardised_difference),
        ("anyspont", standardised_difference_of_shares),
    ):
        column = np.array(case.input[key])
        assert close_enough(formula(column[~group], column[group]), case.expected[key]["austin"], case.tolerance)


def test_reference_of_the_edges():
    case = reference_case("h06_smd_edges")
    for key, groups in case.input["continuous"].items():
        assert close_enough(standardised_difference(groups["a"], groups["b"]), case.expected[key], case.tolerance)
    for key, (x1, n1, x0, n0) in case.input["binary"].items():
        ours = standardised_difference_of_shares(yes_or_no(x0, n0), yes_or_no(x1, n1))
        assert close_enough(ours, case.expected[key], case.tolerance)


@pytest.mark.parametrize("name", ["h01_propensity_lalonde", "h02_propensity_lalonde_rct", "h03_propensity_birthwt"])
def test_reference_of_real_covariates(name):
    case = reference_case(name)
    treated = np.array(case.input["treat"]) == 1
    for key, column in case.input["columns"].items():
        binary = key in case.input["binary_columns"]
        formula = standardised_difference_of_shares if binary else standardised_difference
        ours = formula(np.array(column)[~treated], np.array(column)[treated])
        assert close_enough(ours, case.expected["smd"]["unweighted"][key], case.tolerance)


@given(values, values)
def test_swapping_the_cohorts_flips_the_sign(first, second):
    one_way, other_way = standardised_difference(first, second), standardised_difference(second, first)
    assert (math.isnan(one_way) and math.isnan(other_way)) or one_way == pytest.approx(-other_way)


@given(values, values, st.integers(1, 50), st.integers(-20, 20))
def test_the_unit_does_not_matter(first, second, scale, shift):
    ours = standardised_difference(first, second)
    rescaled = standardised_difference(np.array(first) * scale + shift, np.array(second) * scale + shift)
    assert ours == pytest.approx(rescaled, abs=1e-9, nan_ok=True)


def test_weights_move_the_means_and_not_the_yardstick():
    first, second = [0.0, 2.0], [1.0, 3.0]  # standard deviation root 2 in both
    weighted = standardised_difference(first, second, first_weight=[1, 3], second_weight=[3, 1])
    assert weighted == pytest.approx((1.5 - 1.5) / math.sqrt(2))
    assert standardised_difference(first, second) == pytest.approx(1 / math.sqrt(2))


@pytest.mark.parametrize(
    "call, message",
    [
        (lambda: standardised_difference([1, math.nan], [1, 2]), r"first\[1\] is nan"),
        (lambda: standardised_difference([1, 2], [1, 2], second_weight=[0, 0]), "weight is 0 for every row"),
        (lambda: standardised_difference([1, 2], [1, 2], first_weight=[1]), "weight has 1 values"),
        (lambda: standardised_difference_of_shares([0, 2], [0, 1]), r"first\[1\] is 2: must be 0 or 1"),
    ],
)
def test_impossible_input_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()
