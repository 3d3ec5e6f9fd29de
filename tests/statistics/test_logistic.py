"""Logistic models, plain and penalised, against other programs, print, and the plainest cases by hand."""

import math

import numpy as np
import pytest
import statsmodels.api as sm
from firthmodels import FirthLogisticRegression
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from outcomes.statistics.logistic import firth, firth_profile, maximum_likelihood
from tests.reference import close_enough, reference_case


def columns(case, names):
    return np.column_stack([case.input[name] for name in names]).astype(float)


@pytest.mark.parametrize("name", ["h01_propensity_lalonde", "h02_propensity_lalonde_rct", "h03_propensity_birthwt"])
def test_reference_of_maximum_likelihood(name):
    case = reference_case(name)
    fit = maximum_likelihood(np.column_stack(list(case.input["columns"].values())), case.input["treat"])
    assert fit.converged
    assert not fit.separated
    assert close_enough(fit.coefficients, case.expected["ps_coef"], case.tolerance)
    assert close_enough(fit.log_likelihood, case.expected["loglik"], case.tolerance)
    assert close_enough(fit.fitted[:10], case.expected["ps_first10"], case.tolerance)
    assert close_enough(fit.fitted.sum(), case.expected["ps_sum"], case.tolerance)


@pytest.mark.parametrize("name", ["h01_overlap_lalonde", "h02_iptw_lalonde", "h04_overlap_tiny"])
def test_reference_of_a_propensity(name):
    case = reference_case(name)
    names = [column for column in case.input["data"] if column != "treat"]
    covariates = np.column_stack([case.input["data"][column] for column in names])
    fit = maximum_likelihood(covariates, case.input["data"]["treat"])
    coefficients = dict(zip(["intercept", *names], fit.coefficients, strict=True))
    assert close_enough(coefficients, case.expected["coef"], case.tolerance)
    assert close_enough(fit.log_likelihood, case.expected["loglik"], case.tolerance)
    for row, chance in case.expected["propensity"].items():
        assert close_enough(fit.fitted[int(row)], chance, case.tolerance)
    assert close_enough(fit.fitted.min(), case.expected["propensity_min"], case.tolerance)
    assert close_enough(fit.fitted.max(), case.expected["propensity_max"], case.tolerance)


def test_reference_with_levels():
    case = reference_case("h06_logistic_standardisation")
    race = np.array(case.input["race"])
    covariates = np.column_stack(
        [columns(case, ["smoke", "age", "lwt"]), race == 2, race == 3, columns(case, ["ht", "ui"])]
    )
    fit = maximum_likelihood(covariates, case.input["low"])
    assert close_enough(fit.coefficients, case.expected["coef"], case.tolerance)
    assert close_enough(-2 * fit.log_likelihood, case.expected["deviance"], case.tolerance)


def test_reference_of_separated_grades():
    case = reference_case("d32_firth_logistic_endometrial")
    covariates = columns(case, ["NV", "PI", "EH"])
    assert close_enough(firth(covariates, case.input["HG"]).coefficients, case.expected["coef"], case.tolerance)
    for column, limits in enumerate(case.expected["profile_ci_NV_PI_EH"], start=1):
        profile = firth_profile(covariates, case.input["HG"], column)
        assert close_enough((profile.interval.low, profile.interval.high), limits, case.tolerance)


@pytest.mark.parametrize(
    "name, separated",
    [("h09_firth_endometrial", True), ("h11_firth_2x2_zero", True), ("h13_firth_birthwt", False)],
)
def test_reference_of_firth(name, separated):
    case = reference_case(name)
    names = [key for key in case.input if key not in {"y", "conf_level"}]
    covariates, outcome = columns(case, names), case.input["y"]
    fit = firth(covariates, outcome)
    assert fit.converged
    assert maximum_likelihood(covariates, outcome).separated == separated
    assert close_enough(fit.log_likelihood, case.expected["penalised_loglik"], case.tolerance)
    for column, key in enumerate(["intercept", *names]):
        profile, expected = firth_profile(covariates, outcome, column), case.expected[key]
        assert close_enough(fit.coefficients[column], expected["coef"], case.tolerance)
        assert close_enough(profile.interval.estimate, expected["coef"], case.tolerance)
        assert close_enough((profile.interval.low, profile.interval.high), expected["profile_ci"], case.tolerance)
        assert close_enough(profile.p, expected["plr_p"], case.tolerance)


