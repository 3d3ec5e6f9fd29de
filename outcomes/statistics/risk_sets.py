"""The exact chance of how the events fell to two groups, given who was at risk when each came."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from outcomes.statistics.validation import check_finite

FloatArray = NDArray[np.float64]

# Counts that are equal but for rounding are as far away.
_HAIR = 1e-9
# A chance that adds nothing to a p value that anybody would print.
_NOTHING = 1e-60
# So many events are put together at once, whole rows of them.
_TOGETHER = 64


def shared_out(share: ArrayLike, of_second: float) -> float:
    """Return the two-sided exact chance that the second group has a number of events as far from expected.

    One entry an event: `share` is the part of those then at risk that belongs to the second group, from 0 to 1; each
    event falls to that group with this chance. `of_second` is how many did. 1 without events. It asks nothing about how
    long the groups were followed, unlike an exchange of the groups among the lids; lids of one patient count as two.
    ValueError for a share outside 0 to 1, and for more of the second group than there are events.

    Source: Thomas DG. Comput Biomed Res 1975;8:423-446 (from memory), with one event at a time.

    >>> round(shared_out([0.5, 0.4, 0.25], 3), 3), shared_out([], 0)
    (0.05, 1.0)
    """
    shares = check_finite("share", share, least=0, most=1)
    check_finite("of_second", of_second, least=0, most=shares.size)
    lowest, chance = _distribution(shares)
    away = np.abs(lowest + np.arange(chance.size) - shares.sum())
    return min(1.0, float(chance[away >= abs(of_second - shares.sum()) - _HAIR].sum()))


def _distribution(share: FloatArray) -> tuple[int, FloatArray]:
    """The chances of each number from the lowest on that is not all but impossible, joined two halves at a time."""
    rows = -(-max(share.size, 1) // _TOGETHER)
    each = np.zeros((rows, _TOGETHER))
    each.ravel()[: share.size] = share
    chances = np.zeros((rows, _TOGETHER + 1))
    chances[:, 0] = 1.0
    for column in each.T:
        fell = column[:, np.newaxis]
        chances[:, 1:] = chances[:, 1:] * (1 - fell) + chances[:, :-1] * fell
        chances[:, :1] *= 1 - fell
    parts = [_trimmed(0, row) for row in chances]
    while len(parts) > 1:
        odd = parts[-1:] if len(parts) % 2 else []
        pairs = zip(parts[::2], parts[1::2], strict=False)
        parts = [_trimmed(low + other, np.convolve(one, two)) for (low, one), (other, two) in pairs] + odd
    return parts[0]


def _trimmed(lowest: int, chance: FloatArray) -> tuple[int, FloatArray]:
    """Without the ends whose chance is next to nothing."""
    kept = np.flatnonzero(chance > _NOTHING)
    return lowest + int(kept[0]), chance[kept[0] : kept[-1] + 1]
