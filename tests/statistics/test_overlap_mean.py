"""The overlap-weighted difference of means, against R's values and what must hold."""

import math

import numpy as np
import pytest

from outcomes.statistics.cover_model import _cover_model, cover_model
from outcomes.statistics.jackknife import refitting_factor
from outcomes.statistics.linear_model import linear_design, linear_difference
from outcomes.statistics.overlap_mean import overlap_mean_difference
from outcomes.statistics.two_cohorts import two_cohorts
from tests.reference import close_enough, reference_case
from tests.statistics.cohorts import confounded, reference_lids, ridge


@pytest.mark.parametrize(
    "name, analysis, outcome",
    [("p16_augmented_overlap_birthwt", "kg_linear", "kg"), ("p17_augmented_overlap_clusters", "mm_linear", "mm")],
)
def test_reference(name, analysis, outcome):
    case = reference_case(name)
    lids, expected = reference_lids(case), case.expected[analysis]
    ours = overlap_mean_difference(case.input["data"][outcome], _cover_model(lids, ridge(0.0)))
    assert close_enough(ours.estimate, expected["tau_weighted"], case.tolerance)
    plain_error = ours.standard_error / math.sqrt(refitting_factor(lids))
    assert close_enough(plain_error, expected["jackknife"]["se_weighted_centre_mean"], case.tolerance)


def test_it_agrees_with_the_linear_model_where_that_is_true():
    _, lids = confounded(1, each=70)
    value = lids.covariates[:, 0] - 0.5 * lids.second + np.random.default_rng(1).normal(size=140)
    ours, theirs = overlap_mean_difference(value, cover_model(lids)), linear_difference(value, linear_design(lids))
    assert ours.estimate == pytest.approx(theirs.estimate, abs=theirs.standard_error / 2)
    assert ours.standard_error == pytest.approx(theirs.standard_error, rel=0.2)


def test_equal_values_are_no_certainty_where_the_field_has_a_step():
    _, lids = confounded(2)
    assert math.isnan(overlap_mean_difference(np.full(80, 2.0), cover_model(lids)).p)
    ours = overlap_mean_difference(np.full(80, 2.0), cover_model(lids), step=0.5)
    assert ours.standard_error == pytest.approx(0.5 * math.hypot(1 / 40, 1 / 40))
    assert ours.low < 0 < ours.high


@pytest.mark.parametrize("second, patient", [([0, 0, 0], [1, 2, 3]), ([0, 0, 1, 1], [1, 1, 2, 3]), ([], [])])
def test_a_cohort_of_nobody_or_one_patient_is_not_estimable(second, patient):
    ours = overlap_mean_difference([1.0] * len(second), cover_model(two_cohorts(second, patient)), step=0.5)
    assert math.isnan(ours.p)
    assert not ours.excludes_none
