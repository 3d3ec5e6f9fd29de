"""The columns of a model of many lids: numbers, and the indicators of exclusive groups without a column each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]
Places = NDArray[np.intp]
INTERCEPT, COVER, CHARACTERISTICS = 0, 1, 2
"""The places of the intercept and the cover among the columns, and of the first characteristic."""
BLOCK = 8192  # rows whose numbers and products fit the cache
FEWEST_A_GROUP = 256  # rows; with fewer, a column for each group is quicker than its slice
CONSTANT = 1e-9
DOUBTFUL = 1e-6  # of the mean square: of a smaller variance rounding leaves too little to be taken from sums


@dataclass(frozen=True)
class DesignMatrix:
    """A row a lid: the intercept, the cover, characteristics, and an indicator of each group but the first.

    `numbers` holds all columns but the indicators of groups. The rows stand in order of group, group g from `bounds[g]`
    to `bounds[g + 1]`, and `order` is the place of each row among the lids as they were given. In all that is asked of
    the matrix, `centre` is taken from every column, which is then divided by `scale`. `held_products` are the products
    of the columns as they are held, where they are known.
    """

    numbers: Numbers
    bounds: Places
    order: Places
    centre: Numbers = field(repr=False)
    scale: Numbers = field(repr=False)
    held_products: Numbers | None = field(default=None, repr=False)

    @property
    def groups(self) -> int:
        """How many groups have an indicator."""
        return self.bounds.size - 2

    @property
    def rows(self) -> int:
        """How many lids there are."""
        return int(self.numbers.shape[0])

    @property
    def size(self) -> int:
        """How many columns there are, the indicators among them."""
        return int(self.numbers.shape[1]) + self.groups

    def as_given(self, values: Numbers) -> Numbers:
        """Return what has an entry a row in the order of the lids as given."""
        found = np.empty_like(values)
        found[self.order] = values
        return found

    def of_lids(self, kept: Flags, cover: Flags) -> DesignMatrix:
        """Return the matrix of the lids `kept` (of those given), whose cover has an entry for each of them."""
        taken = self.of_rows(kept[self.order])
        numbers, bounds = taken.numbers, taken.bounds
        numbers[:, COVER] = cover[taken.order]
        if taken.rows < FEWEST_A_GROUP * taken.groups:
            numbers, bounds = np.hstack([numbers, _indicators(bounds)]), np.array([0, taken.rows])
        return replace(taken, numbers=numbers, bounds=bounds)

    def of_rows(self, kept: Flags) -> DesignMatrix:
        """Return the matrix of some of the rows, as if no other lids had been given."""
        here, own = np.flatnonzero(kept), self.order[kept]
        given = np.zeros(self.rows, dtype=np.bool_)
        given[own] = True
        return replace(
            self,
            numbers=self.numbers.take(here, axis=0),
            bounds=np.searchsorted(here, self.bounds),
            order=(np.cumsum(given) - 1)[own],
            held_products=None,
        )

    def first(self, columns: int) -> DesignMatrix:
        """Return the first columns, which are numbers, without the groups."""
        return DesignMatrix(
            np.ascontiguousarray(self.numbers[:, :columns]),
            np.array([0, self.rows]),
            self.order,
            self.centre[:columns],
            self.scale[:columns],
            self._held_products()[:columns, :columns],
        )

    def every(self, step: int) -> DesignMatrix:
        """Return the matrix of one row in so many, in the order of the rows."""
        numbers = self.numbers[::step]
        bounds = -(-self.bounds // step)
        return replace(self, numbers=numbers, bounds=bounds, order=np.arange(numbers.shape[0]), held_products=None)

    def standardised(self) -> tuple[DesignMatrix, tuple[int, ...]]:
        """Return the matrix with mean 0 and standard deviation 1 in every characteristic that varies, without the others.

        And the places of the others among the characteristics.
        """
        products = self._held_products()
        lids = max(float(products[INTERCEPT, INTERCEPT]), 1.0)
        mean, square = products[INTERCEPT] / lids, np.diagonal(products) / lids
        variance = square - mean**2
        for place in np.flatnonzero(variance[: self.numbers.shape[1]] <= DOUBTFUL * square[: self.numbers.shape[1]]):
            variance[place] = _variance(self.numbers[:, place])
        varies, own = variance > 0, np.arange(self.size) >= CHARACTERISTICS
        kept = varies | ~own
        centre, scale = np.where(own, mean, 0.0), np.where(own & varies, np.sqrt(np.maximum(variance, 0.0)), 1.0)
        constant = tuple(int(place) - CHARACTERISTICS for place in np.flatnonzero(~kept))
        if self.groups:
            return self._with_columns(kept, centre, scale, products), constant
        numbers = (self.numbers[:, kept] - centre[kept]) / scale[kept]
        size = numbers.shape[1]
        return DesignMatrix(numbers, self.bounds, self.order, np.zeros(size), np.ones(size)), constant

    def times(self, coefficients: Numbers) -> Numbers:
        """Return the product with a vector that has an entry a column: an entry a row."""
        if self._as_held:
            return self.numbers @ coefficients
        own, numbers = coefficients / self.scale, self.numbers.shape[1]
        levels = np.append(0.0, own[numbers:]) - float(own @ self.centre)
        product: Numbers = self.numbers @ own[:numbers]
        product += np.repeat(levels, np.diff(self.bounds))
        return product

    def transposed_times(self, values: Numbers) -> Numbers:
        """Return the product of the transposed matrix with a vector that has an entry a row: an entry a column."""
        if self._as_held:
            return values @ self.numbers
        sums = np.concatenate([values @ self.numbers, self._sums_by_group(values)])
        return np.asarray((sums - self.centre * sums[INTERCEPT]) / self.scale, dtype=np.float64)

    def cross_products(self, weight: Numbers) -> Numbers:
        """Return the products of every two columns, summed over the rows with a weight of 0 or more each."""
        return self._from_centre(self._products(np.sqrt(weight)))

    @cached_property
    def products(self) -> Numbers:
        """The products of every two columns, summed over the rows."""
        return self._from_centre(self._held_products())

    def quadratic_forms(self, matrix: Numbers) -> Numbers:
        """Return x' M x for every row x and a symmetric matrix M."""
        own, numbers = self._between_held(matrix), self.numbers.shape[1]
        found = np.empty(self.rows)
        for group, here in self._pieces():
            part = self.numbers[here]
            turned = part @ own[:numbers, :numbers]
            if group:
                turned += 2 * own[numbers + group - 1, :numbers]
                turned[:, INTERCEPT] += own[numbers + group - 1, numbers + group - 1]
            np.einsum("rc,rc->r", turned, part, out=found[here])
        return found

    def dense(self, rows: Places | slice = slice(None)) -> Numbers:
        """Return some rows with a column for each indicator."""
        held = np.hstack([self.numbers[rows], _indicators(self.bounds, rows)])
        return np.asarray((held - self.centre) / self.scale, dtype=np.float64)

    def _with_columns(self, kept: Flags, centre: Numbers, scale: Numbers, products: Numbers) -> DesignMatrix:
        """The matrix with some of its columns; an indicator that is the same in all is of a group of none, or of all."""
        numbers = self.numbers.shape[1]
        return DesignMatrix(
            self.numbers if kept[:numbers].all() else self.numbers[:, kept[:numbers]],
            np.concatenate([[0], self.bounds[1:-1][kept[numbers:]], [self.rows]]).astype(np.intp),
            self.order,
            centre[kept],
            scale[kept],
            products[np.ix_(kept, kept)],
        )

    @cached_property
    def _as_held(self) -> bool:
        """Tell whether the columns are just the numbers."""
        return self.groups == 0 and not self.centre.any() and bool((self.scale == 1).all())

    def _sums_by_group(self, values: Numbers) -> Numbers:
        """The sum of the values in each group but the first."""
        if not self.groups:
            return np.empty(0)
        sums = np.add.reduceat(np.append(values, 0.0), self.bounds[1:-1])
        return np.where(np.diff(self.bounds)[1:] > 0, sums, 0.0)

    def _pieces(self) -> Iterator[tuple[int, slice]]:
        """Every group with the rows of it, some at a time."""
        for group in range(self.groups + 1):
            end = int(self.bounds[group + 1])
            for start in range(int(self.bounds[group]), end, BLOCK):
                yield group, slice(start, min(start + BLOCK, end))

    def _held_products(self) -> Numbers:
        return self._products(None) if self.held_products is None else self.held_products

    def _products(self, root: Numbers | None) -> Numbers:
        """The products of the columns as they are held, each row multiplied by its root."""
        numbers = self.numbers.shape[1]
        products = np.zeros((self.size, self.size))
        for group, here in self._pieces():
            part = self.numbers[here] if root is None else self.numbers[here] * root[here, np.newaxis]
            added = part.T @ part
            products[:numbers, :numbers] += added
            if group:
                products[numbers + group - 1, :numbers] += added[INTERCEPT]
        if not self.groups:
            return products
        products[:numbers, numbers:] = products[numbers:, :numbers].T
        products[numbers:, numbers:] = np.diag(products[numbers:, INTERCEPT])
        return products

    def _from_centre(self, products: Numbers) -> Numbers:
        """The products of the standardised columns, from those of the columns as they are held."""
        if self._as_held:
            return products
        sums, lids = products[INTERCEPT], products[INTERCEPT, INTERCEPT]
        shifted = np.outer(self.centre, sums)
        moved = products - shifted - shifted.T + lids * np.outer(self.centre, self.centre)
        return np.asarray(moved / np.outer(self.scale, self.scale), dtype=np.float64)

    def _between_held(self, matrix: Numbers) -> Numbers:
        """What does between the columns as they are held what the matrix does between the standardised ones."""
        own = matrix / np.outer(self.scale, self.scale)
        taken = self.centre @ own
        own[INTERCEPT] -= taken
        own[:, INTERCEPT] -= taken
        own[INTERCEPT, INTERCEPT] += float(taken @ self.centre)
        return own