@given(st.integers(0, 12), st.integers(1, 12), st.integers(0, 12), st.integers(1, 12))
def test_one_yes_or_no_covariate_is_a_half_added_to_each_cell(a, b, c, d):
    # Firth D. Biometrika 1993;80:27-38: for a saturated model the penalty is a half more in every cell.
    covariate = [[1]] * (a + b) + [[0]] * (c + d)
    fit = firth(covariate, [1] * a + [0] * b + [1] * c + [0] * d)
    assert fit.coefficients[1] == pytest.approx(math.log((a + 0.5) * (d + 0.5) / ((b + 0.5) * (c + 0.5))), abs=1e-7)


def random_lids(seed, n):
    generator = np.random.default_rng(seed)
    covariates = np.column_stack([generator.normal(20, 5, n), generator.normal(70, 10, n), generator.random(n) < 0.4])
    return covariates, (generator.random(n) < 1 / (1 + np.exp(-(covariates[:, 0] - 20) / 5))).astype(int), generator


@pytest.mark.parametrize("seed", range(4))
def test_independent_programs_agree(seed):
    covariates, outcome, _ = random_lids(seed, 60)
    plain, penalised = maximum_likelihood(covariates, outcome), firth(covariates, outcome)
    other = sm.Logit(outcome, sm.add_constant(covariates)).fit(disp=0, tol=1e-10)
    shrunk = FirthLogisticRegression(max_iter=200, xtol=1e-6, gtol=1e-4).fit(covariates, outcome)
    assert plain.coefficients == pytest.approx(other.params, rel=1e-6)
    assert plain.log_likelihood == pytest.approx(other.llf)
    assert penalised.coefficients == pytest.approx([shrunk.intercept_, *shrunk.coef_], rel=1e-4)
    assert penalised.log_likelihood == pytest.approx(shrunk.loglik_)


def separable(covariates, outcome):
    """Whether some line divides the outcomes, wholly or but for those on it, by linear programming."""
    signed = (2 * np.asarray(outcome) - 1)[:, np.newaxis] * np.column_stack([np.ones(len(outcome)), covariates])
    found = linprog(-signed.sum(axis=0), A_ub=-signed, b_ub=np.zeros(len(signed)), bounds=[(-1, 1)] * signed.shape[1])
    return -found.fun > 1e-7


@settings(max_examples=150)
@given(st.lists(st.tuples(st.integers(0, 4), st.integers(0, 1), st.integers(0, 1)), min_size=4, max_size=24))
def test_separation_is_what_linear_programming_says(rows):
    covariates = np.array([row[:2] for row in rows], dtype=float)
    outcome = [row[2] for row in rows]
    fit = maximum_likelihood(covariates, outcome)
    assert fit.separated == separable(covariates, outcome)
    assert fit.converged != fit.separated
    assert firth(covariates, outcome).converged


def test_a_constant_covariate_changes_no_fitted_chance():
    # Firth D. Biometrika 1993: a half more in every cell of the table, 1.5 of 2 and 0.5 of 4.
    fit = firth([[1.0, 0.0], [1.0, 1.0], [1.0, 1.0], [1.0, 1.0]], [1, 0, 0, 0])
    assert fit.converged
    assert fit.fitted == pytest.approx([1.5 / 2, 0.5 / 4, 0.5 / 4, 0.5 / 4], abs=1e-9)


@settings(max_examples=40)
@given(st.integers(0, 10_000))
def test_a_weight_is_a_lid_counted_so_often(seed):
    covariates, outcome, generator = random_lids(seed, 30)
    weight = generator.integers(0, 3, 30)
    for method in (maximum_likelihood, firth):
        weighted = method(covariates, outcome, weight=weight)
        repeated = method(np.repeat(covariates, weight, axis=0), np.repeat(outcome, weight))
        assert weighted.separated == repeated.separated
        if not weighted.separated:
            assert weighted.coefficients == pytest.approx(repeated.coefficients, rel=1e-5, abs=1e-6)


def test_a_covariate_that_never_varies_does_no_harm():
    covariates, outcome, _ = random_lids(5, 40)
    plain = maximum_likelihood(covariates, outcome)
    for useless in (np.zeros(40), np.ones(40), covariates[:, 0]):
        more = maximum_likelihood(np.column_stack([covariates, useless]), outcome)
        assert more.converged
        assert more.fitted == pytest.approx(plain.fitted, abs=1e-6)


def test_without_covariates_the_chance_is_the_share():
    fit = maximum_likelihood(np.empty((5, 0)), [1, 0, 0, 0, 0])
    assert fit.fitted == pytest.approx([0.2] * 5)
    assert fit.log_likelihood == pytest.approx(math.log(0.2) + 4 * math.log(0.8))


