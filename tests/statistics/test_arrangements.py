"""The ways to share the covers out, counted by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.statistics.arrangements import cover_arrangements


def test_two_of_four_patients_by_hand():
    shared = cover_arrangements([1, 1, 0, 0], ["a", "b", "c", "d"])
    expected = {(1, 1, 0, 0), (1, 0, 1, 0), (1, 0, 0, 1), (0, 1, 1, 0), (0, 1, 0, 1), (0, 0, 1, 1)}
    assert {tuple(row) for row in shared.labels.astype(int).tolist()} == expected
    assert (shared.exact, shared.count, len(shared.labels)) == (True, 6, 6)


def test_lids_of_one_patient_move_together_and_one_of_each_cover_swaps():
    """Patient a has two lids of the second cover, b one of the first, c one of each: 2 choices times 2 swaps."""
    shared = cover_arrangements([1, 1, 0, 0, 1], ["a", "a", "b", "c", "c"])
    expected = {(1, 1, 0, 0, 1), (1, 1, 0, 1, 0), (0, 0, 1, 0, 1), (0, 0, 1, 1, 0)}
    assert {tuple(row) for row in shared.labels.astype(int).tolist()} == expected
    assert shared.count == 4


def test_too_many_are_drawn_and_the_same_ones_each_time():
    second, patient = np.arange(60) < 25, np.arange(60)
    shared, again = cover_arrangements(second, patient, draws=50), cover_arrangements(second, patient, draws=50)
    assert not shared.exact
    assert shared.count == math.comb(60, 25)
    assert shared.labels.shape == (50, 60)
    assert (shared.labels.sum(axis=1) == 25).all()
    assert (shared.labels == again.labels).all()


def test_a_draw_is_fair():
    """Each of 40 patients is among the 10 chosen in a quarter of 9,999 draws, within five standard errors."""
    shares = cover_arrangements(np.arange(40) < 10, np.arange(40)).labels.mean(axis=0)
    assert shares == pytest.approx(np.full(40, 0.25), abs=5 * math.sqrt(0.25 * 0.75 / 9_999))


lids = st.lists(st.tuples(st.booleans(), st.integers(0, 5)), min_size=1, max_size=9)


@given(lids)
@settings(deadline=None)
def test_each_once_with_the_observed_and_as_many_patients_on_each_side(rows):
    second, patient = (np.array(column) for column in zip(*rows, strict=True))
    shared = cover_arrangements(second, patient)
    assert len({row.tobytes() for row in shared.labels}) == len(shared.labels) == shared.count
    assert (shared.labels == second).all(axis=1).any()
    for name in np.unique(patient):
        own, theirs = second[patient == name], shared.labels[:, patient == name]
        same_lids_differ = (theirs ^ theirs[:, :1]) == (own ^ own[0])
        assert same_lids_differ.all()
