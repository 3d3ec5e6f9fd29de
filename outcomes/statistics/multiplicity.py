"""Corrections of p values for being some of many: by Holm, weighted or not, and by Benjamini and Hochberg."""

from __future__ import annotations

import math
from collections.abc import Sequence

from outcomes.statistics.validation import check_finite


def holm(p_values: Sequence[float | None], *, weights: Sequence[float] | None = None) -> list[float]:
    """Return the p values adjusted so that the chance of any false finding among them is kept, in the order given.

    Values lie from 0 to 1. None and nan (a test that could not be done) stay nan and do not count towards the number
    of tests. Equal p values of equal weight stay equal. A test of weight 2 gets twice the share of the error that one
    of weight 1 gets; weights are above 0, are fixed before the results are seen, and are equal where none are given.

    Source: Holm S. Scand J Stat 1979;6:65-70.

    >>> holm([0.01, 0.04, None, 0.03])
    [0.03, 0.06, nan, 0.06]
    >>> [round(p, 3) for p in holm([0.013, 0.02, 0.004, 0.4, 0.03], weights=[2, 2, 1, 1, 1])]
    [0.039, 0.04, 0.028, 0.4, 0.06]
    """
    tested = _tested(p_values)
    share = dict(enumerate(_weights(weights, len(p_values))))
    adjusted = [math.nan] * len(p_values)
    left, running = math.fsum(share[place] for _, place in tested), 0.0
    for p, place in sorted(tested, key=lambda each: (each[0] / share[each[1]], each[1])):
        running = max(running, min(1.0, p * max(1.0, left / share[place])))
        adjusted[place] = running
        left -= share[place]
    return adjusted


def benjamini_hochberg(p_values: Sequence[float | None]) -> list[float]:
    """Return the q values: the share of false findings to be expected among those with a q this small or smaller.

    Arguments as for `holm`, without weights. Holds for independent tests, and for tests that go up and down together.

    Source: Benjamini Y, Hochberg Y. J R Stat Soc B 1995;57:289-300.

    >>> [round(q, 3) for q in benjamini_hochberg([0.01, 0.04, None, 0.03])]
    [0.03, 0.04, nan, 0.04]
    """
    tested = sorted(_tested(p_values), reverse=True)
    adjusted, running = [math.nan] * len(p_values), 1.0
    for before, (p, place) in enumerate(tested):
        running = min(running, p * (len(tested) / (len(tested) - before)))
        adjusted[place] = running
    return adjusted


def _tested(p_values: Sequence[float | None]) -> list[tuple[float, int]]:
    """The p value and place of every test that could be done."""
    tested = [(p, place) for place, p in enumerate(p_values) if p is not None and not math.isnan(p)]
    for p, place in tested:
        check_finite(f"p_values[{place}]", p, least=0, most=1)
    return tested


def _weights(weights: Sequence[float] | None, tests: int) -> list[float]:
    if weights is None:
        return [1.0] * tests
    if len(weights) != tests:
        raise ValueError(f"weights has {len(weights)} values: must be one for every p value, and there are {tests}")
    for place, weight in enumerate(weights):
        if not 0 < weight < math.inf:
            raise ValueError(f"weights[{place}] is {weight:g}: must be a finite number above 0")
    return [float(weight) for weight in weights]
