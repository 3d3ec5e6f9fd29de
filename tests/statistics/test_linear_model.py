"""The linear model with CR2, against exact fractions, clubSandwich's values, and what must hold."""

import math
from itertools import count

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import linalg
from scipy.stats import ttest_ind

from outcomes.statistics.linear_model import (
    _of_block,
    independent_columns,
    linear_design,
    linear_difference,
    within_design,
)
from outcomes.statistics.two_cohorts import two_cohorts
from tests.reference import close_enough, reference_case


def found(value, second, patient, covariates=None, **options):
    return linear_difference(value, linear_design(two_cohorts(second, patient, covariates=covariates)), **options)


def told(estimate):
    return {
        "estimate": estimate.estimate,
        "se": estimate.standard_error,
        "df": estimate.degrees_of_freedom,
        "ci": [estimate.low, estimate.high],
        "t": estimate.estimate / estimate.standard_error,
        "p": estimate.p,
    }


# Worked in exact fractions: variance 5/6 with 4 degrees of freedom for the first set.
def test_reference_in_exact_fractions():
    case = reference_case("p01_cr2_hand_fractions")
    for name, groups in case.input["sets"].items():
        number = count()
        rows = [(y, z, who) for z, key in enumerate(("graft", "advanced"))
                for lids in groups[key] for who in [next(number)] for y in lids]  # fmt: skip
        expected = {key: value for key, value in case.expected[name].items() if not key.endswith("fraction")}
        assert close_enough(told(found(*zip(*rows, strict=True))), expected, case.tolerance), name


def test_reference_with_both_covers_in_a_patient():
    case = reference_case("p03_cr2_both_covers")
    for name, rows in case.input["sets"].items():
        assert close_enough(told(found(rows["y"], rows["z"], rows["patient"])), case.expected[name], case.tolerance)


# These values were also had from R's clubSandwich 0.5.8 (the case says so).
@pytest.mark.parametrize("name, cover", [("plants", "chilled"), ("plants", "mississippi"), ("teeth", "female"),
                                         ("teeth_unbalanced_first_50_rows", "female")])  # fmt: skip
def test_reference_with_characteristics(name, cover):
    case = reference_case("p04_cr2_covariates")
    rows = case.input["sets"][name]
    others = np.column_stack([column for key, column in rows["X"].items() if key != cover])
    ours = told(found(rows["y"], rows["X"][cover], rows["cluster"], others))
    assert close_enough(ours, case.expected[name][cover], case.tolerance)


def test_reference_of_edges():
    case = reference_case("p06_cr2_edges")
    for name, rows in case.input["sets"].items():
        ours, expected = found(rows["y"], rows["z"], rows["patient"]), dict(case.expected[name])
        if expected["ci"] is None:
            assert all(math.isnan(part) for part in (ours.low, ours.high, ours.p, ours.degrees_of_freedom))
            assert close_enough(ours.estimate, expected["estimate"], case.tolerance)
        else:
            assert close_enough(told(ours), expected, case.tolerance)


def test_without_characteristics_and_pairs_the_standard_error_is_welchs():
    first, second = [1.0, 2.0, 4.0, 5.0, 2.5], [3.0, 3.0, 6.0]
    ours = found(first + second, [0] * 5 + [1] * 3, range(8))
    welch = ttest_ind(second, first, equal_var=False)
    assert ours.estimate / ours.standard_error == pytest.approx(welch.statistic)


# HC2 of another program is CR2 where every patient has one lid.
def test_with_one_lid_a_patient_another_program_agrees():
    rng = np.random.default_rng(4)
    covariates, second = rng.normal(size=(40, 3)), rng.random(40) < 0.5
    value = covariates @ [1, 0, -1] + second + rng.normal(size=40)
    theirs = sm.OLS(value, sm.add_constant(np.column_stack([second, covariates]).astype(float))).fit(cov_type="HC2")
    ours = found(value, second, range(40), covariates)
    assert ours.estimate == pytest.approx(theirs.params[1])
    assert ours.standard_error == pytest.approx(theirs.bse[1])


def test_the_interval_and_p_are_one_statistic():
    rng = np.random.default_rng(5)
    sides = set()
    for _ in range(300):
        value = rng.normal(size=16) + 0.6 * (np.arange(16) > 7)
        ours = found(value, np.arange(16) > 7, np.arange(16) // 2)
        sides.add(ours.excludes_none)
        assert (ours.p <= 0.05) == ours.excludes_none
    assert sides == {True, False}


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10_000), st.floats(-50, 50), st.floats(0.1, 20))
def test_units_origin_and_order_change_nothing(seed, origin, unit):
    rng = np.random.default_rng(seed)
    second, patient = np.arange(20) % 2 == 0, rng.integers(0, 13, 20)
    covariates, value = rng.normal(size=(20, 2)), rng.normal(size=20)
    plain = found(value, second, patient, covariates)
    order = rng.permutation(20)
    moved = found((value * unit + origin)[order], second[order], patient[order], (covariates * unit + origin)[order])
    assert moved.p == pytest.approx(plain.p, rel=1e-6)
    assert moved.standard_error == pytest.approx(unit * plain.standard_error, rel=1e-6)


def test_equal_values_are_no_certainty_where_the_field_has_a_step():
    ours = found([2.0] * 30, [0] * 10 + [1] * 20, range(30), step=0.5)
    one_off = [2.0] * 9 + [2.5] + [2.0] * 19 + [2.5]
    theirs = found(one_off, [0] * 10 + [1] * 20, range(30))
    assert ours.estimate == pytest.approx(0, abs=1e-12)
    assert ours.standard_error == pytest.approx(theirs.standard_error)
    assert ours.low < 0 < ours.high
    assert ours.p == pytest.approx(1)


