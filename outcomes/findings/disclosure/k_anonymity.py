"""Full-domain generalisation of the columns an outsider could know, under k-anonymity and a diversity rule.

Every column has a ladder of levels, from fine to left out; one level a column makes a recoding. The recodings are tried in the
order of the information that they lose, so the first one that keeps the rules is the best there is; the tests search every
recoding to prove it. k-anonymity: Samarati P, Sweeney L 1998; Sweeney L. Int J Uncertain Fuzz 2002;10:557-570. l-diversity:
Machanavajjhala A and others. ACM Trans Knowl Discov Data 2007;1(1):3. Loss by entropy: de Waal T, Willenborg L 1999 [memory].
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from statistics import fmean

import numpy as np
from numpy.typing import NDArray

from outcomes.findings.arrays import Flags

Codes = NDArray[np.int64]
LEAST_OTHERS = 2


@dataclass(frozen=True)
class Level:
    """One level of a column: its id, and what every row holds at it."""

    id: str
    values: tuple[str, ...]


@dataclass(frozen=True)
class QuasiIdentifier:
    """A column that an outsider could know, with its levels from fine to coarse."""

    name: str
    levels: tuple[Level, ...]

    def losses(self) -> tuple[float, ...]:
        """The share of the entropy of the finest level that each level loses; nothing where all rows are alike."""
        whole = entropy(self.levels[0].values)
        return tuple(1 - entropy(level.values) / whole if whole else 0.0 for level in self.levels)


@dataclass(frozen=True, eq=False)
class Results:
    """Results that may not be learnt of a patient: a row a lid, a column a result; whether it was seen, and was poor."""

    seen: Flags
    poor: Flags

    def tells(self, classes: Codes) -> Flags:
        """Which classes have, for any result, a poor one and fewer than two that are not: whoever has that one learns the rest."""
        size = int(classes.max(initial=0)) + 1
        telling = np.zeros(size, dtype=np.bool_)
        for seen, poor in zip(self.seen.T, self.poor.T, strict=True):
            of_poor = np.bincount(classes, weights=seen & poor, minlength=size)
            telling |= (of_poor > 0) & (np.bincount(classes, weights=seen & ~poor, minlength=size) < LEAST_OTHERS)
        return telling


@dataclass(frozen=True, eq=False)
class Table:
    """The rows to be recoded: patient and stratum of each, the columns to be recoded, and the results that may not be learnt.

    The stratum is what is always visible of a row. Rows that would stand out have all their columns withheld.
    """

    patients: Sequence[str]
    strata: Sequence[str]
    quasi: tuple[QuasiIdentifier, ...]
    results: Results


@dataclass(frozen=True, eq=False)
class Recoding:
    """One level of each column, the rows whose columns are withheld, the smallest class in patients, the information lost."""

    levels: tuple[int, ...]
    withheld: Flags
    k: int
    losses: tuple[float, ...]
    loss: float


def entropy(values: Sequence[str]) -> float:
    """Entropy of the distribution of the values, in bits.

    >>> entropy(["a", "a", "b", "b"])
    1.0
    """
    counts = np.unique(np.asarray(values, dtype=np.str_), return_counts=True)[1] if len(values) else np.ones(1)
    shares = counts / counts.sum()
    return float(-(shares * np.log2(shares)).sum()) + 0.0


def recodings(table: Table, k: int) -> Iterator[Recoding]:
    """Every recoding that keeps the rules, the one that loses least first; none where a whole stratum cannot keep them."""
    check = _Check(table, k)
    if not check.strata_keep_the_rules:
        return
    losses = [each.losses() for each in table.quasi]
    nodes = ((fmean(_at(losses, node)), node) for node in product(*(range(len(each)) for each in losses)))
    waiting: list[tuple[float, tuple[int, ...], Recoding]] = []
    for of_columns, node in sorted(nodes):
        while waiting and waiting[0][0] <= of_columns:
            yield heapq.heappop(waiting)[2]
        found = check.withheld(node)
        if found is None:
            continue
        withheld, smallest = found
        share = float(withheld.mean())
        loss = share + (1 - share) * of_columns
        each_loss = tuple(share + (1 - share) * of_column for of_column in _at(losses, node))
        heapq.heappush(waiting, (loss, node, Recoding(node, withheld, smallest, each_loss, loss)))
    while waiting:
        yield heapq.heappop(waiting)[2]


def _at(losses: Sequence[tuple[float, ...]], node: tuple[int, ...]) -> list[float]:
    return [column[level] for column, level in zip(losses, node, strict=True)]


class _Check:
    """Which rows of a recoding would stand out, on whole numbers in place of words."""

    def __init__(self, table: Table, k: int) -> None:
        self._k = k
        self._results = table.results
        self._patients = _codes(table.patients)
        self._strata = _codes(table.strata)
        self._levels = tuple(tuple(_codes(level.values) for level in each.levels) for each in table.quasi)

    @property
    def strata_keep_the_rules(self) -> bool:
        """Tell whether each stratum as a whole keeps the rules, as it does with every column withheld."""
        if not self._strata.size:
            return False
        return bool((patients_in(self._strata, self._patients) >= self._k).all()) and self._diverse(self._strata)

    def withheld(self, node: tuple[int, ...]) -> tuple[Flags, int] | None:
        """The rows whose columns must be withheld, and the smallest class in patients that is left.

        Classes of too few patients are withheld, as one class of their stratum; while that has too few patients in turn, the
        next smallest class joins it. None where a class then tells a result: to withhold it for that would tell it too.
        """
        classes = self._classes(node)
        sizes = patients_in(classes, self._patients)
        few = sizes < self._k
        stratum_of = np.zeros(sizes.size, dtype=np.int64)
        stratum_of[classes] = self._strata
        for stratum in np.unique(stratum_of[few]):
            others = np.flatnonzero((stratum_of == stratum) & ~few)
            waiting = iter(others[np.argsort(sizes[others], kind="stable")])
            while self._patients_of((few & (stratum_of == stratum))[classes]) < self._k:
                few[next(waiting)] = True
        gone = few[classes]
        shown = _codes(np.where(gone, sizes.size + self._strata, classes))
        return (gone, int(patients_in(shown, self._patients).min())) if self._diverse(shown) else None

    def _patients_of(self, rows: Flags) -> int:
        return int(np.unique(self._patients[rows]).size)

    def _diverse(self, classes: Codes) -> bool:
        return not self._results.tells(classes).any()

    def _classes(self, node: tuple[int, ...]) -> Codes:
        """The class of every row: rows of one class are alike in all that is shown."""
        key = self._strata
        for levels, level in zip(self._levels, node, strict=True):
            key = key * (int(levels[level].max(initial=0)) + 1) + levels[level]
        return _codes(key)


def _codes(values: Sequence[str] | Codes) -> Codes:
    return np.unique(np.asarray(values), return_inverse=True)[1].astype(np.int64)


def patients_in(classes: Codes, patients: Codes) -> Codes:
    """How many different patients each class has."""
    among = int(patients.max(initial=0)) + 1
    pairs = np.unique(classes * among + patients)
    return np.bincount(pairs // among, minlength=int(classes.max(initial=0)) + 1).astype(np.int64)


def smallest_class(classes: Sequence[str], patients: Sequence[str]) -> int:
    """The k of a table: the smallest number of patients that share one class."""
    return int(patients_in(_codes(classes), _codes(patients)).min()) if len(classes) else 0


def least_diversity(classes: Sequence[str], results: Sequence[str]) -> int:
    """The l of a table (distinct l-diversity): the smallest number of different results in one class."""
    return smallest_class(classes, results)
