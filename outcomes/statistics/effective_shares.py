"""The difference of two shares that are worth so many independent lids, with limits and p: crude, or correlated."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from numpy.typing import ArrayLike
from scipy import special

from outcomes.statistics.clusters import effective_proportion
from outcomes.statistics.crossing import crossing
from outcomes.statistics.difference import square_and_add
from outcomes.statistics.proportion import score_interval
from outcomes.statistics.result import Interval, TestedEstimate, not_estimable
from outcomes.statistics.two_cohorts import TwoCohorts
from outcomes.statistics.validation import check_confidence_level, check_yes_no

FARTHEST = 1e4  # a deviate beyond any interval


@dataclass(frozen=True)
class EffectiveShare:
    """A share, from 0 to 1, with the number of independent lids that would know as much; that number is above 0."""

    share: float
    effective_n: float

    def limits(self, deviate: float) -> Interval:
        """The share with its score limits."""
        return score_interval(self.share * self.effective_n, self.effective_n, deviate)


@dataclass(frozen=True)
class ShareDifference:
    """The share of each cohort with its limits, and the share of the second minus that of the first.

    `augmented` says whether an outcome model took part; `effective_n` is how many independent lids each share is
    worth, and `correlation` that of the two. Where limits cannot be had they are nan, and only the estimates are there.
    """

    first: Interval
    second: Interval
    difference: TestedEstimate
    effective_n: tuple[float, float]
    correlation: float
    augmented: bool

    @classmethod
    def of(
        cls,
        first: EffectiveShare,
        second: EffectiveShare,
        difference: TestedEstimate,
        correlation: float,
        *,
        augmented: bool,
    ) -> ShareDifference:
        """Put together a difference and the limits of its two shares, all of one level and one distribution."""
        level = difference.confidence_level
        deviate = float(special.stdtrit(difference.degrees_of_freedom, 0.5 + level / 2))
        groups = [replace(share.limits(deviate), confidence_level=level) for share in (first, second)]
        sizes = (first.effective_n, second.effective_n)
        return cls(groups[0], groups[1], difference, sizes, correlation, augmented)


def share_difference(event: ArrayLike, cohorts: TwoCohorts, *, confidence_level: float = 0.95) -> ShareDifference:
    """Return the crude shares of lids with the event, and their difference with limits and p.

    `event` has a 0 or 1 for every lid; the characteristics of the cohorts play no part. Limits are those of
    `effective_proportion` and `effective_difference`, and p is the level at which a limit of the difference touches 0.
    A patient with both covers makes the shares alike; that is not counted, which errs on the wide side.

    Source: method 10 of Newcombe RG. Stat Med 1998;17:873-890, on effective numbers.

    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> found = share_difference([1] * 3 + [0] * 7 + [1] * 9 + [0], two_cohorts([0] * 10 + [1] * 10, range(20)))
    >>> round(found.difference.low, 4), round(found.difference.high, 4), round(found.difference.p, 4)
    (0.1705, 0.809, 0.005)
    """
    check_confidence_level(confidence_level)
    events = cohorts.one_a_lid("event", check_yes_no("event", event))
    groups = [effective_proportion(events[side], cohorts.patient[side]) for side in (~cohorts.second, cohorts.second)]
    if min(cohorts.lids) == 0:
        return shares_without_limits(groups[0].estimate, groups[1].estimate, confidence_level, augmented=False)
    first, second = (EffectiveShare(group.estimate, group.effective_n) for group in groups)
    difference = effective_share_difference(
        first, second, correlation=0.0, degrees_of_freedom=math.inf, confidence_level=confidence_level
    )
    return ShareDifference.of(first, second, difference, 0.0, augmented=False)


def shares_without_limits(first: float, second: float, confidence_level: float, *, augmented: bool) -> ShareDifference:
    """Return two shares and their difference, of which nothing more can be said.

    >>> shares_without_limits(0.25, 0.5, 0.95, augmented=False).difference.estimate
    0.25
    """
    groups = [Interval(share, math.nan, math.nan, confidence_level) for share in (first, second)]
    nothing = not_estimable(confidence_level, estimate=second - first)
    return ShareDifference(groups[0], groups[1], nothing, (math.nan, math.nan), math.nan, augmented)


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
    ...     degrees_of_freedom=math.inf, confidence_level=0.95)
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
    return crossing(nearer_limit, low, high)
