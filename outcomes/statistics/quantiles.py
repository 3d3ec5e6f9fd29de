"""The median and the quartiles."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from outcomes.statistics.validation import check_finite


def quartiles(value: ArrayLike) -> tuple[float, float, float]:
    """Return the lower quartile, the median and the upper quartile, in the unit of the values.

    Quartiles have nine definitions that differ in small samples; this is the seventh, the common default: the value
    at rank `1 + (n - 1) p`, interpolated between neighbours. So a quartile of whole and half millimetres may lie
    between them. No values give nan three times. ValueError for a value that is
    missing or infinite.

    Source: definition 7 of Hyndman RJ, Fan Y. Am Stat 1996;50:361-365.

    >>> quartiles([0.0, 0.5, 0.5, 2.0])
    (0.375, 0.5, 0.875)
    """
    values = check_finite("value", value)
    if values.size == 0:
        return math.nan, math.nan, math.nan
    lower, median, upper = np.quantile(values, (0.25, 0.5, 0.75), method="linear")
    return float(lower), float(median), float(upper)
