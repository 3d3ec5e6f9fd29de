"""Which counts of lids agree with a sum of grades or steps: whether a printed mean would give a small count away."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

HAIR = 1e-9


@dataclass(frozen=True)
class Scale:
    """The steps that values are made of: the size of one, and the least and the greatest number of them."""

    step: float
    least: int
    most: int


def mean_singles_out(counts: Sequence[tuple[float, int]], scale: Scale, *, decimals: int, threshold: int) -> bool:
    """Tell whether the printed mean leaves one value only for a count that is known to be under the threshold.

    `counts` are the lids that had each value. The counts at risk are the lids at or above each value, and those below it.
    """
    n = sum(lids for _, lids in counts)
    sums = possible_sums(counts, scale, decimals=decimals)
    for value, _ in counts:
        above = sum(lids for other, lids in counts if other >= value)
        low, high = lids_at_or_above(round(value / scale.step), n, sums=sums, scale=scale)
        if 0 < above < threshold and max(low, 1) == min(high, threshold - 1):
            return True
        if 0 < n - above < threshold and max(n - high, 1) == min(n - low, threshold - 1):
            return True
    return False


def possible_sums(counts: Sequence[tuple[float, int]], scale: Scale, *, decimals: int) -> tuple[int, int]:
    """The least and the greatest sum, in steps, that agree with the mean as it is printed."""
    n = sum(lids for _, lids in counts)
    printed = round(sum(value * lids for value, lids in counts) / n, decimals)
    half = 0.5 * 10**-decimals
    ends = (printed - half) * n / scale.step, (printed + half) * n / scale.step
    return math.ceil(ends[0] - HAIR), math.floor(ends[1] + HAIR)


def lids_at_or_above(cut: int, n: int, *, sums: tuple[int, int], scale: Scale) -> tuple[int, int]:
    """The least and the greatest number of n lids whose value, in steps, is the cut or more, given the sum of all values.

    >>> lids_at_or_above(1, 53, sums=(3, 3), scale=Scale(1, 0, 3))
    (1, 3)
    """
    least = math.ceil((sums[0] - n * (cut - 1)) / (scale.most - cut + 1))
    most = math.floor((sums[1] - n * scale.least) / (cut - scale.least)) if cut > scale.least else n
    return max(0, least), min(n, most)
