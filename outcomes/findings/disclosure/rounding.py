"""Numbers as precise as they are printed, so that no count can be worked back from further digits.

The limits of a share follow from what is printed beside it alone: its count, its lids, and how many second lids the cohort has.
With the real design effect the width of an interval would tell whether the two lids of one patient had the same result.
"""

from __future__ import annotations

import math
from math import inf

from outcomes.findings.results import Adjusted, Contrast
from outcomes.statistics.effective_shares import EffectiveShare, effective_share_difference
from outcomes.statistics.proportion import wilson
from outcomes.statistics.result import Interval

DECIMALS = 2
TENTHS = 1


def hundredths(number: float | None) -> float | None:
    """A number of two decimals."""
    return rounded(number, DECIMALS)


def rounded(number: float | None, decimals: int) -> float | None:
    """A number of so many decimals."""
    return None if number is None else round(number, decimals) + 0.0


def brief(number: float | None) -> float | None:
    """A mean or a spread of a characteristic: two decimals below 1, else one."""
    return None if number is None else rounded(number, DECIMALS if abs(number) < 1 else TENTHS)


def upwards(p: float | None) -> float | None:
    """A p value rounded up to hundredths: from all its digits, an exact one could be turned back into counts."""
    return None if p is None else min(1.0, max(1, math.ceil(round(100 * p, 6))) / 100)


def rounded_adjusted(adjusted: Adjusted | None, decimals: int = DECIMALS) -> Adjusted | None:
    """The adjusted difference of so many decimals, without effective lids and E-values."""
    if adjusted is None:
        return None
    estimate, low, high = (rounded(end, decimals) for end in (adjusted.estimate, adjusted.low, adjusted.high))
    return Adjusted(
        adjusted.kind, adjusted.method, estimate, low, high, upwards(adjusted.p), upwards(adjusted.p_corrected)
    )


def rounded_contrast(contrast: Contrast, decimals: int = DECIMALS) -> Contrast:
    """A crude difference of so many decimals, without the permutation of patients."""
    estimate, low, high = (rounded(end, decimals) for end in (contrast.estimate, contrast.low, contrast.high))
    return Contrast(contrast.kind, estimate, low, high, upwards(contrast.p), p_corrected=upwards(contrast.p_corrected))


def without_numbers(contrast: Contrast) -> Contrast:
    """The kind of a difference, and nothing of it."""
    return Contrast(contrast.kind, None, None, None)


def independent_lids(n: int, second_lids: int) -> float:
    """The lids that know as much if the lids of every pair are wholly alike (Kish L. Survey Sampling, 1965 [memory]).

    >>> independent_lids(20, 0), independent_lids(20, 5)
    (20.0, 13.333333333333334)
    """
    return n * n / (n + 2 * min(second_lids, n // 2)) if n else 0.0


def share_limits(share: float, n: int, second_lids: int, confidence_level: float) -> Interval:
    """The share with its score limits on as many independent lids."""
    size = independent_lids(n, second_lids)
    return wilson(share * size, size, confidence_level=confidence_level)


def share_contrast(
    contrast: Contrast, sides: tuple[tuple[float, int], tuple[float, int]], second: tuple[int, int], level: float
) -> Contrast:
    """The difference of two shares, each a share of n lids, on as many independent lids; None where there are no lids."""
    if not all(n for _, n in sides):
        return without_numbers(contrast)
    one, other = (
        EffectiveShare(share, independent_lids(n, pairs)) for (share, n), pairs in zip(sides, second, strict=True)
    )
    found = effective_share_difference(one, other, correlation=0.0, degrees_of_freedom=inf, confidence_level=level)
    return rounded_contrast(Contrast(contrast.kind, found.estimate, found.low, found.high, found.p))
