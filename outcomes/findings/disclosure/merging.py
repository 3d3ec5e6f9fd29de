"""Merge values and levels that fewer than k lids of a cohort have, so that no count of a column is under k."""

from __future__ import annotations

from collections import Counter

import polars as pl

from outcomes.protocol import COHORTS

OTHER = "other"


def merged_column(frame: pl.DataFrame, name: str, k: int) -> pl.Series:
    """A column in which no value is had by fewer than k lids of a cohort."""
    shown: list[object] = [None] * frame.height
    for cohort in COHORTS:
        at = [number for number, each in enumerate(frame.get_column("cohort")) if each == cohort]
        values = frame.get_column(name).gather(at).to_list()
        replaced = merged_levels(values, k) if frame.schema[name] == pl.String else merged_values(values, k)
        for number, value in zip(at, values, strict=True):
            shown[number] = replaced.get(value)
    return pl.Series(name, shown, dtype=frame.schema[name])


def merged_values(values: list[float | None], k: int) -> dict[float | None, float]:
    """The value that stands for each: neighbours are merged until k lids have them; empty where there are fewer in all.

    >>> merged_values([0, 0, 0, 1, 2, 2, None], k=3)
    {0: 0, 1: 2, 2: 2}
    """
    counts = Counter(value for value in values if value is not None)
    groups: list[list[float]] = [[]]
    for value in sorted(counts):
        if sum(counts[each] for each in groups[-1]) >= k:
            groups.append([])
        groups[-1].append(value)
    if len(groups) > 1 and sum(counts[each] for each in groups[-1]) < k:
        last = groups.pop()
        groups[-1].extend(last)
    if sum(counts.values()) < k:
        return {}
    return {value: _middle(group, counts) for group in groups for value in group}


def _middle(group: list[float], counts: Counter[float]) -> float:
    """The lower middle one of the lids of a group: always a value that was measured."""
    lids = sorted(value for value in group for _ in range(counts[value]))
    return lids[(len(lids) - 1) // 2]


def merged_levels(values: list[str | None], k: int) -> dict[str | None, str | None]:
    """The level that stands for each: those of fewer than k lids are merged into other, or blank where these are too few."""
    counts = Counter(value for value in values if value is not None)
    rare = [level for level, number in counts.items() if number < k]
    other = OTHER if sum(counts[level] for level in rare) >= k else None
    return {level: other if level in rare else level for level in counts}
