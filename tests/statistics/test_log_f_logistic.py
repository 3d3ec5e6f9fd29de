"""The log-F penalty, against another program's fit of the data that the penalty stands for, and where it must hold."""

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from outcomes.statistics.log_f_logistic import fit_log_f, log_f


def register(seed, lids=40, terms=3):
    rng = np.random.default_rng(seed)
    columns = np.column_stack([np.ones(lids), rng.normal(size=(lids, terms))])
    return columns, (rng.random(lids) < 1 / (1 + np.exp(-columns[:, 1]))).astype(float)


# Greenland & Mansournia's recipe (2015, from memory): a row without intercept for each slope, half of one lid an event.
def test_another_program_fits_the_same_with_the_rows_that_the_penalty_stands_for():
    columns, outcome = register(1)
    rows = np.hstack([np.zeros((3, 1)), np.eye(3)])
    events = np.concatenate([outcome, np.full(3, 0.5)])
    theirs = sm.GLM(np.column_stack([events, 1 - events]), np.vstack([columns, rows]), family=sm.families.Binomial())
    ours, settled = fit_log_f(columns, outcome, np.ones((1, 40)))
    assert settled.all()
    assert ours[0] == pytest.approx(theirs.fit(tol=1e-12).params, abs=1e-7)


def test_covariates_that_separate_have_finite_slopes():
    columns, _ = register(2)
    outcome = (columns[:, 1] > 0).astype(float)

    def height(place):
        odds = columns @ place
        return -(outcome * odds - np.logaddexp(0, odds)).sum() - (place[1:] / 2 - np.logaddexp(0, place[1:])).sum()

    ours, settled = fit_log_f(columns, outcome, np.ones((1, 40)))
    assert settled.all()
    assert ours[0] == pytest.approx(minimize(height, np.zeros(4), method="BFGS", options={"gtol": 1e-8}).x, abs=1e-4)


def test_weights_count_lids():
    columns, outcome = register(3)
    twice = np.arange(40) % 2 + 0.0
    weighted, _ = fit_log_f(columns, outcome, 1 + twice[None])
    repeated = np.concatenate([np.arange(40), np.flatnonzero(twice)])
    plain, _ = fit_log_f(columns[repeated], outcome[repeated], np.ones((1, repeated.size)))
    assert weighted == pytest.approx(plain, abs=1e-8)


# A one-step refit is off by up to a tenth; started from the fit of all lids it has to end where one of its own would.
@settings(deadline=None, max_examples=60)
@given(st.integers(0, 10_000), st.integers(8, 30), st.integers(1, 6))
def test_where_it_starts_changes_nothing_and_it_always_settles(seed, lids, terms):
    columns, outcome = register(seed, lids, terms)
    counted = 1 - np.eye(lids)
    best, settled = fit_log_f(columns, outcome, np.ones((1, lids)))
    warm, warm_settled = fit_log_f(columns, outcome, counted, start=best[0])
    cold, cold_settled = fit_log_f(columns, outcome, counted)
    mixed = 0 < outcome.sum() < lids
    if mixed:
        assert settled.all()
    fine = warm_settled & cold_settled
    assert fine[[0 < (row * outcome).sum() < lids - 1 for row in counted]].all()
    assert warm[fine] == pytest.approx(cold[fine], abs=1e-5)


def test_the_penalty_is_the_derivative_of_its_own_density():
    places = np.array([-2.0, 0.0, 3.0])
    step = 1e-6
    density = places + step, places - step
    slopes = [(each / 2 - np.logaddexp(0, each)) for each in density]
    assert log_f(places)[0] == pytest.approx((slopes[0] - slopes[1]) / (2 * step), abs=1e-8)
    assert log_f(places)[1] == pytest.approx(-(log_f(density[0])[0] - log_f(density[1])[0]) / (2 * step), abs=1e-8)
