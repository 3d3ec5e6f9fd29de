"""Shares as natural frequencies: whole people of 100.

Rounding is by the largest remainder, so that the parts add up to 100. What happened to somebody is never rounded to
nobody, nor to everybody what did not happen to somebody. The ends of a range are rounded outwards, so that it never claims
more than the interval does.
"""

from __future__ import annotations

import math

from outcomes.findings.counsel.results import OfHundred
from outcomes.statistics.proportion import clopper_pearson

WHOLE = 100
HAIR = 1e-9


def of_hundred(share: float, low: float, high: float, *, competed: float = 0.0) -> OfHundred:
    """Convert a share and its interval to people of 100; `competed` is the share to whom it could no longer happen."""
    had, no_longer, _ = whole_parts((share, competed, max(0.0, 1 - share - competed)))
    had = min(max(had, 1 if share > 0 else 0), WHOLE - 1 if share < 1 else WHOLE)
    least = min(had, math.floor(WHOLE * low + HAIR))
    most = max(had, math.ceil(WHOLE * high - HAIR))
    return OfHundred(had, WHOLE - had, least, most, WHOLE - most, WHOLE - least, min(no_longer, WHOLE - had))


def whole_parts(shares: tuple[float, ...]) -> tuple[int, ...]:
    """Whole numbers that add up to 100, none further than one from its share; ties go to the earlier share.

    >>> whole_parts((0.125, 0.125, 0.75))
    (13, 12, 75)
    """
    exact = [WHOLE * share for share in shares]
    parts = [math.floor(each + HAIR) for each in exact]
    left = WHOLE - sum(parts)
    by_remainder = sorted(range(len(parts)), key=lambda place: (-round(exact[place] - parts[place], 9), place))
    for place in by_remainder[:left]:
        parts[place] += 1
    return tuple(parts)


def of_hundred_counted(count: int, of: int) -> OfHundred:
    """Convert a published count to whole people of 100, with its exact interval."""
    exact = clopper_pearson(count, of)
    return of_hundred(exact.estimate, exact.low, exact.high)
