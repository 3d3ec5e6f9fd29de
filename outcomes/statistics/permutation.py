"""How often would chance, sharing out the covers among the same patients, make a difference as large?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

Whole = NDArray[np.int64]
Numbers = NDArray[np.float64]
DRAWS = 9_999
GRAIN = 1_000_000
DENOMINATORS = (1, 2, 3, 4, 6, 10, 12, 20, 60, 100, 1000)


@dataclass(frozen=True)
class PermutationTest:
    """The difference of means observed, and the share of arrangements at least as far from none, in either direction.

    `exact` says that every arrangement was counted; otherwise `monte_carlo_error` is the standard error that the p
    value has from drawing some of them. `arrangements` is how many there are.
    """

    statistic: float
    p: float
    exact: bool
    arrangements: int
    monte_carlo_error: float


@dataclass(frozen=True)
class _Kinds:
    """Patients alike in all that counts: how many, and what each adds to the (lids, score) of the second group."""

    count: Whole
    adds: Whole


@dataclass(frozen=True)
class _Register:
    """The patients as the test sees them: scores are whole numbers, `lids` and `score` are totals over both groups.

    `whole` patients have one cover, and `chosen` of them go to the second group; `split` patients have both, `kept`
    is what they add to the second group all unswapped, and the kinds say what a swap adds to that.
    """

    whole: _Kinds
    chosen: int
    split: _Kinds
    kept: Whole
    lids: int
    score: int

    def reached(self, sums: Whole, observed: Whole) -> NDArray[np.bool_]:
        """Which sums (lids, score) of the second group lie at least as far from no difference as the observed ones."""
        gap, scale = self._gap(sums)
        observed_gap, observed_scale = self._gap(observed[np.newaxis])
        possible = scale > 0
        return possible & (np.abs(gap) * observed_scale >= np.abs(observed_gap) * scale)

    def _gap(self, sums: Whole) -> tuple[Whole, Whole]:
        """The difference of means as numerator and denominator, so that ties are exact."""
        lids, score = sums[:, 0], sums[:, 1]
        return score * self.lids - self.score * lids, lids * (self.lids - lids)


def permute_patients(
    score: ArrayLike, second: ArrayLike, patient: ArrayLike, *, limit: int = 20_000, seed: int = 1935
) -> PermutationTest:
    """Return the two-sided permutation test of the mean score of the second group minus that of the first.

    One entry a lid: `score` a number (0 or 1, a rank, a value), `second` whether it belongs to the second group,
    `patient` any label. Patients move, never single lids: those whose lids all have one cover exchange covers with
    each other, each group keeping its number of patients; a patient with both covers exchanges them between her own
    lids. Arrangements that tie with the observed one count as reached, exactly: scores are compared as whole numbers
    of some unit (at worst a millionth of their range).

    Arrangements with the same sums are counted together, so that yes-or-no scores are exact at any size of register.
    Above `limit` different sums, 9,999 arrangements are drawn with `seed`, and the observed one is counted among
    them. With an empty group nothing is estimable.

    Source: Good P. Permutation Tests, 2nd ed. 2000 (from memory); the drawn p value is that of Phipson B, Smyth GK.
    Stat Appl Genet Mol Biol 2010;9:39 (from memory).

    >>> permute_patients([1, 1, 1, 0, 0, 0], [1, 1, 1, 0, 0, 0], [1, 2, 3, 4, 5, 6])
    PermutationTest(statistic=1.0, p=0.1, exact=True, arrangements=20, monte_carlo_error=0.0)
    """
    scores, later = np.asarray(score, dtype=float), np.asarray(second, dtype=bool)
    if later.all() or not later.any():
        return PermutationTest(math.nan, math.nan, exact=True, arrangements=0, monte_carlo_error=0.0)
    statistic = float(scores[later].mean() - scores[~later].mean())
    whole_scores = _whole_numbers(scores)
    observed = np.array([later.sum(), whole_scores[later].sum()])
    register = _gather(whole_scores, later, np.asarray(patient))
    arrangements = math.comb(int(register.whole.count.sum()), register.chosen) * 2 ** int(register.split.count.sum())
    p = _count_all(register, observed, limit)
    if p is not None:
        return PermutationTest(statistic, p, exact=True, arrangements=arrangements, monte_carlo_error=0.0)
    p = _draw_some(register, observed, np.random.default_rng(seed))
    error = math.sqrt(p * (1 - p) / DRAWS)
    return PermutationTest(statistic, p, exact=False, arrangements=arrangements, monte_carlo_error=error)


def midranks(value: ArrayLike) -> Numbers:
    """Return the rank of each value, from 1 for the least; equal values share the mean of their ranks.

    >>> midranks([2.0, 0.5, 0.5])
    array([3. , 1.5, 1.5])
    """
    _, place, count = np.unique(np.asarray(value, dtype=float), return_inverse=True, return_counts=True)
    last = np.cumsum(count)
    return np.asarray((last - (count - 1) / 2)[place], dtype=float)


def _whole_numbers(score: Numbers) -> Whole:
    """The scores above the least one, as multiples of the coarsest unit that holds them all."""
    above = score - score.min()
    for denominator in DENOMINATORS:
        multiple = above * denominator
        if np.all(np.abs(multiple - np.rint(multiple)) <= 1e-9 * np.maximum(1.0, multiple)):
            return _rounded(multiple)
    return _rounded(above / above.max() * GRAIN)


def _rounded(value: Numbers) -> Whole:
    return np.asarray(np.rint(value), dtype=np.int64)


def _gather(score: Whole, later: NDArray[np.bool_], patient: NDArray[np.generic]) -> _Register:
    """Sort the patients into those with one cover and those with both, and count the kinds of each."""
    _, place = np.unique(patient, return_inverse=True)
    patients = int(place.max()) + 1
    sums = np.zeros((2, patients, 2), dtype=np.int64)  # first or second group, patient, (lids, score)
    np.add.at(sums, (later.astype(int), place), np.stack([np.ones_like(score), score], axis=1))
    first, second = sums
    both = (first[:, 0] > 0) & (second[:, 0] > 0)
    return _Register(
        whole=_kinds((first + second)[~both]),
        chosen=int((second[~both, 0] > 0).sum()),
        split=_kinds((first - second)[both]),
        kept=second[both].sum(axis=0),
        lids=score.size,
        score=int(score.sum()),
    )


def _kinds(rows: Whole) -> _Kinds:
    adds, count = np.unique(rows, axis=0, return_counts=True)
    return _Kinds(count.astype(np.int64), adds)


def _count_all(register: _Register, observed: Whole, limit: int) -> float | None:
    """The exact p value, or None where there are more than `limit` different sums to keep.

    A sum is kept as one number, chosen + radix x (lids + radix x score), so that adding patients is adding numbers.
    The chances are binomial: given how many were chosen, every arrangement is then equally likely.
    """
    radix = register.lids + 1
    codes, chances, left = np.array([0]), np.array([1.0]), int(register.whole.count.sum())
    share = register.chosen / left if left else 0.0
    for count, (lids, score) in zip(register.whole.count, register.whole.adds, strict=True):
        codes, chances = _add(codes, chances, 1 + radix * (lids + radix * score), _binomial(int(count), share))
        left -= int(count)
        chosen = codes % radix
        possible = (chosen <= register.chosen) & (chosen + left >= register.chosen)
        codes, chances = codes[possible], chances[possible]
        if codes.size > limit:
            return None
    codes = codes // radix + register.kept[0] + radix * register.kept[1]
    for count, (lids, score) in zip(register.split.count, register.split.adds, strict=True):
        codes, chances = _add(codes, chances, lids + radix * score, _binomial(int(count), 0.5))
        if codes.size > limit:
            return None
    sums = np.stack([codes % radix, codes // radix], axis=1)
    return float(chances[register.reached(sums, observed)].sum() / chances.sum())


def _add(codes: Whole, chances: Numbers, step: int, ways: Numbers) -> tuple[Whole, Numbers]:
    """Add 0, 1, 2 … patients of one kind to every sum, and bring equal sums together."""
    sums = (codes + step * np.arange(ways.size)[:, np.newaxis]).ravel()
    order = np.argsort(sums, kind="stable")  # quick, as the sums are a few sorted rows
    sums = sums[order]
    begins = np.flatnonzero(np.append(True, sums[1:] != sums[:-1]))
    together = np.add.reduceat((chances * ways[:, np.newaxis]).ravel()[order], begins)
    return np.asarray(sums[begins], dtype=np.int64), np.asarray(together, dtype=float)


def _binomial(n: int, share: float) -> Numbers:
    k = np.arange(n + 1)
    log_ways = special.gammaln(n + 1) - special.gammaln(k + 1) - special.gammaln(n - k + 1)
    return np.asarray(np.exp(log_ways + special.xlogy(k, share) + special.xlog1py(n - k, -share)), dtype=float)


def _draw_some(register: _Register, observed: Whole, generator: np.random.Generator) -> float:
    """The p value from arrangements drawn at random."""
    sums, whole, split = np.tile(register.kept, (DRAWS, 1)), register.whole, register.split
    if whole.count.size:
        chosen = generator.multivariate_hypergeometric(whole.count, register.chosen, size=DRAWS, method="count")
        sums += chosen @ whole.adds
    if split.count.size:
        sums += generator.binomial(split.count, 0.5, size=(DRAWS, split.count.size)) @ split.adds
    return (1 + int(register.reached(sums, observed).sum())) / (1 + DRAWS)