# Found by attack: from the best fit with only this coefficient moved the climb stopped half way, and its end was
# taken for the top, so that p was 2.9e-10 for these ages and 0.38 for the same ages counted from 69.
AGES, OUTCOMES = np.array([70, 67, 56, 70, 72, 73, 66, 75.0]), [1, 1, 1, 1, 1, 1, 1, 0]


@pytest.mark.parametrize("origin", [0.0, 69.0, -5000.0])
@pytest.mark.parametrize("unit", [1.0, 1 / 365.25])
def test_a_profile_does_not_depend_on_where_a_covariate_starts(origin, unit):
    profile = firth_profile(((AGES - origin) / unit)[:, None], OUTCOMES, 1)
    assert profile.converged
    assert profile.p == pytest.approx(0.38, abs=0.005)
    plain = firth_profile((AGES - AGES.mean())[:, None], OUTCOMES, 1).interval
    ends = [end / unit for end in (profile.interval.estimate, profile.interval.low, profile.interval.high)]
    assert ends == pytest.approx([plain.estimate, plain.low, plain.high], rel=1e-5)


def test_the_intercept_is_that_of_the_origin_given():
    for origin in (60.0, 0.0):
        ours = firth_profile((AGES - origin)[:, None], OUTCOMES, 0)
        theirs = FirthLogisticRegression(max_iter=500, xtol=1e-6, gtol=1e-4).fit(AGES[:, None] - 69, np.array(OUTCOMES))
        assert ours.converged
        assert ours.interval.estimate == pytest.approx(theirs.intercept_ + theirs.coef_[0] * (origin - 69), rel=1e-3)
        assert ours.interval.low < ours.interval.estimate < ours.interval.high


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 5000), st.floats(-1000, 1000))
def test_the_penalised_fit_does_not_depend_on_the_origin(seed, origin):
    rng = np.random.default_rng(seed)
    covariates, outcome = rng.normal(size=(20, 2)), rng.random(20) < 0.3
    plain, moved = firth(covariates, outcome), firth(covariates + origin, outcome)
    assert moved.converged
    assert moved.fitted == pytest.approx(plain.fitted, abs=1e-6)
    assert moved.coefficients[1:] == pytest.approx(plain.coefficients[1:], abs=1e-5)
    assert moved.log_likelihood == pytest.approx(plain.log_likelihood, abs=1e-6)


@pytest.mark.parametrize(
    "call, message",
    [
        (lambda: firth([[1], [2]], [0, 1, 1]), r"covariates has the shape \(2, 1\): must be 3 rows"),
        (lambda: firth([1, 2], [0, 1]), r"covariates has the shape \(2,\)"),
        (lambda: firth([[1], [math.nan]], [0, 1]), "covariates"),
        (lambda: maximum_likelihood([[1], [2]], [0, 2]), r"outcome\[1\] is 2: must be 0 or 1"),
        (lambda: maximum_likelihood([[1], [2]], [0, 1], weight=[1, -1]), r"weight\[1\] is -1"),
        (lambda: maximum_likelihood([[1], [2]], [0, 1], weight=[0, 0]), "weight is 0 for every row"),
        (lambda: maximum_likelihood([[1], [2]], [0, 1], weight=[1, 1, 1]), "weight has 3 values"),
        (lambda: firth_profile([[1], [2]], [0, 1], 2), "column is 2: must be a whole number from 0"),
        (lambda: firth_profile([[1], [2]], [0, 1], 1, confidence_level=95), "confidence_level is 95"),
    ],
)
def test_impossible_input_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 100_000), st.integers(8, 40), st.integers(1, 3), st.sampled_from([0.0, 100.0, 5000.0]))
@example(4047, 27, 3, 0.0)  # needs some 2,000 steps
def test_a_profile_converges_and_is_one_statistic_with_its_p(seed, lids, terms, origin):
    rng = np.random.default_rng(seed)
    covariates = rng.normal(size=(lids, terms)) * 10.0 ** rng.integers(-2, 4) + origin
    separated = covariates[:, 0] > np.median(covariates[:, 0])
    outcome = separated if seed % 3 == 0 else rng.random(lids) < 0.3
    profile = firth_profile(covariates, outcome, int(rng.integers(0, terms + 1)))
    assert profile.converged
    assert profile.interval.low <= profile.interval.estimate <= profile.interval.high
    if abs(profile.p - 0.05) > 1e-6:
        assert (profile.p < 0.05) == (profile.interval.low > 0 or profile.interval.high < 0)
