"""The win probability, against fractions by hand, two other programs, and what must hold."""

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special
from scipy.stats import brunnermunzel, mannwhitneyu
from scipy.stats import t as student

from outcomes.statistics.cover_model import _cover_model, cover_model
from outcomes.statistics.jackknife import jackknife_covariance, patients_minus_terms
from outcomes.statistics.two_cohorts import TwoCohorts, two_cohorts
from outcomes.statistics.win_probability import (
    _placements,
    _satterthwaite,
    _weighted_wins,
    _wins,
    overlap_win_probability,
    win_probability,
)
from tests.reference import close_enough, reference_case
from tests.statistics.cohorts import confounded, constant_cover, reference_lids, ridge

grades = st.lists(st.integers(0, 3), min_size=2, max_size=12)


def lids(rows):
    """The scores and cohorts of one set of a reference case."""
    first, second = (rows.get(key, rows.get(other)) for key, other in (("graft", "x"), ("advanced", "y")))
    patient = rows.get("graft_patient", range(len(first))), rows.get("advanced_patient", range(-len(second), 0))
    cohorts = two_cohorts([0] * len(first) + [1] * len(second), [*patient[0], *patient[1]])
    return np.array([*first, *second], dtype=float), cohorts


def placements(rows):
    score, cohorts = lids(rows)
    return _placements(score, cohorts), cohorts


# Fractions by hand, and Brunner & Munzel's own variance where every patient has one lid.
@pytest.mark.parametrize("name", ["p07_win_probability_hand", "p08_win_probability_public"])
def test_reference_with_one_lid_a_patient(name):
    case = reference_case(name)
    for key, rows in case.input["sets"].items():
        expected = case.expected[key]
        found, cohorts = placements(rows)
        ours = win_probability(*lids(rows), confidence_level=case.input["conf_level"])
        assert close_enough(found.estimate, expected["theta"], case.tolerance)
        assert close_enough(found.variance, expected["var"], case.tolerance)
        assert close_enough(_satterthwaite(found, cohorts), expected["df"], case.tolerance)
        assert close_enough(ours.standard_error, expected["se"], case.tolerance)
        assert close_enough((ours.low, ours.high), expected["logit_t_limits"], case.tolerance)


# Obuchowski's variance; the degrees of freedom are those of the case, as the paper gives none.
@pytest.mark.parametrize("name", ["p10_win_clustered_hand", "p11_win_clustered_public"])
def test_reference_with_lids_of_one_patient(name):
    case = reference_case(name)
    for key, rows in case.input["sets"].items():
        expected = case.expected[key]
        found, cohorts = placements(rows)
        first, second = cohorts.lids
        assert close_enough(found.estimate, expected["theta"], case.tolerance)
        assert close_enough(found.first * first, expected["s_x"], case.tolerance)
        assert close_enough(found.second * second, expected["s_y"], case.tolerance)
        assert close_enough(found.shared * first * second, expected["s_xy"], case.tolerance)
        assert close_enough(found.variance, expected["var"], case.tolerance)
        ours = win_probability(*lids(rows))
        reach = student.ppf(0.975, ours.degrees_of_freedom) * expected["logit_se"]
        place = special.logit(expected["theta"])
        assert (ours.low, ours.high) == pytest.approx((special.expit(place - reach), special.expit(place + reach)))


def test_reference_of_brunner_and_munzel():
    for name in ("c07_brunner_munzel_pain", "c08_brunner_munzel_more"):
        case = reference_case(name)
        for key, rows in case.input["sets"].items():
            expected = case.expected[key]
            found, cohorts = placements(rows)
            assert close_enough(found.estimate, expected["relative_effect"], case.tolerance)
            if expected["df"] is not None:
                statistic = (found.estimate - 0.5) / math.sqrt(found.variance)
                assert close_enough(statistic, expected["statistic"], case.tolerance)
                assert close_enough(_satterthwaite(found, cohorts), expected["df"], case.tolerance)


def test_reference_of_mann_and_whitney():
    case = reference_case("c05_mannwhitney_asat")
    score, cohorts = lids({"x": case.input["x"], "y": case.input["y"]})
    assert close_enough(
        win_probability(score, cohorts).estimate, case.expected["relative_effect_y_larger"], case.tolerance
    )


def test_reference_of_edges():
    case = reference_case("p13_win_probability_edges")
    for key, rows in case.input["sets"].items():
        expected, ours = case.expected[key], win_probability(*lids(rows))
        if expected["theta"] is None:
            assert math.isnan(ours.estimate)
        elif expected["var"] is None:
            assert close_enough(ours.estimate, expected["theta"], case.tolerance)
            assert math.isnan(ours.low)
            assert math.isnan(ours.p)
        else:
            assert close_enough(placements(rows)[0].variance, expected["var"], case.tolerance)
            assert 0 < ours.low < ours.estimate < ours.high < 1


