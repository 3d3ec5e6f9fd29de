"""Lids of two cohorts: standardised characteristics, numbered patients, strata that hold both covers."""

import math

import numpy as np
import pytest

from outcomes.statistics.linear_model import linear_design, linear_difference
from outcomes.statistics.two_cohorts import two_cohorts, within_strata


def test_characteristics_are_standardised_over_these_lids():
    lids = two_cohorts([0, 1, 1], ["b", "a", "b"], covariates=[[60.0, 1.0], [70.0, 1.0], [95.0, 1.0]])
    assert lids.covariates.mean() == pytest.approx(0)
    assert lids.covariates.std() == pytest.approx(1)
    assert (lids.constant, lids.patient.tolist(), lids.patients_a_cohort) == ((1,), [1, 0, 1], (1, 2))


def test_nobody():
    lids = two_cohorts([], [])
    assert (lids.lids, lids.patients, lids.terms, lids.patients_a_cohort) == ((0, 0), 0, 0, (0, 0))
    assert lids.least_error(0.5) == math.inf


# Surgeon x has better results and does more advanced skin, z worse and more grafts; y grafts only and tells nothing.
def test_within_surgeons_only_what_each_did_in_both_ways_counts():
    surgeon = np.array(["x"] * 8 + ["y"] * 4 + ["z"] * 8)
    second = np.array([1, 1, 1, 1, 1, 1, 0, 0] + [0] * 4 + [1, 1, 0, 0, 0, 0, 0, 0])
    value = np.where(surgeon == "x", 1.0, 5.0) - 0.5 * second + np.tile([0.1, -0.1], 10)
    kept, group = within_strata(second, surgeon)
    assert kept.sum() == 16
    lids = two_cohorts(second[kept], np.flatnonzero(kept), covariates=group[:, None])
    assert linear_difference(value[kept], linear_design(lids)).estimate == pytest.approx(-0.5)
    crude = linear_difference(value, linear_design(two_cohorts(second, range(20)))).estimate
    assert crude < -2


def test_no_surgeon_did_both():
    kept, group = within_strata([0, 1], ["x", "y"])
    assert not kept.any()
    assert group.size == 0


@pytest.mark.parametrize(
    "call, message",
    [
        (lambda: two_cohorts([0, 1], ["a", None]), r"patient\[1\] is None"),
        (lambda: two_cohorts([0, 1], ["a", "b"], covariates=[1, 2]), r"covariates has the shape \(2,\)"),
        (lambda: within_strata([0, 1], ["x"]), "stratum has 1 values and second has 2"),
    ],
)
def test_impossible_input_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()
