"""Counts of lids, exact or as public output gives them."""

from __future__ import annotations

from outcomes.findings.small_count import SmallCount

Count = int | SmallCount


def exact(count: Count | None) -> int:
    """The count itself; TypeError where public output does not give it."""
    if not isinstance(count, int):
        raise TypeError(f"{count} is no exact count: public output cannot be counted on")
    return count
