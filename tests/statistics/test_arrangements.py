"""The ways to share the covers out, counted by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chisquare

from outcomes.statistics.arrangements import count_arrangements, cover_arrangements, draw_packed


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
    assert shared.count == pytest.approx(math.comb(60, 25))
    assert shared.labels.shape == (50, 60)
    assert (shared.labels.sum(axis=1) == 25).all()
    assert (shared.labels == again.labels).all()


def test_a_draw_is_fair():
    """Each of 40 patients is among the 10 chosen in a quarter of 9,999 draws, within five standard errors."""
    shares = cover_arrangements(np.arange(40) < 10, np.arange(40)).labels.mean(axis=0)
    assert shares == pytest.approx(np.full(40, 0.25), abs=5 * math.sqrt(0.25 * 0.75 / 9_999))


@pytest.mark.parametrize(
    "size, chosen", [(1, 0), (1, 1), (7, 3), (64, 64), (65, 1), (300, 299), (300, 150), (1_000, 7)]
)
def test_each_draw_holds_as_many_as_asked_and_nobody_beyond_the_last(size, chosen):
    drawn = np.unpackbits(draw_packed(np.random.default_rng(3), size, chosen, 500), axis=0, bitorder="little")
    assert (drawn[:size].sum(axis=0) == chosen).all()
    assert not drawn[size:].any()
    assert drawn[:size].mean(axis=1) == pytest.approx(chosen / size, abs=5 * math.sqrt(0.25 / 500))


def test_all_choices_of_a_small_number_are_drawn_alike():
    """3 of 7: each of the 35 choices in a 35th of 35,000 draws, by the chi-squared test of another program."""
    drawn = draw_packed(np.random.default_rng(4), 7, 3, 35_000)[0]
    assert chisquare(np.unique(drawn, return_counts=True)[1]).pvalue > 1e-4
    assert np.unique(drawn).size == 35


def test_two_of_a_pair_are_chosen_as_often_as_two_strangers():
    """The covariance of two memberships, neighbours in a byte or far apart, is that of drawing without replacement."""
    drawn = cover_arrangements(np.arange(40) < 10, np.arange(40)).labels.astype(float)
    expected = 10 / 40 * 9 / 39
    for other in (1, 7, 8, 39):
        assert (drawn[:, 0] * drawn[:, other]).mean() == pytest.approx(expected, abs=5 * math.sqrt(expected / 9_999))


def test_a_large_register_is_drawn_in_parts():
    shared = cover_arrangements(np.arange(60) < 25, np.arange(60), draws=350)
    parts = list(shared.batches(at_once=6_000))
    assert [part.shape for part in parts] == [(60, 100), (60, 100), (60, 100), (60, 50)]
    assert all((part.sum(axis=0) == 25).all() for part in parts)


def test_the_number_of_arrangements_can_always_be_printed():
    assert count_arrangements(52, 5, 0) == 2_598_960
    assert count_arrangements(100, 50, 3) == pytest.approx(8 * math.comb(100, 50))
    assert str(count_arrangements(1_000_000, 500_000, 9)) == "inf"


@pytest.mark.parametrize(
    "given, said",
    [
        ({"second": [0, math.nan]}, r"second\[1\] is nan"),
        ({"patient": [1]}, "patient has 1 values and second has 2"),
        ({"draws": 0, "limit": 0}, "draws is 0: must be a whole number, 1 or more"),
    ],
)
def test_impossible_input_is_refused(given, said):
    with pytest.raises(ValueError, match=said):
        cover_arrangements(**{"second": [0, 1], "patient": [1, 2], **given})


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
