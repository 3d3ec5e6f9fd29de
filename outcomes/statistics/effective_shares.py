"""The difference of two correlated shares that are worth so many independent lids, with limits and p."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from scipy import optimize, special

from outcomes.statistics.difference import square_and_add
from outcomes.statistics.proportion import score_interval
from outcomes.statistics.result import Interval, TestedEstimate

FARTHEST = 1e4  # a deviate beyond any interval


@dataclass(frozen=True)
class EffectiveShare:
    """A share, from 0 to 1, with the number of independent lids that would know as much; that number is above 0."""

    share: float
    effective_n: float

    def limits(self, deviate: float) -> Interval:
        """The share with its score limits."""
        return score_interval(self.share * self.effective_n, self.effective_n, deviate)


def effective_share_difference(
    first: EffectiveShare,
    second: EffectiveShare,
    *,
    correlation: float,
    degrees_of_freedom: float,
    confidence_level: float,
) -> TestedEstimate:
    """Return the second share minus the first, from the score limits of both with Student's t, squared and added.

    `correlation` is that of the two estimates; infinite degrees of freedom give the normal distribution. p is the
    level at which the nearer limit of the difference is 0, so that it agrees with the interval. The standard error is
    half the width of the interval, in units of t.

    Source: Zou GY. Psychol Methods 2007;12:399-413 (from memory).

    >>> found = effective_share_difference(EffectiveShare(0.6, 80), EffectiveShare(0.8, 70), correlation=0.0,
    ...     degrees_of_freedom=float('inf'), confidence_level=0.95)
    >>> round(found.low, 4), round(found.high, 4), round(found.p, 6)
    (0.0524, 0.3339, 0.008133)
    """

    def limits(deviate: float) -> Interval:
        return square_and_add(first.limits(deviate), second.limits(deviate), correlation=correlation)

    def nearer_limit(deviate: float) -> float:
        return limits(deviate).low if estimate > 0 else -limits(deviate).high

    estimate = second.share - first.share
    reported = float(special.stdtrit(degrees_of_freedom, 0.5 + confidence_level / 2))
    interval = limits(reported)
    deviate = 0.0 if estimate == 0 else _first_touch(nearer_limit, reported)
    return TestedEstimate(
        estimate,
        interval.low,
        interval.high,
        2 * float(special.stdtr(degrees_of_freedom, -deviate)),
        (interval.high - interval.low) / (2 * reported),
        degrees_of_freedom,
        confidence_level,
    )


def _first_touch(nearer_limit: Callable[[float], float], reported: float) -> float:
    """The deviate at which the nearer limit is 0: beyond the reported one where that one is on the estimate's side."""
    low, high = 0.0, reported
    while nearer_limit(high) > 0:
        low, high = high, 2 * high
        if high > FARTHEST:
            return high
    return float(optimize.brentq(nearer_limit, low, high, xtol=1e-10))
