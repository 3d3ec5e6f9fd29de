"""Events shared out among those at risk: by hand, by every way they can fall, and by another program."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from outcomes.statistics.risk_sets import shared_out

shares = st.lists(st.floats(0, 1), max_size=7)


def test_by_hand():
    """All of three events, with shares 1/2, 2/5 and 1/3: a chance of 1/15, and none of three, 1/5, is less far off."""
    assert shared_out([1 / 2, 2 / 5, 1 / 3], 3) == pytest.approx(1 / 15)
    # 1.233 are expected: 0 lies 1.233 away, 3 lies 1.767 away.
    assert shared_out([1 / 2, 2 / 5, 1 / 3], 0) == pytest.approx(1 / 5 + 1 / 15)


@pytest.mark.parametrize("of_second", range(9))
def test_with_equal_halves_it_is_the_binomial_test_of_another_program(of_second):
    """With a share of one half the distribution is even-sided, so that distance and likelihood order it alike."""
    assert shared_out([0.5] * 8, of_second) == pytest.approx(binomtest(of_second, 8, 0.5).pvalue)


@given(shares, st.integers(0, 7))
def test_every_way_the_events_can_fall(share, of_second):
    of_second = min(of_second, len(share))
    expected, p = sum(share), 0.0
    for fallen in product((0, 1), repeat=len(share)):
        if abs(sum(fallen) - expected) >= abs(of_second - expected) - 1e-9:
            p += float(np.prod([each if fell else 1 - each for each, fell in zip(share, fallen, strict=True)]))
    assert shared_out(share, of_second) == pytest.approx(min(1.0, p))


@given(shares, st.integers(0, 7), st.randoms(use_true_random=False))
def test_order_and_the_names_of_the_groups_do_not_matter(share, of_second, random):
    mixed, of_second = random.sample(share, len(share)), min(of_second, len(share))
    assert shared_out(mixed, of_second) == pytest.approx(shared_out(share, of_second))
    assert shared_out([1 - each for each in share], len(share) - of_second) == pytest.approx(
        shared_out(share, of_second)
    )


@pytest.mark.parametrize("events", [100, 1_000, 20_000])
def test_many_events_are_the_binomial_test_of_another_program(events):
    of_second = int(events / 2 + 1.3 * events**0.5)
    assert shared_out([0.5] * events, of_second) == pytest.approx(binomtest(of_second, events, 0.5).pvalue, rel=1e-9)


def test_many_unequal_shares_one_event_at_a_time():
    share = np.random.default_rng(2).random(700)
    chance = np.ones(1)
    for each in share:
        chance = np.convolve(chance, [1 - each, each])
    away = np.abs(np.arange(701) - share.sum())
    for of_second in (280, 300, 350, 400):
        p = chance[away >= abs(of_second - share.sum()) - 1e-9].sum()
        assert shared_out(share, of_second) == pytest.approx(p, rel=1e-9)


@pytest.mark.parametrize("share, of_second", [([0.5, 1.5], 1), ([0.5, float("nan")], 1), ([0.5], 2), ([0.5], -1)])
def test_impossible_input_is_refused(share, of_second):
    with pytest.raises(ValueError, match="must be a finite number from 0 to"):
        shared_out(share, of_second)
