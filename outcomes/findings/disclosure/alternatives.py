"""Search for other values than the true ones that print alike, so that no small count of them can be worked back.

From a mean and its lids the sum is known, from a share the poor results, from an interval the spread: together they may leave
one way only. An alternative moves two lids of a cohort towards each other or apart, so that lids and sum stay as they are.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from outcomes.findings.arrays import Flags, Numbers
from outcomes.findings.disclosure.counts import public_events, safe_middle, safe_part, safe_quartiles
from outcomes.findings.outcomes import is_poor
from outcomes.findings.results import Contrast
from outcomes.protocol import Threshold

Counts = NDArray[np.int64]
FARTHEST = 4


@dataclass(frozen=True)
class Scale:
    """What a measure's values can be, which of them are poor where that is told, and the count that points at nobody."""

    least: float
    most: float
    step: float
    poor: Threshold | None
    threshold: int


@dataclass(frozen=True, eq=False)
class Alternatives:
    """The alternatives to one cohort's values: a row each.

    A column of `differs` is a small count of lids at or under a value, or of a value: whether it is another one there. `squared`
    is the squared standard error of the mean, first of the true values.
    """

    differs: Flags
    squared: Numbers

    @property
    def has_small(self) -> bool:
        """Whether there is any small count."""
        return bool(self.differs.shape[1])

    def leave_open(self, alike: Flags) -> bool:
        """Whether every small count is another one in some alternative of those that are alike."""
        return bool(self.differs[alike].any(axis=0).all())


def alternatives(counts: tuple[tuple[float, int], ...], scale: Scale) -> Alternatives:
    """The alternatives to one cohort's values, the lids of each, that print the same quartiles and the same poor lids."""
    values = np.array([value for value, lids in sorted(counts) for _ in range(lids)], dtype=np.float64)
    series = np.array([values, *_moved(values, scale)])
    series = series[_alike(series, scale)]
    small = _counted(series, scale)
    small = small[:, [not safe_part(int(each), values.size, scale.threshold) for each in small[0]]]
    squared = series.var(axis=1, ddof=1) / values.size if values.size > 1 else np.zeros(len(series))
    return Alternatives(small != small[0], squared)


def _moved(values: Numbers, scale: Scale) -> Iterator[Numbers]:
    """Every series in which one lid is so many steps higher and another one as many lower, in order."""
    first = np.unique(values, return_index=True)[1]
    lids = np.unique([*first, *(first[1:] - 1), values.size - 1])
    for up in lids:
        for down in lids:
            for steps in range(1, FARTHEST + 1 if up != down else 1):
                moved = values.copy()
                moved[up] += steps * scale.step
                moved[down] -= steps * scale.step
                if moved[up] <= scale.most and moved[down] >= scale.least:
                    yield np.sort(moved)


def _alike(series: Numbers, scale: Scale) -> Flags:
    """Which series have the printed middle value, quartiles and poor lids of the first."""
    n = series.shape[1]
    shares = (
        *((0.5,) if safe_middle(n, scale.threshold) else ()),
        *((0.25, 0.75) if safe_quartiles(n, scale.threshold) else ()),
    )
    places = [place(share * (n - 1)) for share in shares for place in (math.floor, math.ceil)]
    alike: Flags = np.asarray(np.isclose(series[:, places], series[0, places]).all(axis=1))
    if scale.poor is None:
        return alike
    poor = is_poor(series.ravel(), scale.poor).reshape(series.shape).sum(axis=1)
    printed = [public_events(int(each), n, scale.threshold) for each in poor]
    return np.logical_and(alike, [each == printed[0] for each in printed])


def _counted(series: Numbers, scale: Scale) -> Counts:
    """The lids of each value of the scale, then those at or under it."""
    size = round((scale.most - scale.least) / scale.step) + 1
    steps = np.rint((series - scale.least) / scale.step).astype(np.int64) + size * np.arange(len(series))[:, None]
    of_value = np.bincount(steps.ravel(), minlength=size * len(series)).reshape(len(series), size)
    return np.concatenate([of_value, of_value.cumsum(axis=1)], axis=1)


def leave_open(sides: tuple[Alternatives, Alternatives], interval: Contrast | None, decimals: int) -> bool:
    """Whether no small count of either side can be worked back, from the interval of the difference of means too if it is printed."""
    one, other = sides
    if interval is None or interval.estimate is None or interval.low is None or interval.high is None:
        return all(each.leave_open(np.ones(len(each.squared), dtype=np.bool_)) for each in sides)
    ratio = np.sqrt((one.squared[:, None] + other.squared) / ((one.squared[0] + other.squared[0]) or 1.0))
    alike = np.ones(ratio.shape, dtype=np.bool_)
    for end in (interval.low, interval.high):
        printed = interval.estimate + (end - interval.estimate) * ratio
        alike &= np.round(printed, decimals) == round(end, decimals)
    return all(each.leave_open(np.asarray(alike.any(axis=axis))) for each, axis in ((one, 1), (other, 0)))
