"""How could the covers have been shared out among the same patients?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Arrangements:
    """Which lids are in the second group (columns) in each arrangement (rows); the observed one is among them if exact.

    `count` is how many arrangements there are; `exact` says that all of them are here, each once. Otherwise the rows
    are a fair draw from them.
    """

    labels: BoolArray
    exact: bool
    count: int


def cover_arrangements(
    second: npt.ArrayLike, patient: npt.ArrayLike, *, limit: int = 20_000, draws: int = 9_999, seed: int = 1935
) -> Arrangements:
    """Every way to share the covers out among whole patients, or a draw of them where there are more than `limit`.

    One entry a lid: `second` whether it belongs to the second group, `patient` any label. Patients whose lids all have
    one cover exchange covers with each other, so that each group keeps its number of such patients; a patient with both
    covers exchanges them between the lids.

    Good P. Permutation Tests, 2nd ed. 2000 (from memory).

    >>> cover_arrangements([0, 0, 1], ["a", "b", "c"]).labels.astype(int).tolist()
    [[1, 0, 0], [0, 1, 0], [0, 0, 1]]
    """
    in_second = np.asarray(second, dtype=np.bool_)
    _, who = np.unique(np.asarray(patient), return_inverse=True)
    lids, later = np.bincount(who), np.bincount(who, in_second)
    whole = np.flatnonzero((later == 0) | (later == lids))
    split = np.flatnonzero((later > 0) & (later < lids))
    chosen = int((later[whole] > 0).sum())
    count = math.comb(whole.size, chosen) * 2**split.size
    if count <= limit:
        choices, swaps = _every_choice(whole.size, chosen), _every_swap(split.size)
        choices, swaps = np.repeat(choices, len(swaps), axis=0), np.tile(swaps, (len(choices), 1))
    else:
        generator = np.random.default_rng(seed)
        choices = generator.random((draws, whole.size)).argsort(axis=1) < chosen
        swaps = generator.random((draws, split.size)) < 0.5
    turned = np.zeros((len(choices), lids.size), dtype=np.bool_)
    turned[:, whole] = choices ^ (later[whole] > 0)
    turned[:, split] = swaps
    return Arrangements(in_second ^ turned[:, who], count <= limit, count)


def _every_choice(size: int, chosen: int) -> BoolArray:
    places = np.array(list(combinations(range(size), chosen)), dtype=np.intp)
    choices = np.zeros((len(places), size), dtype=np.bool_)
    np.put_along_axis(choices, places, values=True, axis=1)
    return choices


def _every_swap(size: int) -> BoolArray:
    return np.asarray((np.arange(2**size)[:, None] >> np.arange(size)) % 2 == 1)
