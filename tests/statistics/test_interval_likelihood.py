"""The likelihood of masses in cells, by full tables of rows and cells, and each way up to its top on its own."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import isotonic_regression, nnls

from outcomes.statistics import interval_likelihood
from outcomes.statistics.interval_likelihood import cell_runs, in_order, most_likely

ROWS, CELLS = 300, 25


@pytest.fixture
def runs():
    rng = np.random.default_rng(11)
    first = rng.integers(0, CELLS, ROWS)
    past = np.minimum(first + rng.integers(1, 9, ROWS), CELLS)
    return cell_runs(first, past, rng.random(ROWS), CELLS)


def table(runs):
    cells = np.arange(runs.cells)
    return ((runs.first[:, None] <= cells) & (cells < runs.past[:, None])).astype(float)


def test_chances_slopes_and_curvature_by_the_full_table(runs):
    mass = np.random.default_rng(2).dirichlet(np.ones(CELLS))
    cover, weight = table(runs), runs.weight / runs.weight.sum()
    chance = cover @ mass
    ratio = cover / chance[:, None]
    assert runs.chance(mass) == pytest.approx(chance)
    assert runs.slopes(chance) == pytest.approx(weight @ ratio)
    assert runs.curvature(chance) == pytest.approx(ratio.T @ (weight[:, None] * ratio))
    some = np.array([0, 3, 4, 11, 24])
    assert table(runs.only(some)) == pytest.approx(cover[:, some])


@pytest.mark.parametrize("size", [1, 2, 3, 10, 500])
def test_values_brought_into_order_by_another_program(size):
    rng = np.random.default_rng(size)
    for value in (rng.normal(size=size), rng.integers(0, 3, size) * 1.0, np.arange(size)[::-1] * 1.0):
        weight = rng.random(size) + 0.1
        assert in_order(value, weight) == pytest.approx(isotonic_regression(value, weights=weight).x, abs=1e-12)


def test_the_top_of_the_quadratic_by_another_program(runs):
    """Wang 2007, equation 12: least squares of root (ratio - 2) with a row of ones, on the whole table."""
    cover, weight = table(runs), runs.weight / runs.weight.sum()
    for seed in range(5):
        mass = np.random.default_rng(seed).dirichlet(np.full(CELLS, 0.7))
        ratio = cover / (cover @ mass)[:, None]
        sheet = np.vstack([np.sqrt(weight)[:, None] * (ratio - 2), np.ones(CELLS)])
        other = nnls(sheet, np.append(np.zeros(len(cover)), 1.0))[0]
        ours = interval_likelihood._quadratic_top(runs.curvature(cover @ mass), runs.slopes(cover @ mass))
        assert ours == pytest.approx(other / other.sum(), abs=1e-8)


def test_newton_steps_alone_find_cells_that_began_without_mass(runs):
    best, converged = most_likely(runs)
    assert converged
    mass = np.zeros(CELLS)
    mass[::2] = 1 / len(mass[::2])
    mass[runs.first[runs.chance(mass) <= 0]] = 1 / CELLS
    mass /= mass.sum()
    assert (best[mass == 0] > 0.01).any()
    for _ in range(60):
        mass = interval_likelihood._newton(runs, mass, runs.slopes(runs.chance(mass)))
    assert runs.log_likelihood(mass) == pytest.approx(runs.log_likelihood(best), abs=1e-9)
    assert runs.slopes(runs.chance(mass)).max() <= 1 + 1e-8


def test_convex_minorants_alone_reach_the_same_top(runs):
    best, _ = most_likely(runs)
    mass = interval_likelihood._by_turns(runs, np.full(CELLS, 1 / CELLS), 5_000, 1e-9)
    assert runs.log_likelihood(mass) == pytest.approx(runs.log_likelihood(best), abs=1e-6)
