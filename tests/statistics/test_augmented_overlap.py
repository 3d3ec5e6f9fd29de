"""Augmented overlap weighting, against exact fractions, other programs' jackknives, and what must hold."""

import math
from fractions import Fraction

import numpy as np
import pytest

from outcomes.statistics import linearised
from outcomes.statistics.augmented_overlap import (
    _outcome_chances,
    _overlap_shares,
    overlap_share_difference,
)
from outcomes.statistics.cover_model import CoverModel, _cover_model, cover_model, row_means
from outcomes.statistics.jackknife import jackknife_covariance, patients_minus_terms, refitting_factor
from outcomes.statistics.linear_model import linear_design, linear_difference
from outcomes.statistics.two_cohorts import two_cohorts
from tests.reference import close_enough, reference_case
from tests.statistics.cohorts import as_given, confounded, constant_cover, reference_lids, ridge


def linear_chances(value, cover):
    """m0 and m1 of a linear outcome model, fitted anew in every row."""
    columns = np.column_stack([np.ones(value.size), cover.cohorts.second, cover.cohorts.covariates])
    rows = [np.linalg.lstsq(columns[kept], value[kept], rcond=None)[0] for kept in cover.counted == 1]
    without = np.array(rows) @ np.column_stack([columns[:, 0], np.zeros(value.size), columns[:, 2:]]).T
    return without, without + np.array(rows)[:, 1:2]


# Every number of this case is a fraction worked by hand.
def test_reference_in_exact_fractions():
    case = reference_case("p14_augmented_overlap_hand")
    for name, rows in case.input["sets"].items():
        expected, value = case.expected[name], np.array(rows["y"], dtype=float)
        cover = _cover_model(as_given(rows["z"], rows["patient"], np.array(rows["x"])[:, None]), ridge(0.0))
        shares = _overlap_shares(value, cover, linear_chances(value, cover))
        tau = shares[:, 1] - shares[:, 0]
        assert close_enough(tau[0], expected["tau"], case.tolerance)
        assert close_enough(shares[0], [expected["mean_graft"], expected["mean_advanced"]], case.tolerance)
        assert close_enough(tau[1:], expected["jackknife_tau"], case.tolerance)
        assert close_enough(jackknife_covariance(tau[1:, None])[0, 0], expected["jackknife_variance"], case.tolerance)
        weighted = _overlap_shares(value, cover, None)[0]
        assert close_enough(weighted[1] - weighted[0], expected["tau_weighted"], case.tolerance)


def test_reference_of_the_formula_alone():
    case = reference_case("p14_augmented_overlap_hand")
    for name, rows in case.input["formula_only_sets"].items():
        cover = constant_cover(rows["e"], rows["z"])
        value, m0, m1 = (np.array([[float(Fraction(each)) for each in rows[key]]]) for key in ("y", "m0", "m1"))
        shares = _overlap_shares(value[0], cover, (m0, m1))[0]
        assert close_enough(shares[1] - shares[0], case.expected[name]["tau"], case.tolerance)
        weighted = _overlap_shares(value[0], cover, None)[0]
        assert close_enough(weighted[1] - weighted[0], case.expected[name]["tau_weighted"], case.tolerance)


