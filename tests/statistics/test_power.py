"""Power and the detectable difference, against other programs and print."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.proportion import confint_proportions_2indep, power_proportions_2indep

from outcomes.statistics.effective_shares import EffectiveShare
from outcomes.statistics.power import could_find, could_find_share, detectable_difference, two_proportion_power
from tests.reference import close_enough, reference_case


def test_reference():
    case = reference_case("m07_power_two_proportions")
    for key, problem in case.input["problems"].items():
        level, expected = 1 - problem["alpha"], case.expected[key]
        n = problem.get("n", expected.get("n"))
        power = two_proportion_power(n, n, problem["p1"], problem["p2"], confidence_level=level)
        assert close_enough(power, expected.get("power", problem.get("power")), case.tolerance)
        if "power" in problem:
            rise = detectable_difference(n, n, problem["p1"], power=problem["power"], confidence_level=level)
            assert close_enough(rise, problem["p2"] - problem["p1"], case.tolerance)


def test_as_printed():
    # The help page of a general statistics program: 50 a group, 0.50 against 0.75, gives 0.740; 76.7 a group give 0.90.
    assert round(two_proportion_power(50, 50, 0.50, 0.75), 3) == 0.740
    assert round(detectable_difference(76.7, 76.7, 0.50, power=0.9), 3) == 0.250


@pytest.mark.parametrize("first_n, second_n", [(30, 30), (20, 45), (45, 20)])
def test_an_independent_program_agrees_for_unequal_cohorts(first_n, second_n):
    other = power_proportions_2indep(
        diff=0.3, prop2=0.2, nobs1=second_n, ratio=first_n / second_n, alpha=0.05, return_results=False
    )
    # The other program adds the far tail, which is one in a hundred thousand here.
    assert two_proportion_power(first_n, second_n, 0.2, 0.5) == pytest.approx(other, abs=2e-5)


@given(st.integers(5, 80), st.integers(5, 80), st.floats(0.0, 0.6))
def test_the_detectable_difference_has_that_power_and_a_smaller_one_less(first_n, second_n, baseline):
    rise = detectable_difference(first_n, second_n, baseline)
    if math.isnan(rise):
        assert two_proportion_power(first_n, second_n, baseline, 1.0) < 0.8
        return
    assert two_proportion_power(first_n, second_n, baseline, baseline + rise) >= 0.8
    assert two_proportion_power(first_n, second_n, baseline, baseline + 0.98 * rise) < 0.8


def test_edges():
    assert math.isnan(two_proportion_power(0, 10, 0.1, 0.2))
    assert math.isnan(two_proportion_power(10, 10, 0.0, 0.0))
    assert math.isnan(detectable_difference(2, 2, 0.5))
    assert math.isnan(detectable_difference(0, 20, 0.1))
    assert two_proportion_power(10, 10, 0.0, 1.0) == 1.0


def test_reference_of_what_could_be_found_where_the_standard_error_is_known():
    case = reference_case("p31_detectable_difference")
    for name, rows in case.input["sets"].items():
        level = 1 - rows["alpha"]
        found = could_find(rows["se"], math.inf, power=rows["power"], confidence_level=level)
        assert close_enough(found, case.expected[name]["z"], case.tolerance)
    half = case.input["sets"]["power_equals_half"]
    found = could_find(half["se"], half["df"], power=0.5, confidence_level=1 - half["alpha"])
    assert close_enough(found, case.expected["power_equals_half"]["t"], case.tolerance)


# Worked anew by integration over both estimated standard errors, that of this series and that of the next one
# (chi distributions of scipy.stats): a true difference of that size is found in 80 of 100.
@pytest.mark.parametrize("df", [8, 12, 25, 60, 400])
@pytest.mark.parametrize("factor", [1.0, 0.7])
def test_what_could_be_found_is_found_though_no_standard_error_is_known(df, factor):
    chances = (np.arange(400) + 0.5) / 400
    errors = np.sqrt(stats.chi2.ppf(chances, df) / df)
    size = could_find(1.0, df, factor=factor)
    beyond = size * errors[:, np.newaxis] - stats.t.ppf(0.975, df) / factor * errors
    assert stats.norm.cdf(beyond).mean() == pytest.approx(0.8, abs=0.005)


def test_a_standard_error_taken_as_known_would_promise_too_much():
    chances = (np.arange(400) + 0.5) / 400
    errors = np.sqrt(stats.chi2.ppf(chances, 12) / 12)
    size = stats.t.ppf(0.975, 12) + stats.t.ppf(0.8, 12)
    found = stats.norm.cdf(size * errors[:, np.newaxis] - stats.t.ppf(0.975, 12) * errors).mean()
    assert found < 0.77
    assert could_find(1.0, 12) > 1.05 * size


# Every pair of counts is tried: the chance of each (binomial), and whether the interval of another program
# (statsmodels, method 10 of Newcombe) excludes none.
@pytest.mark.parametrize("n, baseline", [(40, 0.05), (60, 0.1), (100, 0.3), (60, 0.9)])
def test_a_difference_of_shares_that_could_be_found_is_found(n, baseline):
    rise = could_find_share((EffectiveShare(baseline, n), EffectiveShare(baseline, n)), degrees_of_freedom=math.inf)
    risen = baseline + rise if baseline <= 0.5 else baseline - rise
    counts = np.arange(n + 1)
    first, second = (stats.binom.pmf(counts, n, share) for share in (baseline, risen))
    low, high = confint_proportions_2indep(counts[:, np.newaxis], n, counts, n, method="newcomb", compare="diff")
    found = high < 0 if baseline <= 0.5 else low > 0
    assert (np.outer(first, second) * found).sum() == pytest.approx(0.8, abs=0.04)


def test_the_standard_error_of_two_rare_shares_would_promise_too_much():
    rare = EffectiveShare(0.05, 40), EffectiveShare(0.05, 40)
    both_rare = could_find(math.sqrt(2 * 0.05 * 0.95 / 40), 70)
    assert could_find_share(rare, degrees_of_freedom=70) > 1.5 * both_rare


def test_what_could_be_found_of_shares_is_alike_from_both_ends_and_grows_with_doubt():
    def found(share, first_n=40, second_n=40, **more):
        shares = EffectiveShare(share, first_n), EffectiveShare(share, second_n)
        return could_find_share(shares, **{"degrees_of_freedom": 60, **more})

    assert found(0.9) == pytest.approx(found(0.1), abs=1e-6)
    assert found(0.1, 40, 20) == pytest.approx(found(0.1, 20, 40))
    assert found(0.1, 40, 20) > found(0.1, 40, 40)
    assert found(0.1, factor=0.8) > found(0.1)
    assert found(0.1, degrees_of_freedom=10) > found(0.1)
    assert found(0.0) > 0
    assert found(0.1, factor=0.0) == found(0.1, 3, 3) == math.inf
    assert math.isnan(found(0.1, degrees_of_freedom=math.nan))
    with pytest.raises(ValueError, match=r"power is 80: must be a finite number from 0.5 to 1"):
        found(0.1, power=80)


def test_what_could_be_found_without_a_standard_error():
    assert math.isnan(could_find(math.nan, math.nan))
    assert could_find(0.2, 40, factor=0.0) == math.inf
    assert could_find(0.2, 0.3) == math.inf
    with pytest.raises(ValueError, match=r"factor is 1.5: must be a finite number from 0 to 1"):
        could_find(0.2, 40, factor=1.5)


@pytest.mark.parametrize(
    "call, message",
    [
        (lambda: two_proportion_power(20, 20, 0.2, 1.3), "second is 1.3: must be a finite number from 0 to 1"),
        (lambda: two_proportion_power(-1, 20, 0.2, 0.3), "first_n is -1"),
        (lambda: detectable_difference(20, 20, 0.2, power=80), "power is 80"),
        (lambda: detectable_difference(20, 20, 0.2, confidence_level=95), "confidence_level is 95"),
    ],
)
def test_impossible_input_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()
