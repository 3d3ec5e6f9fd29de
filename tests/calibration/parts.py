"""The error of a mean time between reviews that leaves out one of 200 parts, beside that which leaves out each patient.

`python -m tests.calibration.parts` prints a table of Markdown: about five minutes of one processor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from outcomes.statistics import restricted_mean
from outcomes.statistics.restricted_mean import RestrictedMean, interval_restricted_mean

Numbers = NDArray[np.float64]
REGISTERS, PATIENTS, SECOND_LIDS = 400, (250, 500), 0.1
UNTIL, REVIEWS = 24.0, np.array([0.25, 0.8, 1.4, 3.0, 6.0, 12.0, 24.0, 36.0])  # months
ATTENDED, LIKENESS = 0.9, 0.5


@dataclass(frozen=True)
class Onset:
    """A state that begins after an exponential time: half of the lids have it after so many months."""

    name: str
    half_after: float

    def mean(self) -> float:
        """The mean time without it up to the last month; a patient's lids share their luck, which does not change it."""
        rate = math.log(2) / self.half_after
        return (1 - math.exp(-rate * UNTIL)) / rate


ONSETS = (Onset("half after 6 months", 6.0), Onset("half after 60 months", 60.0))


def lids(rng: np.random.Generator, patients: int, onset: Onset) -> tuple[Numbers, Numbers, NDArray[np.intp]]:
    """Between which reviews each lid's state began, and whose lid it is; one patient in ten has two, that are alike."""
    patient = np.append(np.arange(patients), rng.choice(patients, int(SECOND_LIDS * patients), replace=False))
    luck = math.sqrt(LIKENESS) * rng.normal(0, 1, patients)[patient]
    luck += math.sqrt(1 - LIKENESS) * rng.normal(0, 1, patient.size)
    chance = np.array([0.5 * math.erfc(-each / math.sqrt(2)) for each in luck])
    began = -np.log(chance) * onset.half_after / math.log(2)
    day = np.maximum(REVIEWS + rng.normal(0, 0.15, (patient.size, REVIEWS.size)) * np.sqrt(REVIEWS), 0.05)
    day = np.sort(np.where(rng.random(day.shape) < ATTENDED, day, math.nan), axis=1)
    left = np.nanmax(np.where(day < began[:, np.newaxis], day, 0.0), axis=1)
    right = np.nanmin(np.where(day >= began[:, np.newaxis], day, math.inf), axis=1)
    return left, right, patient


def both_ways(rng: np.random.Generator, patients: int, onset: Onset) -> tuple[RestrictedMean, RestrictedMean]:
    """The mean with the error that leaves out each patient, and with that of 200 parts."""
    left, right, patient = lids(rng, patients, onset)
    usual, found = restricted_mean._PARTS, []
    for parts in (patients, usual):
        restricted_mean._PARTS = parts  # type: ignore[misc]
        found.append(interval_restricted_mean(left=left, right=right, until=UNTIL, patient=patient))
    restricted_mean._PARTS = usual  # type: ignore[misc]
    return found[0], found[1]


def row(patients: int, onset: Onset) -> str:
    """A line of the table."""
    rng = np.random.default_rng([patients, round(onset.half_after)])
    pairs = [pair for _ in range(REGISTERS) if math.isfinite((pair := both_ways(rng, patients, onset))[0].estimate)]
    ratio = np.array([parts.standard_error / each.standard_error for each, parts in pairs])
    held = [
        np.mean([limits.low <= onset.mean() <= limits.high for mean in way for limits in (mean.interval(),)])
        for way in zip(*pairs, strict=True)
    ]
    spread = np.std([each.estimate for each, _ in pairs], ddof=1)
    means = [np.mean([mean.standard_error for mean in way]) / spread for way in zip(*pairs, strict=True)]
    return (
        f"| {patients} | {onset.name} | {len(pairs)} | {ratio.mean():.3f} | {ratio.min():.3f} to {ratio.max():.3f} |"
        f" {means[0]:.2f} | {means[1]:.2f} | {held[0]:.1%} | {held[1]:.1%} |"
    )


if __name__ == "__main__":
    heads = "patients", "state", "registers", "mean ratio of errors", "range", *("error over spread, each", "parts")
    print(f"| {' | '.join((*heads, 'holds the truth, each', 'parts'))} |\n{9 * '|---'}|")
    for number in PATIENTS:
        for state in ONSETS:
            print(row(number, state), flush=True)
