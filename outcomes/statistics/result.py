"""What does every estimate look like?"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Interval:
    """An estimate with its confidence limits, in the unit of whatever was estimated.

    A part that cannot be estimated is `math.nan`; an end without a bound is infinite. The limits need not lie at the
    same distance from the estimate, and an estimate may sit on one of them (0 of 20 has its lower limit at 0).

    >>> Interval(estimate=0.1, low=0.03, high=0.3).high
    0.3
    """

    estimate: float
    low: float
    high: float
