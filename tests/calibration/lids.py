"""Two small cohorts in which a tenth of the patients gave two lids, for timed events."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Numbers = NDArray[np.float64]
ALIKE = 0.6
"""Correlation of the two lids of one person, on a normal scale: that of the invented clinic."""


def patients(each: int) -> NDArray[np.int64]:
    """Labels of the patients of two cohorts of so many lids, a tenth of them with two; one of these has a lid of each."""
    pairs = max(1, round(each * 2 / 1.1 * 0.1))
    labels = np.arange(2 * each)
    labels[each] = labels[0]
    for pair in range(1, pairs):
        first = (pair % 2) * each + 2 * pair
        labels[first + 1] = labels[first]
    return labels


def second(each: int) -> NDArray[np.bool_]:
    """Which lids are of the second cohort."""
    return np.arange(2 * each) >= each


def fates(rng: np.random.Generator, patient: NDArray[np.int64]) -> Numbers:
    """A number from 0 to 1 for each lid, evenly spread, alike in two lids of one person."""
    return np.asarray(ndtr(normals(rng, patient)), dtype=np.float64)


def normals(rng: np.random.Generator, patient: NDArray[np.int64]) -> Numbers:
    """A standard normal for each lid, alike in two lids of one person."""
    shared = rng.normal(size=patient.max() + 1)[patient]
    return np.asarray(np.sqrt(ALIKE) * shared + np.sqrt(1 - ALIKE) * rng.normal(size=patient.size), dtype=np.float64)
