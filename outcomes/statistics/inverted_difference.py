"""The difference of two shares that have limits at any confidence level, with the p value that agrees with them."""

from __future__ import annotations

from collections.abc import Callable
from math import inf, isfinite

from scipy import optimize, special

from outcomes.statistics.difference import square_and_add
from outcomes.statistics.result import Interval, TestedEstimate, not_estimable
from outcomes.statistics.validation import check_confidence_level

MOST_DEVIATE = 8.0  # p is below 1e-14 from here on
LEAST_DEVIATE = 1e-6
SharesAt = Callable[[float], tuple[Interval, Interval]]


def inverted_difference(shares: SharesAt, *, confidence_level: float = 0.95) -> TestedEstimate:
    """Return the second share minus the first, squared and added, with p as the level at which the nearer limit is 0.

    `shares` gives both shares with their limits at a confidence level. The standard error is half the width of the
    interval in units of the normal deviate. Not estimable where a limit is not.

    Source: square and add, method 10 of Newcombe RG. Stat Med 1998;17:873-890.

    >>> from outcomes.statistics.proportion import wilson
    >>> found = inverted_difference(lambda level: tuple(wilson(k, 20, confidence_level=level) for k in (3, 11)))
    >>> round(found.low, 3), round(found.high, 3), found.p < 0.05
    (0.104, 0.615, True)
    """
    check_confidence_level(confidence_level)

    def nearer_limit(deviate: float) -> float:
        found = square_and_add(*shares(2 * float(special.ndtr(deviate)) - 1))
        return found.low if found.estimate > 0 else -found.high

    found = square_and_add(*shares(confidence_level))
    if not (isfinite(found.estimate) and isfinite(found.low) and isfinite(found.high)):
        return not_estimable(confidence_level, estimate=found.estimate)
    reported = float(special.ndtri(0.5 + confidence_level / 2))
    deviate = 0.0 if found.estimate == 0 else _touch(nearer_limit, reported)
    error = (found.high - found.low) / (2 * reported)
    p = 2 * float(special.ndtr(-deviate))
    return TestedEstimate(found.estimate, found.low, found.high, p, error, inf, confidence_level)


def _touch(nearer_limit: Callable[[float], float], reported: float) -> float:
    """The deviate at which the nearer limit is 0: beyond the reported one where that one is on the estimate's side."""
    low, high = LEAST_DEVIATE, reported
    if nearer_limit(high) > 0:
        low, high = high, MOST_DEVIATE
        if nearer_limit(high) > 0:
            return high
    elif nearer_limit(low) <= 0:
        return 0.0
    return float(optimize.brentq(nearer_limit, low, high, xtol=1e-8))
