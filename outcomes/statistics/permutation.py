"""The permutation test of a difference of means, in which the covers are shared out anew among the patients."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from outcomes.statistics.arrangements import count_arrangements, sums_of_drawn, usual_draws
from outcomes.statistics.linearised import is_large
from outcomes.statistics.validation import (
    check_finite,
    check_labels,
    check_lengths,
    check_whole,
    check_yes_no,
    numbered,
)

Whole = NDArray[np.int64]
Numbers = NDArray[np.float64]
GRAIN = 1_000_000
SEED = 1935
# Every product of sums that the test makes stays below this, so that none overflows.
LARGEST = 2**62
# Kinds of patients up to which numbers of each kind are drawn; beyond it the patients themselves are.
FEW_KINDS = 250
# Numbers that adding a kind of patients to every sum may need at once.
MOST_WORK = 20_000_000
# Sums that there may be at most, by the patients of each kind, for all to be counted where there are many patients.
MOST_SUMS = 500_000
# Patients up to which a number of each kind is drawn by going through the patients.
FEW_PATIENTS = 2_000
DENOMINATORS = (1, 2, 3, 4, 6, 10, 12, 20, 60, 100, 1000)


@dataclass(frozen=True)
class PermutationTest:
    """The difference of means observed, and the share of arrangements at least as far from none, in either direction.

    `exact` says that every arrangement was counted; otherwise `monte_carlo_error` is the standard error that the p
    value has from drawing some of them. `arrangements` is how many there are, infinite where no float can hold it.
    """

    statistic: float
    p: float
    exact: bool
    arrangements: float
    monte_carlo_error: float


@dataclass(frozen=True)
class _Kinds:
    """Patients alike in all that counts: how many, and what each adds to the (lids, score) of the second group."""

    count: Whole
    adds: Whole

    def many(self) -> bool:
        """Tell whether there are so many kinds, of so many patients, that patients are drawn rather than numbers."""
        return self.count.size > FEW_KINDS and int(self.count.sum()) > FEW_PATIENTS

    def of_each(self) -> Whole:
        """What each patient adds, a row a patient."""
        return np.repeat(self.adds, self.count, axis=0)


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

    def has_too_many_sums(self) -> bool:
        """Tell whether, with many patients, trying to count all sums would take longer than drawing some."""
        counts = np.concatenate([np.sort(self.whole.count)[:-1], self.split.count])
        return is_large(int(self.whole.count.sum() + self.split.count.sum())) and float(
            np.log1p(counts).sum()
        ) > math.log(MOST_SUMS)

    def reached(self, sums: Whole, observed: Whole) -> NDArray[np.bool_]:
        """Which sums (lids, score) of the second group lie at least as far from no difference as the observed ones.

        Ties are exact: where two are equal but for rounding they are compared as whole numbers of any length.
        """
        gap, scale = self._gap(sums)
        (observed_gap,), (observed_scale,) = self._gap(observed[np.newaxis])
        ours, theirs = np.abs(gap) * float(observed_scale), np.abs(float(observed_gap)) * scale
        reached: NDArray[np.bool_] = (scale > 0) & (ours >= theirs)
        for row in np.flatnonzero((scale > 0) & (np.abs(ours - theirs) <= 1e-12 * theirs)):
            reached[row] = abs(int(gap[row])) * int(observed_scale) >= abs(int(observed_gap)) * int(scale[row])
        return reached

    def _gap(self, sums: Whole) -> tuple[Whole, Whole]:
        """The difference of means as numerator and denominator, in whole numbers."""
        lids, score = sums[:, 0], sums[:, 1]
        return score * self.lids - self.score * lids, lids * (self.lids - lids)


def permute_patients(
    score: ArrayLike,
    second: ArrayLike,
    patient: ArrayLike,
    *,
    limit: int = 20_000,
    draws: int | None = None,
) -> PermutationTest:
    """Return the two-sided permutation test of the mean score of the second group minus that of the first.

    One entry a lid: `score` a number (0 or 1, a rank, a value), `second` whether it belongs to the second group,
    `patient` any label. Patients move, never single lids: those whose lids all have one cover exchange covers with
    each other, each group keeping its number of patients; a patient with both covers exchanges them between her own
    lids. Arrangements that tie with the observed one count as reached, exactly: scores are compared as whole numbers
    of some unit (at worst a millionth of their range).

    Arrangements with the same sums are counted together, so that yes-or-no scores of one lid each are exact at any size of
    register. Above `limit` different sums, `draws` arrangements are drawn with a fixed seed (9,999, and 999 with more than 100,000
    lids), and the observed one is counted among them. With an empty group nothing is estimable. ValueError for a score that is missing,
    a `second` other than false and true, a missing patient, or columns of unequal length.

    Source: Good P. Permutation Tests, 2nd ed. 2000 (from memory); the drawn p value is that of Phipson B, Smyth GK.
    Stat Appl Genet Mol Biol 2010;9:39 (from memory).

    >>> permute_patients([1, 1, 1, 0, 0, 0], [1, 1, 1, 0, 0, 0], [1, 2, 3, 4, 5, 6])
    PermutationTest(statistic=1.0, p=0.1, exact=True, arrangements=20, monte_carlo_error=0.0)
    """
    check_lengths(score=score, second=second, patient=patient)
    scores, later = check_finite("score", score), check_yes_no("second", second)
    who, most = check_labels("patient", patient, later.size), int(check_whole("limit", limit))
    if later.all() or not later.any():
        return PermutationTest(math.nan, math.nan, exact=True, arrangements=0, monte_carlo_error=0.0)
    statistic = float(scores[later].mean() - scores[~later].mean())
    whole_scores = _whole_numbers(scores)
    observed = np.array([later.sum(), whole_scores[later].sum()])
    register = _gather(whole_scores, later, who)
    arrangements = count_arrangements(int(register.whole.count.sum()), register.chosen, int(register.split.count.sum()))
    p = _count_all(register, observed, most)
    if p is not None:
        return PermutationTest(statistic, p, exact=True, arrangements=arrangements, monte_carlo_error=0.0)
    number = usual_draws(later.size) if draws is None else int(check_whole("draws", draws, least=1))
    reached = register.reached(_draw_some(register, number, np.random.default_rng(SEED)), observed)
    p = (1 + int(reached.sum())) / (1 + number)
    error = math.sqrt(p * (1 - p) / number)
    return PermutationTest(statistic, p, exact=False, arrangements=arrangements, monte_carlo_error=error)


def midranks(value: ArrayLike) -> Numbers:
    """Return the rank of each value, from 1 for the least; equal values share the mean of their ranks.

    ValueError for a value that is missing.

    >>> midranks([2.0, 0.5, 0.5])
    array([3. , 1.5, 1.5])
    """
    _, place, count = np.unique(check_finite("value", value), return_inverse=True, return_counts=True)
    last = np.cumsum(count)
    return np.asarray((last - (count - 1) / 2)[place], dtype=float)


def _whole_numbers(score: Numbers) -> Whole:
    """The scores above the least one, as multiples of the coarsest unit that holds them all.

    They are small enough for every sum of them, times the number of lids, to be a 64-bit whole number.
    """
    above = score - score.min()
    most = LARGEST / max(score.size, 2) ** 2
    for denominator in DENOMINATORS:
        multiple = above * denominator
        whole = np.abs(multiple - np.rint(multiple)) <= 1e-9 * np.maximum(1.0, multiple)
        if multiple.max() <= most and whole.all():
            return _rounded(multiple)
    return _rounded(above / above.max() * min(GRAIN, most))


def _rounded(value: Numbers) -> Whole:
    return np.asarray(np.rint(value), dtype=np.int64)


def _gather(score: Whole, later: NDArray[np.bool_], patient: NDArray[np.generic]) -> _Register:
    """Sort the patients into those with one cover and those with both, and count the kinds of each."""
    place = numbered(patient)
    first, second = (_sums(place, score, side) for side in (~later, later))  # a row a patient: lids, score
    both = (first[:, 0] > 0) & (second[:, 0] > 0)
    return _Register(
        whole=_kinds((first + second)[~both]),
        chosen=int((second[~both, 0] > 0).sum()),
        split=_kinds((first - second)[both]),
        kept=second[both].sum(axis=0),
        lids=score.size,
        score=int(score.sum()),
    )


def _sums(patient: NDArray[np.intp], score: Whole, side: NDArray[np.bool_]) -> Whole:
    """How many lids each patient has on one side, and the sum of their scores; whole numbers below 2**53 are exact."""
    parts = (np.bincount(patient[side], weight, int(patient.max()) + 1) for weight in (None, score[side]))
    return np.stack([_rounded(np.asarray(each, dtype=np.float64)) for each in parts], axis=1)


def _kinds(rows: Whole) -> _Kinds:
    """The different rows and how many there are of each; a row is told apart as one number."""
    if not len(rows):
        return _Kinds(np.empty(0, dtype=np.int64), rows)
    least, room = rows.min(axis=0), int(np.ptp(rows[:, 1])) + 1
    codes, count = np.unique((rows - least) @ np.array([room, 1]), return_counts=True)
    return _Kinds(count.astype(np.int64), np.stack([codes // room, codes % room], axis=1) + least)


def _count_all(register: _Register, observed: Whole, limit: int) -> float | None:
    """The exact p value, or None where there are more than `limit` different sums to keep.

    A sum is kept as one number, chosen + radix x (lids + radix x score), so that adding patients is adding numbers.
    """
    radix = register.lids + 1
    if radix * radix * (register.score + 1) >= LARGEST or register.has_too_many_sums():
        return None
    found = _count_whole(register, radix, limit)
    for count, (lids, score) in zip(register.split.count, register.split.adds, strict=True):
        if found is None or found[0].size * int(count) > MOST_WORK:
            return None
        found = _add(*found, lids + radix * score, _binomial(int(count), 0.5))
        if found[0].size > limit:
            return None
    if found is None:
        return None
    codes, chances = found[0] + register.kept[0] + radix * register.kept[1], found[1]
    sums = np.stack([codes % radix, codes // radix], axis=1)
    return float(chances[register.reached(sums, observed)].sum() / chances.sum())


def _count_whole(register: _Register, radix: int, limit: int) -> tuple[Whole, Numbers] | None:
    """The sums (lids + radix x score) of those chosen among the whole patients, with their chances.

    The chances are binomial: given how many were chosen, every arrangement is then equally likely. How many of the last
    kind are chosen the others say, so that with two kinds, as yes-or-no scores have, no number of patients is too large.
    """
    codes, chances = np.array([0]), np.array([1.0])
    if not register.whole.count.size:
        return codes, chances
    left = int(register.whole.count.sum())
    order, share = np.argsort(register.whole.count, kind="stable"), register.chosen / left
    counts, steps = register.whole.count[order], 1 + radix * (register.whole.adds[order] @ np.array([1, radix]))
    for count, step in zip(counts[:-1], steps[:-1], strict=True):
        if codes.size > 1 and codes.size * int(count) > MOST_WORK:
            return None
        codes, chances = _add(codes, chances, int(step), _binomial(int(count), share))
        left -= int(count)
        possible = (codes % radix <= register.chosen) & (codes % radix + left >= register.chosen)
        codes, chances = codes[possible], chances[possible]
        if codes.size > limit and counts.size > 2:
            return None
    others = register.chosen - codes % radix
    return (codes + steps[-1] * others) // radix, chances * _binomial(int(counts[-1]), share)[others]


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


def _draw_some(register: _Register, draws: int, generator: np.random.Generator) -> Whole:
    """The sums (lids, score) of the second group in arrangements drawn at random."""
    sums, whole, split = np.tile(register.kept, (draws, 1)), register.whole, register.split
    if whole.many():
        sums += sums_of_drawn(generator, whole.of_each(), register.chosen, draws)
    elif whole.count.size:
        method: Literal["count", "marginals"] = "count" if whole.count.sum() <= FEW_PATIENTS else "marginals"
        chosen = generator.multivariate_hypergeometric(whole.count, register.chosen, size=draws, method=method)
        sums += chosen @ whole.adds
    if split.many():
        sums += sums_of_drawn(generator, split.of_each(), None, draws)
    elif split.count.size:
        sums += generator.binomial(split.count, 0.5, size=(draws, split.count.size)) @ split.adds
    return sums