@dataclass(frozen=True)
class ExtendedMatrix:
    """A design matrix with further columns, as they are, behind its own."""

    base: DesignMatrix
    further: Numbers

    @property
    def size(self) -> int:
        """How many columns there are."""
        return self.base.size + int(self.further.shape[1])

    def times(self, coefficients: Numbers) -> Numbers:
        """Return the product with a vector that has an entry a column: an entry a row."""
        return self.base.times(coefficients[: self.base.size]) + self.further @ coefficients[self.base.size :]

    def transposed_times(self, values: Numbers) -> Numbers:
        """Return the product of the transposed matrix with a vector that has an entry a row: an entry a column."""
        return np.concatenate([self.base.transposed_times(values), values @ self.further])

    def cross_products(self, weight: Numbers) -> Numbers:
        """Return the products of every two columns, summed over the rows with a weight of 0 or more each."""
        return self._extended(self.base.cross_products(weight), self.further * weight[:, np.newaxis])

    @property
    def products(self) -> Numbers:
        """The products of every two columns, summed over the rows."""
        return self._extended(self.base.products, self.further)

    def dense(self, rows: Places | slice = slice(None)) -> Numbers:
        """Return some rows with a column for each indicator."""
        return np.hstack([self.base.dense(rows), self.further[rows]])

    def _extended(self, products: Numbers, weighted: Numbers) -> Numbers:
        beside = np.column_stack([self.base.transposed_times(column) for column in weighted.T])
        return np.block([[products, beside], [beside.T, self.further.T @ weighted]])


