"""How much of the follow-up that there could have been was there?"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt


def clark_completeness(*, observed: npt.ArrayLike, potential: npt.ArrayLike) -> float:
    """Clark's completeness of follow-up: observed time over potential time, 0 to 1.

    `observed` and `potential` are one value a lid, in the same unit, 0 or more. Potential runs to the closing date,
    except for a lid whose follow-up the event or death ended: its potential is its observed time. Nan when there was no
    time to follow anybody.

    What surprises: it counts time, not people. Sixty of a hundred followed to the end may be 62 % or 93 % complete,
    by when the other forty were lost.

    Clark TG, Altman DG, De Stavola BL. Lancet 2002;359:1309-1310.

    >>> clark_completeness(observed=[12, 6, 3], potential=[12, 12, 3])
    0.7777777777777778
    """
    seen, possible = np.asarray(observed, dtype=np.float64), np.asarray(potential, dtype=np.float64)
    if seen.shape != possible.shape:
        raise ValueError(f"observed has {seen.size} values and potential has {possible.size}: one each a lid")
    if not ((seen >= 0) & (seen <= possible) & np.isfinite(possible)).all():
        raise ValueError("observed: every value must lie from 0 to the potential of the same lid")
    total = float(possible.sum())
    return float(seen.sum()) / total if total > 0 else math.nan
