"""The ways in which the covers could have been shared out among the same patients: all of them, or a fair draw."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt
from scipy import special

from outcomes.statistics.validation import check_labels, check_lengths, check_whole, check_yes_no, numbered

BoolArray = npt.NDArray[np.bool_]
Places = npt.NDArray[np.intp]

DRAWS = 9_999
FEWER_DRAWS = 999
# So many lids get the fewer draws: their p value is then known to 1 in 1,000, and the standard error says how well.
MANY_LIDS = 100_000
# Labels held in memory at once.
AT_ONCE = 2**26
# Groups of eight patients whose sums are worked out at once.
LOOKED_UP = 4_096


@dataclass(frozen=True)
class Arrangements:
    """Which lids are in the second group in each arrangement; the observed one is among them if `exact`.

    `count` is how many arrangements there are, infinite where no float can hold it; `exact` says that all of them are
    here, each once. Otherwise `number` of them are drawn fairly, with a fixed seed.
    """

    count: float
    exact: bool
    number: int
    second: BoolArray
    patient: Places
    chosen: int
    seed: int

    @property
    def labels(self) -> BoolArray:
        """All of them at once: arrangements (rows) by lids (columns)."""
        return np.concatenate([batch.T for batch in self.batches()])

    def batches(self, *, at_once: int = AT_ONCE) -> Iterator[BoolArray]:
        """All of them a part at a time, of about so many labels: lids (rows) by arrangements (columns)."""
        lids, later = np.bincount(self.patient), np.bincount(self.patient, self.second)
        split = (later > 0) & (later < lids)
        place = np.where(split, np.cumsum(split), np.cumsum(~split)) - 1
        row, in_split = place[self.patient], split[self.patient]
        exchanged = np.flatnonzero(in_split)
        row[exchanged] = 0  # whatever it is, it is written over
        for choices, swaps in self._moves(int((~split).sum()), int(split.sum()), at_once):
            labels = choices[row] if len(choices) else np.empty((row.size, choices.shape[1]), dtype=np.bool_)
            labels[exchanged] = swaps[place[self.patient[exchanged]]] ^ self.second[exchanged, np.newaxis]
            yield labels

    def _moves(self, whole: int, split: int, at_once: int) -> Iterator[tuple[BoolArray, BoolArray]]:
        """Which patients with one cover are chosen for the second group, and which with both are swapped."""
        if self.exact:
            choices, swaps = _every_choice(whole, self.chosen), _every_swap(split)
            yield np.repeat(choices, swaps.shape[1], axis=1), np.tile(swaps, choices.shape[1])
            return
        generator, batch = np.random.default_rng(self.seed), max(1, at_once // max(1, whole + split))
        for begin in range(0, self.number, batch):
            draws = min(batch, self.number - begin)
            drawn = (
                np.unpackbits(draw_packed(generator, size, chosen, draws), axis=0, count=size, bitorder="little")
                for size, chosen in ((whole, self.chosen), (split, None))
            )
            choices, swaps = (bits.view(np.bool_) for bits in drawn)
            yield choices, swaps


def cover_arrangements(
    second: npt.ArrayLike, patient: npt.ArrayLike, *, limit: int = 20_000, draws: int | None = None, seed: int = 1935
) -> Arrangements:
    """Every way to share the covers out among whole patients, or a draw of them where there are more than `limit`.

    One entry a lid: `second` whether it belongs to the second group, `patient` any label. Patients whose lids all have
    one cover exchange covers with each other, so that each group keeps its number of such patients; a patient with both
    covers exchanges them between the lids. `draws` are 9,999, and 999 with more than 100,000 lids. ValueError for a
    `second` other than false and true, a missing patient, or columns of unequal length.

    Good P. Permutation Tests, 2nd ed. 2000 (from memory).

    >>> cover_arrangements([0, 0, 1], ["a", "b", "c"]).labels.astype(int).tolist()
    [[1, 0, 0], [0, 1, 0], [0, 0, 1]]
    """
    check_lengths(second=second, patient=patient)
    in_second = check_yes_no("second", second)
    who = numbered(check_labels("patient", patient, in_second.size))
    lids, later = np.bincount(who), np.bincount(who, in_second)
    split = (later > 0) & (later < lids)
    chosen, swapped = int((later[~split] > 0).sum()), int(split.sum())
    count = count_arrangements(int((~split).sum()), chosen, swapped)
    exact = count <= limit
    fixed = usual_draws(in_second.size) if draws is None else int(check_whole("draws", draws, least=1))
    return Arrangements(count, exact, int(count) if exact else fixed, in_second, who, chosen, seed)


def count_arrangements(whole: int, chosen: int, split: int) -> float:
    """How many ways there are to choose some of the whole patients and to swap any of the split ones.

    A whole number as long as a float holds it exactly, then a float, and infinity beyond what a float can hold.

    >>> count_arrangements(6, 3, 1), count_arrangements(20_000, 10_000, 0)
    (40, inf)
    """
    logarithm = split * math.log(2) - math.log(whole + 1) - float(special.betaln(whole - chosen + 1, chosen + 1))
    if logarithm < 36:
        return int(math.comb(whole, chosen) << split)
    return math.exp(logarithm) if logarithm < 709 else math.inf


def usual_draws(lids: int) -> int:
    """How many arrangements are drawn where there are too many to count."""
    return DRAWS if lids <= MANY_LIDS else FEWER_DRAWS


def draw_packed(generator: np.random.Generator, size: int, chosen: int | None, draws: int) -> npt.NDArray[np.uint8]:
    """Draw `chosen` of `size` again and again, all choices alike; without `chosen`, each with a chance of one half.

    One row holds eight of them, the first in the lowest bit; one column a draw. Each is first chosen on its own, with a
    chance a little below the right one. Whatever number of them that gives, all choices of that number are alike; so some
    more are then chosen, or given back, one at a time, until it is right.
    """
    share = 0.5 if chosen is None else min(chosen, size - chosen) / max(size, 1)
    picked = _bernoulli(generator, share, (-(-size // 8), draws))
    if size % 8:
        picked[-1] &= 2 ** (size % 8) - 1
    if chosen is None:
        return picked
    _settle(generator, picked, size, min(chosen, size - chosen))
    if 2 * chosen > size:
        np.invert(picked, out=picked)
        picked[-1] &= 2 ** (size % 8 or 8) - 1
    return picked


def sums_of_drawn(
    generator: np.random.Generator, adds: npt.NDArray[np.int64], chosen: int | None, draws: int
) -> npt.NDArray[np.int64]:
    """Give the sums of the two columns of `adds`, draw by draw (rows), over the rows that `draw_packed` draws; whole numbers.

    A byte of the draw says which of eight rows are in; the sum of each of the 256 choices is worked out beforehand.

    >>> sums_of_drawn(np.random.default_rng(1), np.array([[1, 5], [1, 5], [1, 5]]), 2, 2)
    array([[ 2, 10],
           [ 2, 10]])
    """
    low = adds.min(axis=0)
    above = adds - low
    radix = int(above[:, 0].sum()) + 1
    codes = np.zeros(-(-len(adds) // 8) * 8, dtype=np.int64)
    codes[: len(adds)] = above @ np.array([1, radix])
    groups, choices = codes.reshape(-1, 8), (np.arange(256) >> np.arange(8)[:, np.newaxis]) & 1
    added, number = np.zeros((2, draws), dtype=np.int64)
    batch = max(1, AT_ONCE // len(groups))
    for begin in range(0, draws, batch):
        part = slice(begin, min(draws, begin + batch))
        drawn = draw_packed(generator, len(adds), chosen, part.stop - begin)
        for first in range(0, len(groups), LOOKED_UP):
            tables = groups[first : first + LOOKED_UP] @ choices
            for table, byte in zip(tables, drawn[first : first + LOOKED_UP], strict=True):
                added[part] += table[byte]
        number[part] = np.add.reduce(np.bitwise_count(drawn), axis=0, dtype=np.int64)
    sums: npt.NDArray[np.int64] = np.stack([added % radix, added // radix], axis=1) + number[:, np.newaxis] * low
    return sums


def _bernoulli(generator: np.random.Generator, share: float, shape: tuple[int, int]) -> npt.NDArray[np.uint8]:
    """Bits that are 1 with a chance next below `share`: its binary digits, the last first, join random bits by or / and."""
    digits = math.ceil(math.log2(8 * shape[0] + 2) / 2) + 1
    wanted, picked = math.floor(share * 2**digits), np.zeros(shape, dtype=np.uint8)
    for digit in range(digits):
        if wanted >> digit & 1:
            picked |= _random_bytes(generator, shape)
        elif wanted & (2**digit - 1):
            picked &= _random_bytes(generator, shape)
    return picked


def _random_bytes(generator: np.random.Generator, shape: tuple[int, int]) -> npt.NDArray[np.uint8]:
    size = math.prod(shape)
    words = generator.integers(0, 2**64, -(-size // 8), dtype=np.uint64)
    return words.view(np.uint8)[:size].reshape(shape)


def _settle(generator: np.random.Generator, picked: npt.NDArray[np.uint8], size: int, chosen: int) -> None:
    """Choose more, or give some back, at random, until each column holds `chosen`."""
    lacking = chosen - np.add.reduce(np.bitwise_count(picked), axis=0, dtype=np.int64)
    active = np.flatnonzero(lacking)
    while active.size:
        place, wanted = generator.integers(0, size, active.size), lacking[active] > 0
        bit = (1 << (place & 7)).astype(np.uint8)
        turns = ((picked[place >> 3, active] & bit) > 0) != wanted
        where = active[turns]
        picked[place[turns] >> 3, where] ^= bit[turns]
        lacking[where] -= np.where(wanted[turns], 1, -1)
        active = active[lacking[active] != 0]


def _every_choice(size: int, chosen: int) -> BoolArray:
    places = np.array(list(combinations(range(size), chosen)), dtype=np.intp)
    choices = np.zeros((size, len(places)), dtype=np.bool_)
    np.put_along_axis(choices, places.T, values=True, axis=0)
    return choices


def _every_swap(size: int) -> BoolArray:
    return np.asarray((np.arange(2**size) >> np.arange(size)[:, np.newaxis]) % 2 == 1)
