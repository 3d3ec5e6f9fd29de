"""Every estimator of a difference on registers made to be awkward: no traceback, no warning, no half of an answer."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.statistics.augmented_overlap import overlap_share_difference
from outcomes.statistics.cover_model import cover_model
from outcomes.statistics.inverse_measured import inverse_measured_difference
from outcomes.statistics.linear_model import linear_design, linear_difference
from outcomes.statistics.overlap_mean import overlap_mean_difference
from outcomes.statistics.two_cohorts import two_cohorts
from outcomes.statistics.win_probability import overlap_win_probability, win_probability


def awkward(rng):
    """Empty or lopsided cohorts, one patient with everything, constant, separating and repeated characteristics."""
    lids = int(rng.integers(0, 26))
    second = rng.random(lids) < rng.choice([0.0, 0.1, 0.5, 0.9, 1.0])
    patient = rng.integers(0, int(rng.choice([1, 2, 5, lids + 1, 100])), lids)
    covariates = rng.normal(size=(lids, 5)) * 10.0 ** rng.integers(-3, 6) + 10.0 ** rng.integers(0, 5)
    covariates[:, 1] = rng.choice([covariates[:, 1], second])
    covariates[:, 2] = rng.choice([covariates[:, 2], 3 - 2 * covariates[:, 0]])
    covariates[:, 3] = rng.choice([covariates[:, 3], patient, np.full(lids, 7)])
    value = rng.choice([np.zeros(lids), np.round(rng.normal(size=lids)), 1000 * rng.normal(size=lids), second * 1.0])
    return two_cohorts(second, patient, covariates=covariates[:, : int(rng.integers(0, 6))]), value


def every_estimate(rng, lids, value):
    cover, design = cover_model(lids), linear_design(lids)
    event = rng.choice([value > 0, np.zeros(value.size) > 0, lids.second])
    unmeasured = rng.random(value.size) < rng.choice([0.0, 0.2, 0.9])
    return [
        linear_difference(value, design),
        linear_difference(value, design, step=0.5),
        overlap_mean_difference(value, cover),
        overlap_mean_difference(value, cover, step=0.5),
        overlap_share_difference(event, cover).difference,
        win_probability(value, lids),
        overlap_win_probability(value, cover),
        inverse_measured_difference(np.where(unmeasured, np.nan, value), lids, step=0.5),
    ]


@settings(deadline=None, max_examples=150)
@given(st.integers(0, 2**32))
def test_whole_answers_or_none(seed):
    rng = np.random.default_rng(seed)
    for found in every_estimate(rng, *awkward(rng)):
        parts = [found.low, found.high, found.p, found.standard_error, found.degrees_of_freedom]
        missing = [math.isnan(part) for part in parts]
        assert all(missing) or not any(missing)
        if not any(missing):
            assert found.low - 1e-9 <= found.estimate <= found.high + 1e-9
            assert found.standard_error > 0
            assert abs(found.p - 0.05) < 1e-7 or (found.p < 0.05) == found.excludes_none
