"""The jackknife from derivatives beside that which fits every model again, at the size where the first takes over.

`python -m tests.calibration.linearised` prints a table of Markdown: about ten minutes of one processor.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from outcomes.statistics import linearised
from outcomes.statistics.augmented_overlap import overlap_share_difference
from outcomes.statistics.cover_model import CoverModel, cover_model
from outcomes.statistics.overlap_mean import overlap_mean_difference
from outcomes.statistics.result import TestedEstimate
from outcomes.statistics.two_cohorts import TwoCohorts, two_cohorts
from outcomes.statistics.win_probability import overlap_win_probability

Numbers = NDArray[np.float64]
Estimator = Callable[[Numbers, CoverModel], TestedEstimate]
REGISTERS = 200
PATIENTS, SURGEONS = (310, 400), (0, 12)
SECOND_LIDS = 0.1  # of the patients


@dataclass(frozen=True)
class Outcome:
    """An outcome that the characteristics decide and the cover does not, and how its difference is estimated."""

    name: str
    of: Callable[[np.random.Generator, Numbers], Numbers]
    estimate: Estimator


def _share(level: float) -> Callable[[np.random.Generator, Numbers], Numbers]:
    return lambda rng, frailty: (rng.random(frailty.size) < 1 / (1 + np.exp(-level - frailty))).astype(np.float64)


OUTCOMES = (
    Outcome("share of about 0.3", _share(-1.0), lambda value, cover: overlap_share_difference(value, cover).difference),
    Outcome(
        "share of about 0.05", _share(-3.4), lambda value, cover: overlap_share_difference(value, cover).difference
    ),
    Outcome("mean", lambda rng, frailty: frailty + rng.normal(0, 1, frailty.size), overlap_mean_difference),
    Outcome(
        "win probability of four grades",
        lambda rng, frailty: np.clip(np.round(1 + frailty + rng.normal(0, 1, frailty.size)), 0, 3),
        overlap_win_probability,
    ),
)


def cohorts(rng: np.random.Generator, patients: int, surgeons: int) -> tuple[TwoCohorts, Numbers]:
    """Lids whose cover was chosen by eight characteristics and the surgeon, and what of these decides the outcomes."""
    patient = np.append(np.arange(patients), rng.choice(patients, int(SECOND_LIDS * patients), replace=False))
    traits = rng.normal(0, 1, (patient.size, 8))
    surgeon = rng.integers(0, surgeons + 1, patient.size)
    habits = np.linspace(-0.5, 0.5, surgeons + 1)[surgeon]
    second = rng.random(patient.size) < 1 / (1 + np.exp(-(0.6 * traits[:, 0] - 0.4 * traits[:, 1] + habits)))
    columns = np.column_stack([traits, *((surgeon == each).astype(float) for each in range(1, surgeons + 1))])
    likeness = rng.normal(0, 0.5, patients)[patient]
    return two_cohorts(second, patient, covariates=columns), 0.5 * traits[:, 0] + 0.3 * traits[:, 2] + likeness


def both_ways(outcome: Outcome, values: Numbers, lids: TwoCohorts) -> tuple[TestedEstimate, TestedEstimate]:
    """The estimate with the jackknife that fits again, and with that from derivatives."""
    usual, found = linearised.REFITTED_UP_TO, []
    for refitted_up_to in (lids.patients, 0):
        linearised.REFITTED_UP_TO = refitted_up_to  # type: ignore[misc]
        found.append(outcome.estimate(values, cover_model(lids)))
    linearised.REFITTED_UP_TO = usual  # type: ignore[misc]
    return found[0], found[1]


def rows(patients: int, surgeons: int) -> list[str]:
    """A line of the table for each outcome; the true difference is none."""
    rng = np.random.default_rng([patients, surgeons])
    found: dict[str, list[tuple[TestedEstimate, TestedEstimate]]] = {each.name: [] for each in OUTCOMES}
    for _ in range(REGISTERS):
        lids, frailty = cohorts(rng, patients, surgeons)
        for each in OUTCOMES:
            found[each.name].append(both_ways(each, each.of(rng, frailty), lids))
    return [f"| {patients} | {8 + surgeons} | {name} | {_row(pairs)} |" for name, pairs in found.items()]


def _row(pairs: list[tuple[TestedEstimate, TestedEstimate]]) -> str:
    widths = np.array([[each.high - each.low for each in pair] for pair in pairs])
    ratio = widths[:, 1] / widths[:, 0]
    held = [np.mean([pair[way].low <= pair[way].none <= pair[way].high for pair in pairs]) for way in (0, 1)]
    return " | ".join(
        [f"{ratio.mean():.3f}", f"{ratio.min():.3f} to {ratio.max():.3f}", *(f"{100 * each:.1f} %" for each in held)]
    )


def main() -> None:
    """Print the table."""
    print(f"{REGISTERS} simulated registers a line, no true difference.\n")
    print("| patients | terms | outcome | mean ratio of widths | range | holds none, fitted again | from derivatives |")
    print("|---|---|---|---|---|---|---|")
    for patients in PATIENTS:
        for surgeons in SURGEONS:
            print("\n".join(rows(patients, surgeons)), flush=True)


if __name__ == "__main__":
    main()
