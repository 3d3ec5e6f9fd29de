"""Shares with a poor result and measured values: crude, tested, and adjusted for a confounder."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import polars as pl
from scipy.special import expit, logit

from outcomes.cohort import CaseSeries, Selection
from outcomes.findings.measure_findings import compare_shares, compare_values
from outcomes.findings.propensity import CoverChoice, choose_covers
from outcomes.findings.results import Adjustment
from outcomes.protocol import default_protocol
from tests.calibration.cell import COVERAGE, ERROR, Cell, Count
from tests.calibration.lids import Numbers, fates, normals, patients, question, second
from tests.rows import AS_OF

DEFAULT = default_protocol()
PROTOCOL = replace(DEFAULT, rules=replace(DEFAULT.rules, resamples=400))
NOTCH = DEFAULT.measure("notching")
LEVEL = 0.95
HALF = 0.5
NOTHING = CoverChoice(
    Adjustment(False, (), (), False, None, None, 0, "not tried"), None, np.empty((0, 0)), None, np.empty((0, 0))
)


def shares(rng: np.random.Generator, each: int, rates: tuple[float, float], times: int) -> Iterator[Cell]:
    """Proportion, difference, and the permutation test where the two rates are one."""
    said = f"{rates[0]:g} and {rates[1]:g}"
    one = Count("proportion", COVERAGE, said, each, discrete=True)
    apart = Count("difference of proportions", COVERAGE, said, each, discrete=True)
    test = Count("permutation of proportions", ERROR, said, each, discrete=True)
    patient, rate = patients(each), np.where(second(each), rates[1], rates[0])
    for _ in range(times):
        poor = (fates(rng, patient) < rate).astype(float)
        found = compare_shares(question(rng, poor, patient), NOTCH.poor, NOTHING, LEVEL)
        one.interval(found.advanced.low, found.advanced.high, rates[1])
        apart.interval(found.contrast.low, found.contrast.high, rates[1] - rates[0])
        test.test(found.contrast.p)
    yield from (each.cell() for each in ((one, apart, test) if rates[0] == rates[1] else (apart,)))


def lumpy(rng: np.random.Generator, patient: np.ndarray, kind: str) -> Numbers:
    """Values in half millimetres, the cohorts alike: spread wide, spread narrow, or mostly 0 as notches are."""
    raw = normals(rng, patient) * {"wide": 1.0, "narrow": 0.5, "mostly 0": 1.0}[kind] - (
        0.5 if kind == "mostly 0" else 0.0
    )
    return np.maximum(raw, 0.0) if kind == "mostly 0" else raw


def values(rng: np.random.Generator, each: int, kind: str, shift: float, times: int) -> Iterator[Cell]:
    """The shift of values written down in half millimetres, and the permutation test of ranks where there is none."""
    apart = Count("Hodges-Lehmann shift", COVERAGE, f"{kind}, shift {shift:g} mm", each, discrete=True)
    test = Count("permutation of ranks", ERROR, kind, each)
    patient = patients(each)
    for _ in range(times):
        value = np.round((lumpy(rng, patient, kind) + shift * second(each)) / HALF) * HALF
        found = compare_values(question(rng, value, patient, step=HALF), NOTCH, PROTOCOL, NOTHING)
        apart.interval(found.contrast.low, found.contrast.high, shift)
        test.test(found.contrast.p)
    yield apart.cell()
    if shift == 0:
        yield test.cell()


def series(confounder: Numbers, patient: np.ndarray) -> CaseSeries:
    """A case series of which only the covers, the patients and one characteristic are known."""
    first, *others = sorted((each for each in PROTOCOL.characteristics if each.adjust), key=lambda each: each.adjust)
    each = confounder.size // 2
    cases = pl.DataFrame(
        {
            "cohort": np.where(second(each), "advanced", "grafted"), "patient_id": patient, f"is:{first.id}": confounder,
            **{f"is:{one.id}": pl.Series([None] * confounder.size, dtype=pl.String if one.levels_of else pl.Float64) for one in others},
        }
    )  # fmt: skip
    nothing = pl.DataFrame()
    return CaseSeries(PROTOCOL, Selection(AS_OF), cases, nothing, nothing, nothing, ())


def confounded(rng: np.random.Generator, each: int) -> Numbers:
    """The confounder, higher by 0.8 standard deviations in the grafted."""
    return rng.normal(size=2 * each) - 0.8 * second(each)


def overlap_truth(base: float, effect: float) -> float:
    """The difference of poor shares, averaged over the lids that could have had either cover, by numerical integration."""
    x = np.linspace(-6, 6, 4001)
    density = np.exp(-(x**2) / 2), np.exp(-((x + 0.8) ** 2) / 2)
    both = density[0] * density[1] / (density[0] + density[1])
    gap = expit(logit(base) + 0.8 * x + effect) - expit(logit(base) + 0.8 * x)
    return float((both * gap).sum() / both.sum())


def adjusted_shares(rng: np.random.Generator, each: int, base: float, effect: float, times: int) -> Iterator[Cell]:
    """The weighted difference of proportions when a confounder drives both cover and result."""
    said = f"base {base:g}, {'an effect' if effect else 'no effect'}"
    apart = Count("adjusted difference of proportions", COVERAGE, said, each, discrete=True)
    patient, truth = patients(each), overlap_truth(base, effect)
    for _ in range(times):
        confounder = confounded(rng, each)
        chance = expit(logit(base) + 0.8 * confounder + effect * second(each))
        poor = (fates(rng, patient) < chance).astype(float)
        choice = choose_covers(_without_resamples(series(confounder, patient)))
        found = compare_shares(question(rng, poor, patient), NOTCH.poor, choice, LEVEL).adjusted
        apart.interval(found and found.low, found and found.high, truth)
    yield apart.cell()


def _without_resamples(one: CaseSeries) -> CaseSeries:
    """The limits of an adjusted share need no resamples."""
    return replace(one, protocol=replace(PROTOCOL, rules=replace(PROTOCOL.rules, resamples=1)))


def adjusted_values(rng: np.random.Generator, each: int, shift: float, times: int) -> Iterator[Cell]:
    """The weighted shift, with the model of the cover refitted in 400 resamples of the patients."""
    apart = Count("adjusted Hodges-Lehmann shift", COVERAGE, f"shift {shift:g} mm", each, discrete=True)
    patient = patients(each)
    for _ in range(times):
        confounder = confounded(rng, each)
        raw = 0.6 * confounder + 0.8 * normals(rng, patient) + shift * second(each)
        choice = choose_covers(series(confounder, patient))
        found = compare_values(
            question(rng, np.round(raw / HALF) * HALF, patient, step=HALF), NOTCH, PROTOCOL, choice
        ).adjusted
        apart.interval(found and found.low, found and found.high, shift)
    yield apart.cell()
