"""Given who was at risk when each event came, how often does chance share the events out as unevenly?"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

# Counts that are equal but for rounding are as far away.
_HAIR = 1e-9


def shared_out(share: ArrayLike, of_second: float) -> float:
    """Return the two-sided exact chance that the second group has a number of events as far from expected.

    One entry an event: `share` is the part of those then at risk that belongs to the second group, from 0 to 1; each
    event falls to that group with this chance. `of_second` is how many did. 1 without events. It asks nothing about how
    long the groups were followed, unlike an exchange of the groups among the lids; lids of one patient count as two.

    Source: Thomas DG. Comput Biomed Res 1975;8:423-446 (from memory), with one event at a time.

    >>> round(shared_out([0.5, 0.4, 0.25], 3), 3), shared_out([], 0)
    (0.05, 1.0)
    """
    shares = np.asarray(share, dtype=np.float64)
    chance = np.ones(1)
    for each in shares:
        chance = np.convolve(chance, [1 - each, each])
    away = np.abs(np.arange(chance.size) - shares.sum())
    return min(1.0, float(chance[away >= abs(of_second - shares.sum()) - _HAIR].sum()))
