"""How sure can a proportion be when it rests on a number of lids that is not a whole number?"""

from __future__ import annotations

import math

from scipy.special import ndtri

from outcomes.statistics.result import Interval


def wilson_limits(proportion: float, number: float, *, confidence_level: float) -> tuple[float, float]:
    """Wilson's score limits of a proportion that rests on an effective number.

    `proportion` is 0 to 1 and `number` is how many independent lids would be as informative: it need not be whole, as it
    has been lowered for those lost, for reviews that saw the event only between two dates, or for patients with two lids.
    None of 0 events gives an upper limit above 0, as 0 of 18 is not certainty. Either argument nan, or a number of 0:
    nothing is known and both limits are nan.

    Wilson EB. J Am Stat Assoc 1927;22:209-212, as formula 3 of Newcombe RG. Stat Med 1998;17:857-872.

    >>> low, high = wilson_limits(0.0, 18, confidence_level=0.95)
    >>> round(low, 4), round(high, 4)
    (0.0, 0.1759)
    """
    if not number > 0 or math.isnan(proportion):
        return math.nan, math.nan
    z = normal_quantile(confidence_level)
    centre = (proportion + z**2 / (2 * number)) / (1 + z**2 / number)
    half = z / (1 + z**2 / number) * math.sqrt(proportion * (1 - proportion) / number + z**2 / (4 * number**2))
    low = 0.0 if proportion <= 0 else max(centre - half, 0.0)
    high = 1.0 if proportion >= 1 else min(centre + half, 1.0)
    return low, high


def square_and_add(first: Interval, second: Interval, *, correlation: float = 0.0) -> Interval:
    """The interval of second minus first, from the two single intervals.

    Each limit goes as far from the difference as the two single limits do, squared and added; it keeps its cover where a
    standard error is 0 because nothing happened. `correlation` (-1 to 1) is that of the two estimates: 0 unless some
    patients have a lid in each. Anything not estimable makes the whole interval nan.

    Newcombe RG. Stat Med 1998;17:873-890, method 10; with a correlation, Zou GY, Donner A. Stat Med 2008;27:1693-1702.

    >>> difference = square_and_add(Interval(0.0, 0.0, 0.2), Interval(0.5, 0.3, 0.7))
    >>> round(difference.low, 4), round(difference.high, 4)
    (0.2172, 0.7)
    """
    estimate = second.estimate - first.estimate
    below = _distance(second.estimate - second.low, first.high - first.estimate, correlation)
    above = _distance(second.high - second.estimate, first.estimate - first.low, correlation)
    return Interval(estimate, estimate - below, estimate + above)


def normal_quantile(confidence_level: float) -> float:
    """The standard normal deviate of a two-sided level, 1.96 for 0.95."""
    if not 0 < confidence_level < 1:
        raise ValueError(f"confidence_level {confidence_level!r}: must lie between 0 and 1, such as 0.95")
    return float(ndtri((1 + confidence_level) / 2))


def _distance(one: float, other: float, correlation: float) -> float:
    return math.sqrt(max(one**2 + other**2 - 2 * correlation * one * other, 0.0))
