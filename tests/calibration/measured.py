"""Coverage of the crude and the adjusted difference of means, grades and shares, and of the win probability."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from demo.clinic.truth import Course
from outcomes.findings.estimates import Scale, adjusted_estimate, crude_estimate
from outcomes.findings.sample import sample_of
from tests.calibration.cell import COVERAGE, Cell, Count
from tests.calibration.clinic import cohorts, course, measured, true_difference, values

BY = {"width": 0.4, "height": 0.3, "distraction": -0.3}
"""How outcomes depend on what the cover is chosen by: as strongly as the retraction of the invented clinic."""
OUTCOMES: dict[str, tuple[Course, float | None]] = {
    "wide, no shift": (Course(0.2, step=0.5, low=-5, high=10, by=BY, case_sd=0.8), None),
    "wide, shift 0.5 mm": (Course(0.2, step=0.5, low=-5, high=10, by=BY, case_sd=0.8, graft=0.5), None),
    "narrow, no shift": (Course(0.5, step=0.5, low=0, high=5, by={"width": 0.1}, case_sd=0.25, visit_sd=0.1), None),
    "mostly 0, shift": (Course(-0.9, step=0.5, low=0, high=5, by={"width": 0.2}, case_sd=0.7, graft=0.5), None),
    "grades, no shift": (course("oedema"), None),
    "grades, shift": (course("oedema", effect=True), None),
    "rare share, no difference": (Course(-0.5, high=1, by={"width": 0.2}, case_sd=0.9), 1.0),
    "common share, no difference": (replace(course("retraction"), base=0.1), 1.0),
    "shares 29 points apart": (course("oedema", effect=True), 1.0),
}
GAPS = {"at random": "", "by what is recorded": "characteristics"}


def coverage(rng: np.random.Generator, each: int, outcome: str, gap: str, times: int) -> Iterator[Cell]:
    """Crude where the covers were dealt at random, adjusted where they were chosen by the defect."""
    truth, poor = OUTCOMES[outcome]
    name = "share" if poor is not None else "mean"
    situation = f"{outcome}; gaps {gap}"
    counts = [
        Count(f"crude difference of {name}s", COVERAGE, situation, each),
        Count(f"adjusted difference of {name}s", COVERAGE, situation, each),
    ]
    scale = Scale("difference of proportions") if poor is not None else Scale("difference of means", truth.step)
    exact = [true_difference(truth, poor, confounded=confounded) for confounded in (False, True)]
    for _ in range(times):
        for count, confounded in zip(counts, (False, True), strict=True):
            lids = cohorts(rng, each, confounded=confounded)
            value = values(rng, lids, truth)
            some = measured(rng, lids, value if poor is None else (value >= poor).astype(float), hidden=GAPS[gap])
            sample = sample_of(some, some.seen, lids.covariates())
            known = some.value[some.seen]
            if confounded:
                found = adjusted_estimate(known, sample, scale)
                low, high = (None, None) if found is None else (found.estimate.low, found.estimate.high)
            else:
                estimate = crude_estimate(known, sample, scale)
                low, high = estimate.low, estimate.high
            count.interval(low, high, exact[confounded])
    yield from (count.cell() for count in counts)


def wins(rng: np.random.Generator, each: int, times: int) -> Iterator[Cell]:
    """The win probability of grades without an effect, where its truth is one half exactly."""
    truth = course("oedema")
    counts = [Count(f"{how} win probability", COVERAGE, "grades, no shift", each) for how in ("crude", "weighted")]
    for _ in range(times):
        for count, confounded in zip(counts, (False, True), strict=True):
            lids = cohorts(rng, each, confounded=confounded)
            some = measured(rng, lids, -values(rng, lids, truth))
            sample = sample_of(some, some.seen, lids.covariates())
            known, scale = some.value[some.seen], Scale("win probability")
            if confounded:
                found = adjusted_estimate(known, sample, scale)
                estimate = found.estimate if found else None
            else:
                estimate = crude_estimate(known, sample, scale)
            count.interval(estimate and estimate.low, estimate and estimate.high, 0.5)
    yield from (count.cell() for count in counts)