# The jackknife fits the cover model again for each patient left out; checked there against R.
@pytest.mark.parametrize("name", ["p16_augmented_overlap_birthwt", "p17_augmented_overlap_clusters"])
def test_reference_of_the_weighted_win_probability(name):
    case = reference_case(name)
    cohorts, compared = reference_lids(case), 0
    for key, analysis in case.input["analyses"].items():
        if not analysis.get("win_probability"):
            continue
        cover = _cover_model(cohorts, ridge(analysis["lambda_e"]))
        score = np.array(case.input["data"][analysis["outcome"]], dtype=float)
        first, second = cover.weights[:, ~cohorts.second], cover.weights[:, cohorts.second]
        rows = _weighted_wins(_wins(score, cohorts), first, second)
        assert close_enough(rows[0], case.expected[key]["theta"], case.tolerance)
        assert close_enough(jackknife_covariance(rows[1:, None])[0, 0], case.expected[key]["var"], case.tolerance)
        assert patients_minus_terms(cohorts, beside=1) == analysis["df"]
        compared += 1
    assert compared == 2


def test_reference_of_the_weighted_formula_alone():
    case = reference_case("p14_augmented_overlap_hand")
    for name, rows in case.input["formula_only_sets"].items():
        cover = constant_cover(rows["e"], rows["z"])
        side = cover.cohorts.second
        score = np.array([float(Fraction(each)) for each in rows["y"]])
        found = _weighted_wins(_wins(score, cover.cohorts), cover.weights[:, ~side], cover.weights[:, side])
        assert close_enough(found[0], case.expected[name]["win_probability"], case.tolerance)


@given(grades, grades)
def test_two_other_programs_agree(first, second):
    score, cohorts = lids({"graft": first, "advanced": second})
    found = _placements(score, cohorts)
    assert found.estimate == pytest.approx(mannwhitneyu(second, first).statistic / len(first) / len(second))
    if found.variance > 1e-12:
        assert (found.estimate - 0.5) / math.sqrt(found.variance) == pytest.approx(
            -brunnermunzel(second, first).statistic
        )


@given(grades, grades)
def test_the_interval_and_p_are_one_statistic_and_exchanging_turns_it_round(first, second):
    there = win_probability(*lids({"graft": first, "advanced": second}))
    back = win_probability(*lids({"graft": second, "advanced": first}))
    assert 0 <= there.low <= there.estimate <= there.high <= 1
    if abs(there.p - 0.05) > 1e-9:
        assert (there.p < 0.05) == there.excludes_none
    assert (there.estimate, there.low, there.p) == pytest.approx((1 - back.estimate, 1 - back.high, back.p))


def test_complete_separation_is_half_a_lid_from_the_end_and_no_certainty():
    ours = win_probability(*lids({"graft": [0] * 20, "advanced": [1] * 25}))
    one_level = win_probability(*lids({"graft": [0] * 19 + [1], "advanced": [1] * 25}))
    assert ours.estimate == pytest.approx(1 - 0.5 / 20)
    assert (ours.estimate, ours.standard_error) == pytest.approx(
        (one_level.estimate, one_level.standard_error), rel=0.03
    )
    assert 0.7 < ours.low < 0.9
    assert ours.p < 0.05


def test_all_equal_is_one_half_and_no_certainty():
    ours = win_probability(*lids({"graft": [2] * 10, "advanced": [2] * 12}))
    assert (ours.estimate, ours.p) == (0.5, 1)
    assert ours.low < 0.45
    assert ours.high > 0.55


def test_a_patient_with_both_covers_counts_once():
    score, cohorts = lids({"graft": [0, 1, 2, 1, 0, 2], "advanced": [1, 1, 3, 2, 0, 3],
                           "graft_patient": range(6), "advanced_patient": range(6)})  # fmt: skip
    apart = TwoCohorts(cohorts.second, np.arange(12), cohorts.columns)
    assert win_probability(score, cohorts).standard_error < win_probability(score, apart).standard_error
    assert win_probability(score, cohorts).degrees_of_freedom <= 5


@settings(deadline=None, max_examples=10)
@given(st.integers(0, 1000))
def test_without_characteristics_the_weighted_is_the_crude(seed):
    rng = np.random.default_rng(seed)
    cohorts = two_cohorts(np.arange(30) % 2, range(30))
    score = rng.integers(0, 4, 30)
    ours, crude = overlap_win_probability(score, cover_model(cohorts)), win_probability(score, cohorts)
    assert ours.estimate == pytest.approx(crude.estimate)
    assert ours.standard_error == pytest.approx(crude.standard_error, rel=0.1)


def test_what_confounding_alone_makes_is_taken_away():
    found = []
    for seed in range(40):
        _, cohorts = confounded(seed)
        score = np.round(cohorts.covariates[:, 0] + np.random.default_rng(seed).normal(size=80))
        found.append(
            (win_probability(score, cohorts).estimate, overlap_win_probability(score, cover_model(cohorts)).estimate)
        )
    crude, weighted = np.mean(found, axis=0)
    assert crude > 0.65
    assert abs(weighted - 0.5) < 0.04


@pytest.mark.parametrize(
    "score, message", [([0, 1, math.nan, 0], r"score\[2\] is nan"), ([0, 1], "score has 2 values")]
)
def test_impossible_input_is_refused(score, message):
    cohorts = two_cohorts([0, 0, 1, 1], range(4))
    for call in (lambda: win_probability(score, cohorts), lambda: overlap_win_probability(score, cover_model(cohorts))):
        with pytest.raises(ValueError, match=message):
            call()
