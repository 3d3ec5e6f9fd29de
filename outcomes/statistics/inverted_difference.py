"""The difference of two shares whose limits are known at every confidence level, with the p value that inverts them."""

from __future__ import annotations

from collections.abc import Callable
from math import inf, isfinite

from scipy import special

from outcomes.statistics.crossing import crossing
from outcomes.statistics.difference import square_and_add
from outcomes.statistics.result import Interval, TestedEstimate, not_estimable

MOST_DEVIATE = 8.0  # p is below 1e-14 from here on
ByLevel = Callable[[float], tuple[Interval, Interval]]


def inverted_difference(shares: ByLevel, confidence_level: float = 0.95) -> TestedEstimate:
    """Return the second share minus the first, squared and added, with p as the level at which the nearer limit is 0.

    `shares` gives both shares with their limits at a confidence level. The standard error is half the width in units of the
    normal deviate. Not estimable where the shares or their limits are not.

    Source: method 10 of Newcombe RG. Stat Med 1998;17:873-890, inverted in the confidence level.

    >>> from outcomes.statistics.proportion import wilson
    >>> found = inverted_difference(lambda level: tuple(wilson(n, 20, confidence_level=level) for n in (12, 4)), 0.95)
    >>> round(found.estimate, 2), round(found.low, 3), round(found.p, 4)
    (-0.4, -0.617, 0.0091)
    """

    def interval(deviate: float) -> Interval:
        level = 2 * float(special.ndtr(deviate)) - 1
        return square_and_add(*shares(level))

    def nearer_limit(deviate: float) -> float:
        found = interval(deviate)
        return found.low if found.estimate > 0 else -found.high

    reported = float(special.ndtri(0.5 + confidence_level / 2))
    found = square_and_add(*shares(confidence_level))
    if not isfinite(found.estimate) or not isfinite(found.low) or not isfinite(found.high):
        return not_estimable(confidence_level, estimate=found.estimate)
    deviate = 0.0 if found.estimate == 0 else _first_touch(nearer_limit, reported)
    error = (found.high - found.low) / (2 * reported)
    p = 2 * float(special.ndtr(-deviate))
    return TestedEstimate(found.estimate, found.low, found.high, p, error, inf, confidence_level)


def _first_touch(nearer_limit: Callable[[float], float], reported: float) -> float:
    """The deviate at which the nearer limit is 0: beyond the reported one where that one is on the estimate's side."""
    low, high = 1e-6, reported
    if nearer_limit(high) > 0:
        low, high = high, MOST_DEVIATE
        if nearer_limit(high) > 0:
            return high
    elif nearer_limit(low) <= 0:
        return 0.0
    return crossing(nearer_limit, low, high)