# Leave one patient out and fit both models again, penalised and not; checked there against R's glm.fit.
@pytest.mark.parametrize(
    "name", ["p15_augmented_overlap_lalonde", "p16_augmented_overlap_birthwt", "p17_augmented_overlap_clusters"]
)
def test_reference_of_the_jackknife(monkeypatch, name):
    monkeypatch.setattr(linearised, "REFITTED_UP_TO", 1_000)  # as the reference values were computed
    case = reference_case(name)
    lids, compared = reference_lids(case), 0
    for key, analysis in case.input["analyses"].items():
        if analysis.get("win_probability"):
            continue
        expected, value = case.expected[key], np.array(case.input["data"][analysis["outcome"]], dtype=float)
        cover = _cover_model(lids, ridge(analysis["lambda_e"]))
        logistic = analysis["outcome_model"] == "logistic"
        chances = (
            _outcome_chances(value, cover, ridge(analysis["lambda_m"])) if logistic else linear_chances(value, cover)
        )
        shares, weighted = _overlap_shares(value, cover, chances), _overlap_shares(value, cover, None)
        covariance = jackknife_covariance(np.column_stack([shares, shares @ [-1, 1], weighted @ [-1, 1]])[1:])
        errors, jackknife = np.sqrt(np.diag(covariance)), expected["jackknife"]
        assert close_enough(shares[0] @ [-1, 1], expected["tau"], case.tolerance)
        assert close_enough(shares[0], [expected["mean_graft"], expected["mean_advanced"]], case.tolerance)
        assert close_enough(weighted[0] @ [-1, 1], expected["tau_weighted"], case.tolerance)
        rows = case.input["rows_of_e_rows"]
        assert close_enough(cover.chance[0][rows], expected["e_rows"], case.tolerance)
        names = ("se_mean_graft", "se_mean_advanced", "se_centre_mean", "se_weighted_centre_mean")
        assert close_enough(errors, [jackknife[each] for each in names], case.tolerance)
        correlation = covariance[0, 1] / errors[0] / errors[1]
        assert close_enough(correlation, jackknife["correlation_means"], case.tolerance)
        assert patients_minus_terms(lids, beside=2) == analysis["df"]
        compared += 1
    assert compared >= 3


def test_reference_of_edges():
    case = reference_case("p20_augmented_overlap_edges")
    for name in ("randomised_by_cell", "outcome_constant", "logistic_cells"):
        rows, expected = case.input["sets"][name], case.expected[name]
        value = np.array(rows["y"], dtype=float)
        cover = _cover_model(as_given(rows["z"], range(value.size), np.array(rows["x"])[:, None]), ridge(0.0))
        cover = CoverModel(
            cover.cohorts, cover.counted[:1], cover.chance[:1], cover.of_all
        )  # some rows left out separate here
        logistic = rows["outcome_model"] == "logistic"
        chances = _outcome_chances(value, cover, ridge(0.0)) if logistic else linear_chances(value, cover)
        assert close_enough(_overlap_shares(value, cover, chances)[0] @ [-1, 1], expected["tau"], case.tolerance)


# Mao, Li & Greene 2019 (from memory): maximum likelihood balances exactly what a linear outcome model uses.
def test_with_a_linear_outcome_model_and_no_penalty_the_augmentation_changes_nothing():
    rng = np.random.default_rng(8)
    second, covariates = rng.random(60) < 0.5, rng.normal(size=(60, 3))
    value = rng.normal(size=60) + covariates[:, 0]
    cover = _cover_model(two_cohorts(second, range(60), covariates=covariates), ridge(0.0))
    with_model, without = (
        _overlap_shares(value, cover, linear_chances(value, cover)),
        _overlap_shares(value, cover, None),
    )
    assert with_model @ [-1, 1] == pytest.approx(without @ [-1, 1], abs=1e-9)


def test_what_confounding_alone_makes_is_taken_away():
    found = []
    for seed in range(60):
        event, lids = confounded(seed)
        crude = event[lids.second].mean() - event[~lids.second].mean()
        found.append((crude, overlap_share_difference(event, cover_model(lids)).difference.estimate))
    crude, adjusted = np.mean(found, axis=0)
    assert crude > 0.15
    assert abs(adjusted) < 0.05


def test_the_interval_and_p_are_one_statistic():
    sides = set()
    for seed in range(40):
        event, lids = confounded(seed, each=25, effect=-1.0)
        found = overlap_share_difference(event, cover_model(lids)).difference
        sides.add(found.excludes_none)
        assert (found.p <= 0.05) == found.excludes_none
    assert sides == {True, False}


def test_few_events_leave_the_outcome_model_out():
    event, lids = confounded(3)
    rare = event & (np.cumsum(event & lids.second) <= 4)
    found = overlap_share_difference(rare, cover_model(lids))
    assert not found.augmented
    assert found.difference.degrees_of_freedom == 80 - 3 - 1
    assert overlap_share_difference(event, cover_model(lids)).augmented


