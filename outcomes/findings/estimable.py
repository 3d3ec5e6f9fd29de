"""Conversion of numbers that are not estimable (nan, infinite) to None."""

from __future__ import annotations

import math


def estimable(number: float) -> float | None:
    """The number, or None where it is not estimable: statistics say nan or infinity, results say None."""
    return float(number) if math.isfinite(number) else None


def excludes_none(low: float | None, high: float | None) -> bool:
    """Tell whether an interval for a difference leaves out no difference; an interval that cannot be said leaves out nothing."""
    return low is not None and high is not None and (low > 0 or high < 0)
