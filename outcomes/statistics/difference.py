"""The difference of two proportions from their own limits."""

from __future__ import annotations

import math

from outcomes.statistics.proportion import wilson
from outcomes.statistics.result import Interval
from outcomes.statistics.validation import check_finite


def square_and_add(first: Interval, second: Interval, *, correlation: float = 0.0) -> Interval:
    """Return `second` minus `first` from two proportions that already have their intervals.

    The distance from each estimate to its own limit is squared and added. It keeps what the single intervals have: it
    never collapses when there are no events, and never leaves -1 to 1. `correlation`, from -1 to 1, is that of the
    two estimates; without it the two must come from different lids, and where some patients gave a lid to each, their
    likeness makes the true interval narrower, so that this one errs on the wide side. ValueError for two intervals of
    different levels.

    Source: method 10 of Newcombe RG. Stat Med 1998;17:873-890; with a correlation, Zou GY. Psychol Methods
    2007;12:399-413 (from memory).

    >>> gap = square_and_add(wilson(0, 10), wilson(0, 20))
    >>> round(gap.low, 4), round(gap.high, 4)
    (-0.2775, 0.1611)
    """
    check_finite("correlation", correlation, least=-1, most=1)
    levels = {each.confidence_level for each in (first, second) if not math.isnan(each.confidence_level)}
    if len(levels) > 1:
        raise ValueError(f"first and second have the confidence levels {sorted(levels)}: must have the same")
    estimate = second.estimate - first.estimate
    down = _third_side(second.estimate - second.low, first.high - first.estimate, correlation)
    up = _third_side(second.high - second.estimate, first.estimate - first.low, correlation)
    level = levels.pop() if levels else math.nan
    return Interval(estimate, max(estimate - down, -1.0), min(estimate + up, 1.0), level)


def newcombe(first: tuple[float, float], second: tuple[float, float], *, confidence_level: float = 0.95) -> Interval:
    """Return the proportion of `second` minus that of `first`, each as (events, n), with the hybrid score interval.

    An empty group makes all three values nan.

    Source: method 10 of Newcombe RG. Stat Med 1998;17:873-890, whose Table II prints 9/10 against 3/10.

    >>> gap = newcombe((3, 10), (9, 10))
    >>> round(gap.estimate, 4), round(gap.low, 4), round(gap.high, 4)
    (0.6, 0.1705, 0.809)
    """
    return square_and_add(
        wilson(*first, confidence_level=confidence_level), wilson(*second, confidence_level=confidence_level)
    )


def _third_side(one: float, other: float, correlation: float) -> float:
    """The root of the sum of the squares less what the two share; with no correlation the hypotenuse."""
    return math.sqrt(max(one**2 + other**2 - 2 * correlation * one * other, 0.0))
