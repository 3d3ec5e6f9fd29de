"""Clark's completeness of follow-up."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from outcomes.statistics.validation import check_finite, check_lengths


def clark_completeness(*, observed: npt.ArrayLike, potential: npt.ArrayLike) -> float:
    """Clark's completeness of follow-up: observed time over potential time, 0 to 1.

    `observed` and `potential` are one value a lid, in the same unit, 0 or more. Potential runs to the closing date,
    except for a lid whose follow-up the event or death ended: its potential is its observed time. Nan when there was no
    time to follow anybody. ValueError for a time that is negative or missing, an observed one beyond the potential one, or
    columns of unequal length.

    What surprises: it counts time, not people. Sixty of a hundred followed to the end may be 62 % or 93 % complete,
    by when the other forty were lost.

    Clark TG, Altman DG, De Stavola BL. Lancet 2002;359:1309-1310.

    >>> clark_completeness(observed=[12, 6, 3], potential=[12, 12, 3])
    0.7777777777777778
    """
    check_lengths(observed=observed, potential=potential)
    seen, possible = check_finite("observed", observed, least=0), check_finite("potential", potential, least=0)
    beyond = np.flatnonzero(seen > possible)
    if beyond.size:
        row = int(beyond[0])
        raise ValueError(
            f"observed[{row}] is {seen[row]:g}: must lie from 0 to the potential of the same lid, {possible[row]:g}"
        )
    total = float(possible.sum())
    return float(seen.sum()) / total if total > 0 else math.nan
