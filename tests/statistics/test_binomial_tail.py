"""The upper tail of the binomial, against exact fractions and another program."""

from fractions import Fraction
from math import comb

import pytest
from scipy import stats

from outcomes.statistics.binomial_tail import binomial_tail


def exact(successes, trials, probability):
    chance = Fraction(probability)
    return sum(comb(trials, k) * chance**k * (1 - chance) ** (trials - k) for k in range(successes, trials + 1))


@pytest.mark.parametrize(
    "successes, trials, chance", [(0, 5, 0.5), (5, 5, 0.5), (8, 10, 0.5), (1, 1, 0.25), (40, 60, 0.5)]
)
def test_tail_is_the_exact_sum(successes, trials, chance):
    assert binomial_tail(successes, trials=trials, probability=chance) == pytest.approx(
        float(exact(successes, trials, chance))
    )


@pytest.mark.parametrize("successes, trials, chance", [(3, 20, 0.1), (550, 1000, 0.5), (2600, 5000, 0.5)])
def test_tail_is_that_of_scipy_stats(successes, trials, chance):
    """scipy.stats.binom.sf, written apart from scipy.special.betainc."""
    assert binomial_tail(successes, trials=trials, probability=chance) == pytest.approx(
        stats.binom.sf(successes - 1, trials, chance)
    )


@pytest.mark.parametrize("chance, tail", [(0.0, 0.0), (1.0, 1.0)])
def test_impossible_and_certain(chance, tail):
    assert binomial_tail(1, trials=3, probability=chance) == tail


@pytest.mark.parametrize(
    "successes, trials, chance", [(4, 3, 0.5), (-1, 3, 0.5), (0, 0, 0.5), (1, 3, 1.5), (1, 3, float("nan"))]
)
def test_impossible_arguments_are_refused(successes, trials, chance):
    with pytest.raises(ValueError, match="must be from 0"):
        binomial_tail(successes, trials=trials, probability=chance)
