"""The difference weighted by the inverse chance of being measured, against a second program and what must hold."""

import math

import numpy as np
import pytest
import statsmodels.api as sm

from outcomes.statistics.inverse_measured import inverse_measured_difference
from outcomes.statistics.linear_model import linear_design, linear_difference
from outcomes.statistics.two_cohorts import two_cohorts


def series(seed, lids):
    """Advanced skin helps where x is high, and where x is high fewer come back."""
    rng = np.random.default_rng(seed)
    x, second = rng.normal(size=lids), rng.random(lids) < 0.5
    value = x + second * x + rng.normal(size=lids) / 2
    measured = rng.random(lids) < 1 / (1 + np.exp(-0.8 + 1.5 * x))
    return np.where(measured, value, np.nan), two_cohorts(second, np.arange(lids) // 2, covariates=x[:, None]), value


def by_another_program(value, due):
    """statsmodels: the penalty as a row of half an event for each slope, then weighted least squares."""
    measured = ~np.isnan(value)
    columns = np.column_stack([np.ones(value.size), due.second, due.covariates])
    slopes = columns.shape[1] - 1
    rows = np.vstack([columns, np.hstack([np.zeros((slopes, 1)), np.eye(slopes)])])
    events = np.concatenate([measured, np.full(slopes, 0.5)])
    model = sm.GLM(np.column_stack([events, 1 - events]), rows, family=sm.families.Binomial()).fit(tol=1e-12)
    chance = np.maximum(model.predict(columns), 0.1)
    return sm.WLS(value[measured], columns[measured], 1 / chance[measured]).fit().params[1]


def test_another_program_agrees_also_with_each_patient_left_out():
    value, due, _ = series(1, 40)
    ours = inverse_measured_difference(value, due)
    assert ours.estimate == pytest.approx(by_another_program(value, due), abs=1e-6)
    left_out = []
    for patient in range(due.patients):
        kept = due.patient != patient
        less = due.of_rows(kept)
        left_out.append(by_another_program(value[kept], less))
    variance = (20 - 1) * np.var(left_out)  # (G - 1)/G times the sum of squares
    assert ours.standard_error == pytest.approx(math.sqrt(variance), rel=1e-5)


def test_it_comes_nearer_to_what_all_would_have_shown():
    value, due, whole = series(2, 4000)
    truth = linear_difference(whole, linear_design(due)).estimate
    measured = ~np.isnan(value)
    seen = two_cohorts(due.second[measured], due.patient[measured], covariates=due.covariates[measured])
    plain = linear_difference(value[measured], linear_design(seen)).estimate
    weighted = inverse_measured_difference(value, due).estimate
    assert abs(plain - truth) > 0.2
    assert abs(weighted - truth) < 0.1


def test_with_everybody_measured_it_is_the_linear_model():
    _, due, whole = series(3, 60)
    ours, plain = inverse_measured_difference(whole, due), linear_difference(whole, linear_design(due))
    assert ours.estimate == pytest.approx(plain.estimate)
    assert ours.standard_error == pytest.approx(plain.standard_error, rel=0.15)


def test_one_unmeasured_lid_is_no_trouble():
    _, due, whole = series(4, 60)
    whole[7] = np.nan
    assert math.isfinite(inverse_measured_difference(whole, due).p)


def test_a_cohort_that_nobody_measured_is_not_estimable():
    value, due, _ = series(5, 40)
    assert math.isnan(inverse_measured_difference(np.where(due.second, np.nan, value), due, step=0.5).p)
    assert math.isnan(inverse_measured_difference(np.full(40, np.nan), due).estimate)


def test_impossible_input_is_refused():
    _, due, whole = series(6, 40)
    with pytest.raises(ValueError, match="value has 3 values"):
        inverse_measured_difference(whole[:3], due)
    with pytest.raises(ValueError, match=r"value\[0\] is inf"):
        inverse_measured_difference(np.where(np.arange(40) == 0, np.inf, whole), due)
