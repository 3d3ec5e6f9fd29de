"""Logistic models with a weak log-F penalty on the slopes, many at once, as leaving patients out one by one needs."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import special

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]
Penalty = Callable[[Numbers], tuple[Numbers, Numbers]]
MOST_STEPS = 50
LONGEST_STEP = 5.0
HAIR = 1e-12
SETTLED = 1e-4  # a Newton step of this length leaves an error of about its square


def log_f(slopes: Numbers) -> tuple[Numbers, Numbers]:
    """Return the slope and the curvature of the log-F(1,1) penalty, the same as one lid with half an event a column.

    >>> log_f(np.array([0.0]))
    (array([0.]), array([0.25]))
    """
    chance = np.asarray(special.expit(slopes), dtype=np.float64)
    return 0.5 - chance, chance * (1 - chance)


def fit_log_f(
    columns: Numbers, outcome: Numbers, weights: Numbers, *, start: Numbers | None = None, penalty: Penalty = log_f
) -> tuple[Numbers, Flags]:
    """Return the coefficients of a model a row of weights, and whether each settled.

    `columns` has a row a lid; its first column is the intercept, which is not penalised, and the others are of a size
    for which a log odds ratio of 8 is out of question: standardised, or 0 and 1. `outcome` lies from 0 to 1. A row of
    `weights` says how often each lid counts in one model; one whose lids all had the event, or none, never settles.
    `start` is where to begin, for all rows.

    Source: Greenland S, Mansournia MA. Stat Med 2015;34:3133-3143 (from memory).

    >>> columns, outcome = np.array([[1.0, 1], [1, 1], [1, 0], [1, 0]]), np.array([1.0, 1, 0, 0])
    >>> coefficients, settled = fit_log_f(columns, outcome, np.ones((1, 4)))
    >>> coefficients.round(3), settled
    (array([[-1.295,  2.589]]), array([ True]))
    """
    size = columns.shape[1]
    above, below = np.triu_indices(size)
    products = columns[:, above] * columns[:, below]
    place = np.tile(np.zeros(size) if start is None else start, (weights.shape[0], 1))
    information = np.empty((weights.shape[0], size, size))
    diagonal = np.arange(1, size)
    far = np.full(weights.shape[0], np.inf)
    events, lids = weights @ outcome, weights.sum(axis=1)
    mixed = (events > 0) & (events < lids)  # otherwise the intercept runs away to infinity
    for _ in range(MOST_STEPS):
        chance = special.expit(place @ columns.T)
        pull, curvature = penalty(place[:, 1:])
        gradient = (weights * (outcome - chance)) @ columns
        gradient[:, 1:] += pull
        spread = weights * (chance * (1 - chance))
        information[:, above, below] = information[:, below, above] = spread @ products
        information[:, diagonal, diagonal] += curvature
        information[:, 0, 0] += HAIR
        step = np.linalg.solve(information, gradient[:, :, np.newaxis])[:, :, 0]
        far = np.abs(step @ columns.T).max(axis=1, initial=0.0)
        place += step * (LONGEST_STEP / np.maximum(far, LONGEST_STEP))[:, np.newaxis]
        if far[mixed].max(initial=0.0) < SETTLED:
            break
    return place, mixed & (far < SETTLED)
