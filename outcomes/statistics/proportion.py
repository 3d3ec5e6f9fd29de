"""The share of lids in which something happened, with score and exact limits."""

from __future__ import annotations

import math
from dataclasses import replace

from scipy import special

from outcomes.statistics.result import Interval
from outcomes.statistics.validation import check_confidence_level, check_finite, check_whole

ROUNDING = 1e-9  # effective numbers are sums of weights
NOT_ESTIMABLE = Interval(math.nan, math.nan, math.nan)


def normal_quantile(confidence_level: float) -> float:
    """Return the standard normal deviate that a two-sided interval of this level is built with.

    ValueError unless the level lies between 0 and 1.

    >>> round(normal_quantile(0.95), 6)
    1.959964
    """
    return float(special.ndtri(0.5 + check_confidence_level(confidence_level) / 2))


def wilson(events: float, n: float, *, confidence_level: float = 0.95) -> Interval:
    """Return a proportion with its score interval, without continuity correction.

    Both numbers may be fractional, as effective numbers are; `0 <= events <= n`. With no events the lower limit is
    exactly 0 and the upper one is not: 0 of 20 still allows 16 %. With `n = 0` nothing is estimable. ValueError for more
    events than n, or less than none.

    Source: Wilson EB. J Am Stat Assoc 1927;22:209-212; method 3 of Newcombe RG. Stat Med 1998;17:857-872.

    >>> wilson(0, 20).high.__round__(4)
    0.1611
    """
    deviate = normal_quantile(confidence_level)
    _check_counts(events, n)
    found = score_interval(events, n, deviate) if n > 0 else NOT_ESTIMABLE
    return replace(found, confidence_level=confidence_level)


def score_interval(events: float, n: float, deviate: float) -> Interval:
    """Return a proportion with its score interval for a deviate of the normal, or of Student's, distribution.

    Source: as `wilson`.

    >>> round(score_interval(0, 20, 1.959964).high, 4)
    0.1611
    """
    proportion = events / n
    centre = events + deviate**2 / 2
    half_width = deviate * math.sqrt(max(events * (1 - proportion), 0.0) + deviate**2 / 4)
    low = 0.0 if events <= 0 else max((centre - half_width) / (n + deviate**2), 0.0)
    high = 1.0 if events >= n else min((centre + half_width) / (n + deviate**2), 1.0)
    return Interval(proportion, low, high)


def clopper_pearson(events: int, n: int, *, confidence_level: float = 0.95) -> Interval:
    """Return a proportion with its exact binomial interval, for setting beside published exact intervals.

    Never covers less often than it says, so that it is wider than the score interval. With `n = 0` nothing is
    estimable. ValueError as for `wilson`, and for counts that are not whole.

    Source: Clopper CJ, Pearson ES. Biometrika 1934;26:404-413.

    >>> exact = clopper_pearson(17, 122)
    >>> round(exact.low, 4), round(exact.high, 4)
    (0.0833, 0.2137)
    """
    tail = (1 - check_confidence_level(confidence_level)) / 2
    check_whole("events", events), check_whole("n", n)
    _check_counts(events, n)
    if not n > 0:
        return replace(NOT_ESTIMABLE, confidence_level=confidence_level)
    low = 0.0 if events == 0 else float(special.betaincinv(events, n - events + 1, tail))
    high = 1.0 if events == n else float(special.betaincinv(events + 1, n - events, 1 - tail))
    return Interval(events / n, low, high, confidence_level)


def _check_counts(events: float, n: float) -> None:
    check_finite("n", n, least=0)
    check_finite("events", events, least=0)
    if events > n * (1 + ROUNDING):
        raise ValueError(f"events is {events:g} and n is {n:g}: must be no more events than n")
