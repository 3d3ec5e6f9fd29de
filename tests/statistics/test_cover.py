"""The 95 % limits hold the truth as often as they say, with a dozen to forty lids and few events.

Each line simulates registers whose true share is known and counts how often the limits hold it. The bar is 92 %: below
it by chance alone, with 400 registers and a true cover of 95 %, in about one run of 250.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from outcomes.statistics.aalen_johansen import aalen_johansen
from outcomes.statistics.turnbull import proportion_by

REGISTERS = 400
NOMINAL = np.array([7, 42, 91, 183, 365, 730])


def cover(limits, truth):
    held = [low <= truth <= high for low, high in limits if not math.isnan(low)]
    assert len(held) > 0.9 * REGISTERS
    return np.mean(held)


def two_years(rng, lids, share, alike=0.0):
    """The event by day 730 in `share`, death first in a tenth, a quarter lost; two lids a patient agree if `alike`."""
    fate = rng.random(lids)
    if alike:
        fate = np.where(rng.random(lids) < alike, np.repeat(fate[::2], 2)[:lids], fate)
    cause = np.where(fate < share, 1, np.where(fate < share + 0.1, 2, 0))
    time = np.where(cause > 0, np.ceil(730 * rng.random(lids)), 5000)
    lost = np.where(rng.random(lids) < 0.25, np.ceil(730 * rng.random(lids)), 730 + np.ceil(700 * rng.random(lids)))
    return np.minimum(time, lost), np.where(time <= lost, cause, 0)


def reviews(rng, lids, share):
    """Reviews about the nominal days, a sixth missed, a quarter of the lids lost; onset by day 365 in `share`."""
    left, right = np.zeros(lids), np.full(lids, math.inf)
    for lid in range(lids):
        onset = -150 * math.log(1 - rng.random() * (1 - math.exp(-365 / 150))) if rng.random() < share else math.inf
        visits = np.sort(np.ceil(NOMINAL * (1 + rng.normal(0, 0.12, 6))).clip(1))[rng.random(6) < 0.85]
        if rng.random() < 0.25:
            visits = visits[visits < 500 * rng.random()]
        left[lid] = visits[visits < onset].max(initial=0)
        right[lid] = visits[visits >= onset].min(initial=math.inf)
    return left, right


@pytest.mark.slow
@pytest.mark.parametrize("lids", [12, 20, 40])
@pytest.mark.parametrize("share", [0.03, 0.1, 0.3])
def test_incidence_with_competing_death(lids, share):
    rng, limits = np.random.default_rng([lids, int(100 * share)]), []
    for _ in range(REGISTERS):
        time, cause = two_years(rng, lids, share)
        interval = aalen_johansen(time=time, cause=cause).at(730)
        limits.append((interval.low, interval.high))
    assert cover(limits, share) >= 0.92


@pytest.mark.slow
@pytest.mark.parametrize("lids", [20, 40])
@pytest.mark.parametrize("share", [0.1, 0.3])
def test_incidence_of_lids_that_count_unequally(lids, share):
    """Weights from 0.2 to 0.8 that have nothing to do with the event, so that the truth is the plain share."""
    rng, limits = np.random.default_rng([lids, int(100 * share), 3]), []
    for _ in range(REGISTERS):
        time, cause = two_years(rng, lids, share)
        interval = aalen_johansen(time=time, cause=cause, weight=0.2 + 0.6 * rng.random(lids)).at(730)
        limits.append((interval.low, interval.high))
    assert cover(limits, share) >= 0.92


@pytest.mark.slow
@pytest.mark.parametrize("lids", [20, 40])
@pytest.mark.parametrize("share", [0.1, 0.3])
def test_incidence_in_pairs_of_lids_that_mostly_agree(lids, share):
    rng, limits = np.random.default_rng([lids, int(100 * share), 1]), []
    for _ in range(REGISTERS):
        time, cause = two_years(rng, lids, share, alike=0.8)
        interval = aalen_johansen(time=time, cause=cause, patient=np.arange(lids) // 2).at(730)
        limits.append((interval.low, interval.high))
    assert cover(limits, share) >= 0.92


@pytest.mark.slow
@pytest.mark.parametrize("lids", [12, 20, 40])
@pytest.mark.parametrize("share", [0.05, 0.2])
def test_onset_between_reviews(lids, share):
    rng, limits = np.random.default_rng([lids, int(100 * share), 2]), []
    for _ in range(REGISTERS):
        left, right = reviews(rng, lids, share)
        interval = proportion_by(left=left, right=right, at=365)
        limits.append((interval.low, interval.high))
    assert cover(limits, share) >= 0.92
