"""Overlap weights, against other programs and the property that they are chosen for."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.statistics.balance import standardised_difference
from outcomes.statistics.logistic import firth, maximum_likelihood
from outcomes.statistics.overlap import effective_size, overlap_weights, weighted_difference
from tests.reference import close_enough, reference_case


@pytest.mark.parametrize("name", ["h01_propensity_lalonde", "h02_propensity_lalonde_rct", "h03_propensity_birthwt"])
def test_reference(name):
    case = reference_case(name)
    treated, value = np.array(case.input["treat"]) == 1, np.array(case.input["outcome"])
    covariates = np.column_stack(list(case.input["columns"].values()))
    weight = overlap_weights(maximum_likelihood(covariates, treated).fitted, treated)
    expected = case.expected["effect"]["ato"]
    assert close_enough(weighted_difference(value, treated, weight)[0], expected["difference"], case.tolerance)
    assert close_enough(np.average(value[treated], weights=weight[treated]), expected["mean1"], case.tolerance)
    assert close_enough(np.average(value[~treated], weights=weight[~treated]), expected["mean0"], case.tolerance)
    assert close_enough(effective_size(weight[treated]), expected["ess1"], case.tolerance)
    assert close_enough(effective_size(weight[~treated]), expected["ess0"], case.tolerance)
    for column, key in enumerate(case.input["columns"]):
        balance = standardised_difference(
            covariates[~treated, column], covariates[treated, column],
            first_weight=weight[~treated], second_weight=weight[treated],
        )  # fmt: skip
        assert close_enough(balance, case.expected["smd"]["ato"][key], case.tolerance)


@pytest.mark.parametrize("name", ["h01_overlap_lalonde", "h04_overlap_tiny"])
def test_reference_of_weights_means_and_effects(name):
    case = reference_case(name)
    covariates = {key: np.array(column) for key, column in case.input["data"].items() if key != "treat"}
    treated = np.array(case.input["data"]["treat"]) == 1
    weight = overlap_weights(maximum_likelihood(np.column_stack(list(covariates.values())), treated).fitted, treated)
    ours = {
        "ess_treated": effective_size(weight[treated]),
        "ess_control": effective_size(weight[~treated]),
        "max_weight": weight.max(),
        "sum_treated": weight[treated].sum(),
        "sum_control": weight[~treated].sum(),
        "means_treated": {key: np.average(x[treated], weights=weight[treated]) for key, x in covariates.items()},
        "means_control": {key: np.average(x[~treated], weights=weight[~treated]) for key, x in covariates.items()},
        "smd": {key: weighted_difference(x, treated, weight)[0] / x.std() for key, x in covariates.items()},
    }
    assert close_enough(ours, case.expected["weighted"]["overlap"], case.tolerance)
    for key, values in case.input["outcomes"].items():
        expected, value = case.expected["effects"][key], np.array(values)
        gap = weighted_difference(value, treated, weight)[0]
        plain = weighted_difference(value, treated, np.ones(value.size))[0]
        assert close_enough(gap, expected["overlap"]["difference"], case.tolerance)
        assert close_enough(plain, expected["unweighted_difference"], case.tolerance)


def invented(seed, n=40):
    generator = np.random.default_rng(seed)
    covariates = np.column_stack([generator.normal(20, 5, n), generator.normal(70, 10, n), generator.random(n) < 0.3])
    return covariates, generator.random(n) < 1 / (1 + np.exp(-(covariates[:, 0] - 20) / 5))


@given(st.integers(0, 5_000))
def test_every_covariate_of_the_model_is_exactly_balanced(seed):
    # Li F, Morgan KL, Zaslavsky AM. J Am Stat Assoc 2018;113:390-400, theorem 3 (its number from memory).
    covariates, second = invented(seed)
    fit = maximum_likelihood(covariates, second)
    if fit.separated:
        return
    weight = overlap_weights(fit.fitted, second)
    for column in covariates.T:
        assert abs(weighted_difference(column, second, weight)[0]) < 1e-8 * max(1.0, np.abs(column).max())


def test_a_penalised_model_balances_only_nearly():
    covariates, second = invented(1)
    weight = overlap_weights(firth(covariates, second).fitted, second)
    gap = abs(weighted_difference(covariates[:, 0], second, weight)[0])
    assert 1e-6 < gap < 0.3 * covariates[:, 0].std()


@given(st.integers(0, 5_000))
def test_which_cover_is_called_second_matters_only_for_the_sign(seed):
    covariates, second = invented(seed)
    value = covariates[:, 1]
    chance = np.clip(np.abs(np.sin(covariates[:, 0])), 0.01, 0.99)
    one_way = weighted_difference(value, second, overlap_weights(chance, second))[0]
    other_way = weighted_difference(value, ~second, overlap_weights(1 - chance, ~second))[0]
    assert one_way == pytest.approx(-other_way)


def test_edges():
    assert effective_size([]) == 0
    assert effective_size([0.0, 0.0]) == 0
    assert effective_size([0.3] * 7) == pytest.approx(7)
    assert math.isnan(weighted_difference([1.0, 2.0], [True, True], [1.0, 1.0])[0])
    assert overlap_weights([[0.2, 0.2], [1.0, 0.0]], [True, False]).tolist() == [[0.8, 0.2], [0.0, 0.0]]


@pytest.mark.parametrize(
    "call, message",
    [
        (lambda: overlap_weights([0.5, 1.5], [0, 1]), r"propensity\[1\] is 1.5: must be a finite number from 0 to 1"),
        (lambda: overlap_weights([0.5, math.nan], [0, 1]), r"propensity\[1\] is nan"),
        (lambda: overlap_weights([0.5], [0, 1]), r"propensity has the shape \(1,\)"),
        (lambda: effective_size([1.0, -1.0]), r"weight\[1\] is -1"),
        (lambda: weighted_difference([1.0], [0, 1], [1.0, 1.0]), "second has 2 values and value has 1"),
        (lambda: weighted_difference([1.0, math.nan], [0, 1], [1.0, 1.0]), r"value\[1\] is nan"),
        (lambda: weighted_difference([1.0, 2.0], [0, 1], [[1.0, -1.0]]), "weight"),
    ],
)
def test_impossible_input_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_a_resample_whose_fit_failed_stays_without_weights():
    rows = overlap_weights([[math.nan, math.nan], [0.25, 0.75]], [0, 1])
    assert np.isnan(rows[0]).all()
    assert rows[1].tolist() == [0.25, 0.25]