def _indicators(bounds: Places, rows: Places | slice = slice(None)) -> Flags:
    """A column for each group but the first, true for its rows."""
    group = np.searchsorted(bounds[1:-1], np.arange(bounds[-1])[rows] if isinstance(rows, slice) else rows, "right")
    return np.asarray(group[:, np.newaxis] == np.arange(1, bounds.size - 1))


def design_matrix(characteristics: Numbers, group: Places | None = None) -> DesignMatrix:
    """Return the matrix of characteristics (a row a lid, a column each), all of the first cover, and of groups from 0 on.

    The characteristics are taken from their means and divided by their standard deviations, where they vary.

    >>> design_matrix(np.array([[1.0], [3.0], [5.0]]), np.array([1, 0, 1])).dense().round(3)
    array([[ 1.   ,  0.   ,  0.   ,  0.   ],
           [ 1.   ,  0.   , -1.225,  1.   ],
           [ 1.   ,  0.   ,  1.225,  1.   ]])
    """
    lids, terms = characteristics.shape
    groups = np.zeros(lids, dtype=np.intp) if group is None else group
    order = np.argsort(groups, kind="stable") if group is not None else np.arange(lids)
    numbers = np.empty((lids, CHARACTERISTICS + terms))  # filled at once: of untouched zeros each page is slow to come
    numbers[:, INTERCEPT], numbers[:, COVER] = 1.0, 0.0
    if lids:
        own = np.subtract(
            characteristics.take(order, axis=0), characteristics.mean(axis=0), out=numbers[:, CHARACTERISTICS:]
        )
        spread = np.sqrt(np.einsum("lc,lc->c", own, own) / lids)
        varies = spread > CONSTANT * np.maximum(1.0, np.abs(characteristics).max(axis=0))
        own *= np.where(varies, 1 / np.where(varies, spread, 1.0), 0.0)
    bounds = np.searchsorted(groups[order], np.arange(int(groups.max(initial=0)) + 2)).astype(np.intp)
    size = numbers.shape[1] + bounds.size - 2
    return DesignMatrix(numbers, bounds, order, np.zeros(size), np.ones(size))


def _variance(column: Numbers) -> float:
    """The mean square from the mean; 0 where that is nothing but rounding."""
    from_mean = column - column.mean() if column.size else column
    variance = float(from_mean @ from_mean) / max(column.size, 1)
    largest = float(np.abs(column).max(initial=0.0))
    return variance if variance > (CONSTANT * max(1.0, largest)) ** 2 else 0.0
