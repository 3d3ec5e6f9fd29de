"""The greatest likelihood of masses in ordered cells, when each row says only that its event lies in a run of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]

# The largest slope at which the likelihood counts as having reached its top, for each lid, and one that will do.
_FLAT, _NEARLY_FLAT = 1e-10, 1e-8
# How near the top the first climb goes, and how many steps it and the second one take at most.
_NEAR, _FIRST_STEPS, _STEPS = 1e-4, 100, 200
# Masses up to which the curvature between all of them is worked out.
_DENSE = 1_500


@dataclass(frozen=True)
class CellRuns:
    """Rows that cover the cells from `first` up to, but without, `past`; equal ones are one row with their weights added."""

    first: Places
    past: Places
    weight: FloatArray
    cells: int

    def chance(self, mass: FloatArray) -> FloatArray:
        """The mass in the run of each row."""
        below = np.zeros(self.cells + 1)
        np.cumsum(mass, out=below[1:])
        return np.asarray(below[self.past] - below[self.first], dtype=np.float64)

    def log_likelihood(self, chance: FloatArray) -> float:
        """The log-likelihood of these chances of the rows; minus infinity where a row has none."""
        return float(self.weight @ np.log(chance)) if chance.min() > 0 else -np.inf

    def slopes(self, chance: FloatArray) -> FloatArray:
        """By how much the log-likelihood grows with the mass of each cell, for a row of weight 1; 1 at the top."""
        pull = self.weight / chance
        starts, stops = (np.bincount(ends, pull, self.cells + 1) for ends in (self.first, self.past))
        return np.asarray(np.cumsum(starts - stops)[:-1] / self.weight.sum(), dtype=np.float64)

    def only(self, cell: Places) -> CellRuns:
        """The same rows over some of the cells."""
        return CellRuns(np.searchsorted(cell, self.first), np.searchsorted(cell, self.past), self.weight, cell.size)

    def curvature(self, chance: FloatArray) -> FloatArray:
        """Minus the second derivative of the log-likelihood by the masses of each two cells, for a row of weight 1."""
        size = self.cells + 1
        bend = self.weight / (chance**2 * self.weight.sum())
        runs = np.bincount(self.first * size + self.past, bend, size * size).reshape(size, size)
        both = runs.cumsum(axis=0)[:, ::-1].cumsum(axis=1)[:-1, ::-1][:, 1:]
        return np.asarray(np.triu(both) + np.triu(both, 1).T, dtype=np.float64)


def cell_runs(first: Places, past: Places, weight: FloatArray, cells: int) -> CellRuns:
    """Bring equal rows together."""
    codes, place = np.unique(first * (cells + 1) + past, return_inverse=True)
    added = np.bincount(place, weight).astype(np.float64)
    return CellRuns(codes // (cells + 1), codes % (cells + 1), added, cells)


def most_likely(runs: CellRuns, *, start: FloatArray | None = None) -> tuple[FloatArray, bool]:
    """The masses of greatest likelihood, adding up to 1, and whether no slope towards any cell is left.

    `start` is where to begin: the masses of nearly the same rows, which give each row some chance.

    Three ways up, each from where the last one came to: expectation and maximisation, which brings every mass near;
    the iterative convex minorant, which sets most masses to 0; Newton steps among the masses that are left and the cells
    with the steepest slope between them, until the slopes show that there is nothing better. Where more than 1,500
    masses are left, as with many known times, the first two go on by turns instead.

    Convex minorant: Groeneboom P, Wellner JA. Information Bounds and Nonparametric Maximum Likelihood Estimation, 1992;
    joined with expectation and maximisation, Wellner JA, Zhan Y. J Am Stat Assoc 1997;92:945-959. Newton steps: Wang Y.
    Comput Stat Data Anal 2007;52:2388-2402. The slopes: Gentleman R, Geyer CJ. Biometrika 1994;81:618-623 (all from
    memory).
    """
    mass = _near(runs) if start is None else start
    for _ in range(_STEPS):
        slopes = runs.slopes(runs.chance(mass))
        if slopes.max() <= 1 + _FLAT:
            return mass, True
        better = _newton(runs, mass, slopes)
        if better is mass:
            break
        mass = better
    return mass, bool(runs.slopes(runs.chance(mass)).max() <= 1 + _NEARLY_FLAT)


def _near(runs: CellRuns) -> FloatArray:
    """Masses near those of greatest likelihood."""
    mass = np.full(runs.cells, 1 / runs.cells)
    for _ in range(10):
        mass = _expected(runs, mass)
    return _by_turns(runs, mass, _FIRST_STEPS, _NEAR)


def _expected(runs: CellRuns, mass: FloatArray) -> FloatArray:
    """One step of expectation and maximisation."""
    better = mass * runs.slopes(runs.chance(mass))
    return np.asarray(better / better.sum(), dtype=np.float64)


def _by_turns(runs: CellRuns, mass: FloatArray, steps: int, flat: float) -> FloatArray:
    """Climb by convex minorants and by expectation, by turns, until the slopes are flat enough."""
    for _ in range(steps):
        if runs.cells < 2 or runs.slopes(runs.chance(mass)).max() <= 1 + flat:
            break
        mass = _expected(runs, _uphill(runs, mass, _minorant(runs, mass)))
    return mass


def _minorant(runs: CellRuns, mass: FloatArray) -> FloatArray:
    """Newton's aim for each cumulative mass on its own, brought into order."""
    chance = runs.chance(mass)
    pull, bend = runs.weight / chance, runs.weight / chance**2
    starts, stops = (np.bincount(ends, pull, runs.cells + 1)[1:-1] for ends in (runs.first, runs.past))
    bends = np.bincount(np.concatenate([runs.first, runs.past]), np.tile(bend, 2), runs.cells + 1)[1:-1].astype(
        np.float64
    )
    aim = in_order(np.cumsum(mass)[:-1] + (stops - starts) / bends, bends).clip(0.0, 1.0)
    return np.diff(np.concatenate([[0.0], aim, [1.0]]))