def test_a_characteristic_that_follows_from_the_others_is_dropped_and_said():
    rng = np.random.default_rng(6)
    second, first = np.arange(24) % 2 == 0, rng.normal(size=24)
    value = rng.normal(size=24) + first
    design = linear_design(two_cohorts(second, range(24), covariates=np.column_stack([first, 3 - 2 * first, second])))
    assert design.dropped == (1, 2)
    assert linear_difference(value, design).low == pytest.approx(found(value, second, range(24), first[:, None]).low)


def test_a_patient_known_by_a_characteristic_of_their_own_adds_no_certainty():
    rng = np.random.default_rng(7)
    value, second = rng.normal(size=21), np.arange(21) % 2 == 0
    own = (np.arange(21) == 20).astype(float)
    ours, without = found(value, second, range(21), own[:, None]), found(value[:20], second[:20], range(20))
    assert ours.estimate == pytest.approx(without.estimate)
    assert ours.standard_error == pytest.approx(without.standard_error)


def test_columns_that_cannot_be_told_apart_are_found():
    lids = two_cohorts([0, 1, 1, 0], range(4), covariates=[[0.0, 1.0], [1.0, 5.0], [1.0, 2.0], [0.0, 9.0]])
    assert independent_columns(lids.columns, np.ones(4, dtype=bool)) == [0, 1, 3]


@pytest.mark.parametrize("apart, dropped", [(1e-3, ()), (1e-7, (1,))])
def test_the_difference_is_precise_also_where_characteristics_are_nearly_alike(apart, dropped):
    rng = np.random.default_rng(3)
    first, noise, value = rng.normal(0, 1, (3, 500))
    covariates, second = np.column_stack([first, first + apart * noise]), rng.random(500) < 0.5
    design = linear_design(two_cohorts(second, range(500), covariates=covariates))
    assert design.dropped == dropped
    kept = np.column_stack([second, first, *([noise] if not dropped else [])]).astype(float)  # spans the same
    theirs = sm.OLS(value, sm.add_constant(kept)).fit(cov_type="HC2")
    ours = linear_difference(value, design)
    assert ours.estimate == pytest.approx(theirs.params[1], rel=1e-9)
    assert ours.standard_error == pytest.approx(theirs.bse[1], rel=1e-9)
    basis = design.columns.dense() @ design.root
    assert np.allclose(basis.T @ basis, np.eye(basis.shape[1]), rtol=0, atol=1e-13)


@pytest.mark.parametrize(
    "call, message",
    [
        (lambda: found([1, 2], [0, 1], ["a"]), "patient has 1 values and second has 2"),
        (lambda: found([1, math.nan], [0, 1], ["a", "b"]), r"value\[1\] is nan: must be a finite number"),
        (lambda: found([1, 2, 3], [0, 1], ["a", "b"]), "value has 3 values: must be one for every lid"),
        (lambda: found([1, 2], [0, 1], ["a", "b"], confidence_level=95), "confidence_level is 95"),
        (lambda: found([1, 2], [0, 1], ["a", "b"], step=-0.5), "step"),
        (lambda: found([1, 2], [0, 2], ["a", "b"]), r"second\[1\] is 2: must be 0 or 1"),
        (lambda: found([1, 2], [0, 1], ["a", "b"], [[1], [math.inf]]), "covariates"),
        (lambda: found([1, 2], [0, 1], ["a", "b"], [[1], [2], [3]]), "covariates has the shape"),
    ],
)
def test_impossible_input_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()


# SciPy's root of a matrix, against the closed form for two lids and the eigenvalues for more; a singular block has no inverse.
@pytest.mark.parametrize("lids", [2, 3])
def test_the_root_of_each_block_is_that_of_another_program(lids):
    rng = np.random.default_rng(lids)
    basis = rng.normal(size=(40, lids, 4)) * rng.choice([0.05, 0.3], size=(40, 1, 1))
    size = np.linalg.norm(basis, axis=(1, 2), keepdims=True)
    basis, influence = basis / np.maximum(1.0, 1.01 * size), rng.normal(size=(40, lids))
    basis[0, 1] = basis[0, 0]
    basis[0] /= np.linalg.norm(basis[0])  # both lids together are known by a column of their own
    ours = _of_block(influence, basis)
    for found, rows, moved in zip(ours[1:], basis[1:], influence[1:], strict=True):
        assert found == pytest.approx(linalg.inv(linalg.sqrtm(np.eye(lids) - rows @ rows.T)) @ moved, rel=1e-9)
    block = np.eye(lids) - basis[0] @ basis[0].T
    root = linalg.pinv(linalg.sqrtm(block).real, atol=1e-6)
    assert ours[0] == pytest.approx(root @ influence[0], rel=1e-6)


@pytest.mark.parametrize("others", [0, 1])
def test_within_some_lids_the_difference_is_theirs_also_where_all_others_had_one_cover(others):
    second, own = np.array([0, 0, 0, 1, 1, 1] + [others] * 6), np.arange(12) < 6
    value = np.array([1.0, 2, 3, 4, 5, 9, 7, 7, 8, 7, 9, 8])
    ours = linear_difference(value, within_design(linear_design(two_cohorts(second, range(12))), own))
    assert ours.estimate == pytest.approx(4)
    assert ours.standard_error == pytest.approx(found(value[:6], second[:6], range(6)).standard_error)
