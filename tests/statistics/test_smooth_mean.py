"""A smooth mean over an order, beside another program's spline and its cluster-robust variance, and at the edges."""

import math

import numpy as np
import pytest
import statsmodels.api as sm

from outcomes.statistics.linear_model import interaction_design, linear_design, linear_difference
from outcomes.statistics.smooth_mean import _columns, smooth_mean
from outcomes.statistics.two_cohorts import two_cohorts

RNG = np.random.default_rng(4)
PLACE, PATIENT = np.arange(40.0), np.arange(40) // 2
VALUE = np.sin(PLACE / 9) + RNG.normal(size=40)


def test_it_is_least_squares_on_harrells_basis_with_another_programs_cluster_robust_errors():
    at = np.array([0.0, 11.0, 39.0])
    knots = np.quantile(PLACE, (0.1, 0.5, 0.9))
    fitted = sm.OLS(VALUE, _columns(PLACE, knots)).fit(cov_type="cluster", cov_kwds={"groups": PATIENT})
    rows = _columns(at, knots)
    found = smooth_mean(PLACE, VALUE, PATIENT, at=at)
    assert [each.estimate for each in found] == pytest.approx(rows @ fitted.params)
    errors = np.sqrt(np.einsum("ij,jk,ik->i", rows, fitted.cov_params(), rows))
    # 20 patients less 3 terms: Student's table gives 2.110 at 97.5 %.
    assert [(each.high - each.low) / 2 for each in found] == pytest.approx(2.1098 * errors, rel=1e-3)


def test_the_spline_bends_inside_and_is_straight_beyond_the_outer_knots():
    knots = np.array([1.0, 2.0, 4.0])
    bent = _columns(np.array([-2.0, -1, 0, 5, 6, 7]), knots)[:, 2]
    assert bent[:3].tolist() == [0, 0, 0]
    assert bent[5] - bent[4] == pytest.approx(bent[4] - bent[3])


def test_a_straight_course_is_given_back_and_a_shift_only_shifts():
    found = smooth_mean(PLACE, 2 + 0.1 * PLACE, PATIENT, at=PLACE)
    assert [each.estimate for each in found] == pytest.approx(2 + 0.1 * PLACE)
    here, there = (smooth_mean(PLACE, VALUE + shift, PATIENT, at=[5.0])[0] for shift in (0, 3))
    assert there.low - here.low == pytest.approx(3)


@pytest.mark.parametrize("lids", [0, 1, 4])
def test_too_few_patients_for_a_course_give_nan(lids):
    found = smooth_mean(range(lids), range(lids), range(lids), at=[0.0])
    assert math.isnan(found[0].estimate)


def test_a_missing_value_is_refused():
    with pytest.raises(ValueError, match="value"):
        smooth_mean(range(6), [1, 2, 3, math.nan, 5, 6], range(6), at=[0])


def test_the_interaction_is_the_coefficient_of_the_product_with_the_hc2_error_of_another_program():
    second, year = np.repeat([0, 1], 20), np.tile(np.arange(20.0), 2)
    height = RNG.normal(size=40)
    cohorts = two_cohorts(second, range(40), covariates=height[:, None])
    found = linear_difference(VALUE, interaction_design(linear_design(cohorts), year))
    centred = year - year.mean()
    columns = np.column_stack([np.ones(40), centred * second, second, centred, height])
    theirs = sm.OLS(VALUE, columns).fit().get_robustcov_results("HC2")
    assert found.estimate == pytest.approx(theirs.params[1])
    assert found.standard_error == pytest.approx(theirs.bse[1])


def test_a_modifier_that_never_varies_changes_nothing_that_can_be_told():
    cohorts = two_cohorts([0, 0, 0, 1, 1, 1], range(6))
    assert math.isnan(linear_difference([1, 2, 3, 4, 5, 6], interaction_design(linear_design(cohorts), np.ones(6))).low)