def test_one_event_in_a_lid_that_hardly_weighs_is_not_worth_more_lids_than_there_are():
    _, lids = confounded(3)
    cover = cover_model(lids)
    rare = np.zeros(80)
    for side in (lids.second, ~lids.second):
        rare[np.flatnonzero(side)[cover.weights[0][side].argmin()]] = 1
    found = overlap_share_difference(rare, cover)
    assert 0 < found.first.estimate < 0.01
    assert found.effective_n == (40, 40)


def test_no_event_at_all_is_no_certainty():
    _, lids = confounded(4)
    found = overlap_share_difference(np.zeros(80), cover_model(lids))
    assert (found.first.low, found.second.low, found.difference.estimate, found.difference.p) == (0, 0, 0, 1)
    assert found.difference.low < -0.05
    assert found.difference.high > 0.05


def test_exchanging_the_cohorts_turns_the_answer_round():
    event, lids = confounded(5)
    other = as_given(~lids.second, lids.patient, lids.covariates)
    there, back = (overlap_share_difference(event, cover_model(each)).difference for each in (lids, other))
    assert (there.estimate, there.low, there.p) == pytest.approx((-back.estimate, -back.high, back.p), abs=1e-6)


def test_a_cohort_of_one_patient_is_not_estimable():
    lids = two_cohorts([0] * 6 + [1] * 10, [0] * 6 + list(range(1, 11)))
    found = overlap_share_difference([0, 1, 0, 1, 0, 1] + [0, 1] * 5, cover_model(lids)).difference
    assert found.estimate == pytest.approx(0)
    assert all(math.isnan(part) for part in (found.low, found.high, found.p))


@pytest.mark.parametrize("second", [[0, 0, 0], [1, 1, 1], []])
def test_an_empty_cohort_is_not_estimable(second):
    lids = two_cohorts(second, range(len(second)))
    found = overlap_share_difference([1] * len(second), cover_model(lids)).difference
    assert math.isnan(found.estimate)
    assert math.isnan(found.p)


def test_without_characteristics_the_shares_are_the_plain_ones():
    event, second = np.arange(40) % 3 == 0, np.arange(40) % 2 == 0
    found = overlap_share_difference(event, cover_model(two_cohorts(second, range(40))))
    assert found.difference.estimate == pytest.approx(event[second].mean() - event[~second].mean())


def test_the_jackknife_shrinks_from_25_lids_a_cover_on():
    few, many = (
        two_cohorts([0, 1] * each, range(2 * each), covariates=np.arange(2 * each)[:, None]) for each in (24, 25)
    )
    assert refitting_factor(few) == 1
    assert refitting_factor(many) == pytest.approx(48 / 49)


def test_covers_that_the_characteristics_tell_apart_are_said_to_be_separated():
    second = np.arange(30) > 14
    model = cover_model(two_cohorts(second, range(30), covariates=np.arange(30)[:, None]))
    assert model.separated
    assert max(model.open_choices) < 8
    assert not cover_model(two_cohorts(second, range(30), covariates=(np.arange(30) % 7)[:, None])).separated


def test_a_row_without_weight_has_no_mean():
    assert np.isnan(row_means(np.ones(2), np.array([[0.0, 0.0], [1.0, 1.0]]))).tolist() == [True, False]


@pytest.mark.parametrize("event, message", [([0, 1, 2, 0], r"event\[2\] is 2"), ([0, 1], "event has 2 values")])
def test_impossible_input_is_refused(event, message):
    with pytest.raises(ValueError, match=message):
        overlap_share_difference(event, cover_model(two_cohorts([0, 0, 1, 1], range(4))))


def test_a_linear_model_and_overlap_weights_agree_where_nothing_confounds():
    _, lids = confounded(6)
    plain = as_given(lids.second, lids.patient, np.zeros((80, 0)))
    event = np.arange(80) % 2
    ours = overlap_share_difference(event, cover_model(plain)).difference.estimate
    assert ours == pytest.approx(linear_difference(event, linear_design(plain)).estimate)
