"""How small must a p value be when it is one of many?"""

from __future__ import annotations

import math
from collections.abc import Sequence


def holm(p_values: Sequence[float | None]) -> list[float]:
    """Return the p values adjusted so that the chance of any false finding among them is kept, in the order given.

    Values lie from 0 to 1. None and nan (a test that could not be done) stay nan and do not count towards the number
    of tests. Equal p values stay equal.

    Source: Holm S. Scand J Stat 1979;6:65-70.

    >>> holm([0.01, 0.04, None, 0.03])
    [0.03, 0.06, nan, 0.06]
    """
    tested = [(p, place) for place, p in enumerate(p_values) if p is not None and not math.isnan(p)]
    adjusted = [math.nan] * len(p_values)
    running = 0.0
    for rank, (p, place) in enumerate(sorted(tested)):
        running = max(running, min(1.0, (len(tested) - rank) * p))
        adjusted[place] = running
    return adjusted
