"""The columns of a model with groups of rows, against the same columns written out and multiplied by NumPy."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.statistics import design_matrix
from outcomes.statistics.design_matrix import CHARACTERISTICS, COVER, INTERCEPT

SMALL = {"FEWEST_A_GROUP": 0, "BLOCK": 5}  # so that a few lids have groups, and several blocks


def written_out(characteristics, group, kept, second):
    """Every column, standardised; those that are the same in all left out."""
    indicators = [group == each for each in range(1, group.max(initial=0) + 1)]
    columns = np.column_stack([characteristics, *indicators]).astype(float)[kept]
    varies = np.ptp(columns, axis=0) > 0
    columns = columns[:, varies]
    own = (columns - columns.mean(axis=0)) / columns.std(axis=0)
    return np.column_stack([np.ones(second.size), second, own]), tuple(np.flatnonzero(~varies))


def drawn(seed, lids=40, groups=4):
    rng = np.random.default_rng(seed)
    characteristics = np.column_stack([rng.normal(70, 8, lids), rng.random(lids) < 0.4, rng.normal(2014, 3, lids)])
    group, kept = rng.integers(0, groups, lids), rng.random(lids) < rng.uniform(0.2, 1)
    kept[:2] = True
    return characteristics, group, kept, rng.random(kept.sum()) < 0.5, rng


@settings(deadline=None, max_examples=60)
@given(st.integers(0, 100_000), st.integers(1, 6))
def test_products_are_those_of_the_columns_written_out(seed, groups):
    characteristics, group, kept, second, rng = drawn(seed, groups=groups)
    with pytest.MonkeyPatch.context() as patch:
        for name, value in SMALL.items():
            patch.setattr(design_matrix, name, value)
        ours, constant = design_matrix.design_matrix(characteristics, group).of_lids(kept, second).standardised()
        theirs, same = written_out(characteristics, group, kept, second)
        assert constant == same
        theirs = theirs[ours.order]
        weight, value = rng.random((2, second.size))
        vector, matrix = rng.normal(size=ours.size), rng.normal(size=(ours.size, ours.size))
        for found, expected in (
            (ours.dense(), theirs),
            (ours.dense(np.array([1, 0])), theirs[[1, 0]]),
            (ours.times(vector), theirs @ vector),
            (ours.transposed_times(value), theirs.T @ value),
            (ours.products, theirs.T @ theirs),
            (ours.cross_products(weight), theirs.T @ (weight[:, np.newaxis] * theirs)),
            (ours.quadratic_forms(matrix + matrix.T), np.diagonal(theirs @ (matrix + matrix.T) @ theirs.T)),
            (ours.every(3).times(vector), theirs[::3] @ vector),
            (ours.every(7).transposed_times(value[::7]), theirs[::7].T @ value[::7]),
            (ours.every(3).products, theirs[::3].T @ theirs[::3]),
            (ours.of_rows(value > 0.5).dense(), theirs[value > 0.5]),
            (ours.as_given(theirs[:, COVER]), second.astype(float)),
        ):
            assert found == pytest.approx(expected, abs=1e-9)


def test_some_rows_stand_in_their_own_order_of_lids():
    matrix = design_matrix.design_matrix(np.arange(6.0)[:, None], np.array([1, 0, 1, 0, 0, 1]))
    some = matrix.of_rows(matrix.order % 2 == 0)  # lids 0, 2 and 4, of which 4 is of the first group
    assert some.order.tolist() == [2, 0, 1]
    assert some.bounds.tolist() == [0, 1, 3]


def test_few_lids_have_a_column_a_group():
    characteristics, group, _, _, _ = drawn(3)
    everybody, second = np.ones(40, dtype=bool), np.arange(40) % 2 == 0
    few, constant = design_matrix.design_matrix(characteristics, group).of_lids(everybody, second).standardised()
    theirs, _ = written_out(characteristics, group, everybody, second)
    assert (few.groups, constant) == (0, ())
    assert few.dense() == pytest.approx(theirs[few.order])


def test_further_columns_stand_behind_the_others(monkeypatch):
    monkeypatch.setattr(design_matrix, "FEWEST_A_GROUP", 0)
    characteristics, group, kept, second, rng = drawn(4)
    base, _ = design_matrix.design_matrix(characteristics, group).of_lids(kept, second).standardised()
    further, weight, value = rng.normal(size=(second.size, 2)), *rng.random((2, second.size))
    theirs = np.column_stack([base.dense(), further])
    ours = design_matrix.ExtendedMatrix(base, further)
    vector = rng.normal(size=ours.size)
    assert ours.dense() == pytest.approx(theirs)
    assert ours.times(vector) == pytest.approx(theirs @ vector)
    assert ours.transposed_times(value) == pytest.approx(theirs.T @ value)
    assert ours.products == pytest.approx(theirs.T @ theirs, abs=1e-9)
    assert ours.cross_products(weight) == pytest.approx(theirs.T @ (weight[:, np.newaxis] * theirs), abs=1e-9)


@pytest.mark.parametrize("group", [[0, 0, 0, 0], [2, 2, 2, 2], [0, 2, 0, 2]])
def test_groups_without_lids_and_a_group_of_all_have_no_indicator(group, monkeypatch):
    monkeypatch.setattr(design_matrix, "FEWEST_A_GROUP", 0)
    series = design_matrix.design_matrix(np.empty((5, 0)), np.array([*group, 1]))
    ours, constant = series.of_lids(np.array([True] * 4 + [False]), np.array([True, False] * 2)).standardised()
    two = len(set(group)) > 1
    assert (ours.size, constant) == (CHARACTERISTICS + two, (0,) if two else (0, 1) if max(group) else (0,))
    assert ours.products[INTERCEPT, INTERCEPT] == 4


def test_a_characteristic_of_nothing_but_rounding_is_left_out():
    nearly = 0.1 + np.array([0.0, 1e-17, 0.0, 1e-17])
    _, constant = design_matrix.design_matrix(np.column_stack([nearly, np.arange(4.0)])).standardised()
    assert constant == (0,)


def test_nobody():
    nobody, constant = design_matrix.design_matrix(np.empty((0, 2))).standardised()
    assert (nobody.rows, nobody.size, constant) == (0, 2, (0, 1))
