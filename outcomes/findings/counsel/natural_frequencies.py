"""Shares as natural frequencies: whole people of 100.

The share is rounded by itself, so that a share that is not smaller never gives fewer people; what remains is shared among
the others. What happened to somebody is never rounded to
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
    """Convert a share and its interval to people of 100; `competed` is the share to whom it could no longer happen.

    >>> of_hundred(0.005, 0.0, 0.02).had, of_hundred(0.425, 0.3, 0.5, competed=0.575).competed
    (1, 57)
    """
    had = min(max(_nearest(share), 1 if share > 0 else 0), WHOLE - 1 if share < 1 else WHOLE)
    least = min(had, math.floor(WHOLE * low + HAIR))
    most = max(had, math.ceil(WHOLE * high - HAIR))
    return OfHundred(had, WHOLE - had, least, most, min(_nearest(competed), WHOLE - had))


def _nearest(share: float) -> int:
    return math.floor(WHOLE * share + 0.5 + HAIR)


def of_hundred_counted(count: int, of: int) -> OfHundred:
    """Convert a published count to whole people of 100, with its exact interval."""
    exact = clopper_pearson(count, of)
    return of_hundred(exact.estimate, exact.low, exact.high)