def in_order(value: FloatArray, weight: FloatArray) -> FloatArray:
    """The values nearest to these, by weighted squares, of which none is less than the one before: isotonic regression.

    Neighbours in the wrong order share their mean, all such runs at once, until there are none: pool adjacent violators, Barlow RE,
    Bartholomew DJ, Bremner JM, Brunk HD. Statistical Inference under Order Restrictions, 1972 (from memory).

    >>> in_order(np.array([1.0, 3.0, 2.0, 4.0]), np.array([1.0, 1.0, 3.0, 1.0]))
    array([1.  , 2.25, 2.25, 4.  ])
    """
    total, size = value * weight, np.ones(value.size, dtype=np.intp)
    mean = value
    while (rising := mean[1:] >= mean[:-1]).sum() < mean.size - 1:
        begin = np.flatnonzero(np.concatenate([[True], rising]))
        total, weight, size = (np.add.reduceat(each, begin) for each in (total, weight, size))
        mean = total / weight
    return np.repeat(mean, size)


def _newton(runs: CellRuns, mass: FloatArray, slopes: FloatArray) -> FloatArray:
    """One step towards the top of the quadratic that fits here, among masses of 0 or more that add up to 1."""
    carrying = mass > 0
    steep = _steepest(carrying, slopes)
    cell = np.flatnonzero(carrying | steep)
    if cell.size > _DENSE:
        return _by_turns(runs, mass, _STEPS, _FLAT)
    part = runs.only(cell)
    own = mass[cell]
    target = np.zeros_like(mass)
    target[cell] = _quadratic_top(part.curvature(part.chance(own)), slopes[cell])
    return _uphill(runs, mass, target)


def _steepest(carrying: npt.NDArray[np.bool_], slopes: FloatArray) -> npt.NDArray[np.bool_]:
    """The cell with the greatest slope, above 1, between each two that carry mass."""
    gap = np.cumsum(carrying)
    order = np.lexsort((-slopes, gap))
    first = order[np.flatnonzero(np.append(True, np.diff(gap[order]) > 0))]
    steepest = np.zeros_like(carrying)
    steepest[first] = slopes[first] > 1
    return steepest


def _quadratic_top(curvature: FloatArray, slopes: FloatArray) -> FloatArray:
    """The top of the quadratic, by non-negative least squares: which masses are above 0 is found by exchange in blocks.

    That the masses add up to 1 is a row of ones: Dax A. SIAM J Optim 1990, as used by Wang 2007, equation 12. The
    exchange: Portugal LF, Judice JJ, Vicente LN. Math Comput 1994;63:625-643 (both from memory).
    """
    square = curvature - 2 * (slopes[:, np.newaxis] + slopes) + 5
    square[np.diag_indices_from(square)] *= 1 + 1e-12
    above, fewest, patience = np.ones(len(square), dtype=np.bool_), len(square) + 1, 3
    for _ in range(10 * len(square)):
        mass = np.zeros(len(square))
        mass[above] = np.linalg.solve(square[np.ix_(above, above)], np.ones(above.sum()))
        wrong = np.where(above, mass < 0, square @ mass < 1 - 1e-12)
        if not wrong.any():
            break
        if wrong.sum() < fewest:
            fewest, patience = int(wrong.sum()), 3
        else:
            patience -= 1
        above ^= wrong if patience > 0 else np.arange(len(square)) == np.flatnonzero(wrong)[-1]
    mass = np.maximum(mass, 0.0)
    return np.asarray(mass / mass.sum(), dtype=np.float64)


def _uphill(runs: CellRuns, mass: FloatArray, target: FloatArray) -> FloatArray:
    """Go towards the target, half as far each time that the likelihood does not rise enough, but for its rounding."""
    chance = runs.chance(mass)
    here = runs.log_likelihood(chance)
    rounding = 4 * np.finfo(np.float64).eps * abs(here)
    slope = float(runs.weight @ (runs.chance(target - mass) / chance))
    step = 1.0
    while step > 1e-12:
        there = target if step == 1.0 else mass + step * (target - mass)
        if runs.log_likelihood(runs.chance(there)) >= here + step * slope / 3 - rounding:
            return there
        step /= 2
    return mass
