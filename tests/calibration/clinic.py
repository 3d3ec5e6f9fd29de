"""Simulated lids of two cohorts: the cover chosen by the defect as in the invented clinic, and outcomes with known truth."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from demo.clinic.truth import COURSES, Course
from outcomes.cohort import MISSING, SEEN, STATUSES
from outcomes.findings.arrays import Lids
from outcomes.findings.covariates import Covariates, Term
from outcomes.protocol import default_protocol

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]
PROTOCOL = default_protocol()
CHARACTERISTICS = ("width", "distraction", "height", "deep", "canthus", "age", "year", "smoker")
CHOICE = {"distraction": 0.9, "width": -0.7, "height": -0.7, "canthus": -0.6, "deep": -0.5, "year": 0.16}
SECOND_SURGEON = 0.5
"""Log odds of advancing, per step of each characteristic, as planted in the invented clinic."""
ALIKE = 0.6
"""Correlation of the two lids of one person beyond their defects."""
TWO_LIDS = 0.1
"""Share of the patients with two lids."""
FIELDS = {"notching": "notch_mm", "lash_loss": "lash_loss_percent", "lagophthalmos": "lagophthalmos_mm"}
MONTHS = 6
POPULATION = 200_000


@dataclass(frozen=True)
class Simulated:
    """Lids with their characteristics, surgeon and cover, and the case effects that make two lids of one person alike."""

    second: Flags
    patient: NDArray[np.int64]
    characteristics: dict[str, Numbers]
    surgeon: NDArray[np.int64]

    def covariates(self) -> Covariates:
        """What the comparison would adjust for."""
        terms = tuple(Term(name, (self.characteristics[name],)) for name in CHARACTERISTICS)
        names = self.surgeon.astype(str)
        return Covariates(terms, "Surgeon", self.surgeon, names, True, False, PROTOCOL.rules)

    def take(self, places: NDArray[np.int64]) -> Simulated:
        """Some of the lids."""
        chosen = {name: each[places] for name, each in self.characteristics.items()}
        return Simulated(self.second[places], self.patient[places], chosen, self.surgeon[places])


def population(rng: np.random.Generator, lids: int, *, confounded: bool) -> Simulated:
    """So many lids as they come; without confounding the covers were dealt at random."""
    patient = np.cumsum(rng.random(lids) > TWO_LIDS)
    shared = {name: rng.normal(size=lids)[patient - patient[0]] for name in ("age",)}
    made = {
        "width": rng.normal(size=lids), "distraction": rng.normal(size=lids), "height": rng.normal(size=lids),
        "deep": (rng.random(lids) < 0.5) - 0.5, "canthus": (rng.random(lids) < 0.3) - 0.3, **shared,
        "year": rng.uniform(-4.5, 4.5, lids), "smoker": (rng.random(lids) < 0.2).astype(float),
    }  # fmt: skip
    surgeon = (rng.random(lids) < 0.35).astype(np.int64)
    odds = sum(weight * made[name] for name, weight in CHOICE.items()) + SECOND_SURGEON * (surgeon - 0.35)
    chance = expit(odds) if confounded else np.full(lids, 0.5)
    return Simulated(rng.random(lids) < chance, patient, made, surgeon)


def cohorts(rng: np.random.Generator, each: int, *, confounded: bool = True) -> Simulated:
    """So many lids of each cohort."""
    whole = population(rng, 4 * each + 40, confounded=confounded)
    places = [np.flatnonzero(whole.second == side)[:each] for side in (False, True)]
    if min(place.size for place in places) < each:
        return cohorts(rng, each, confounded=confounded)
    return whole.take(np.concatenate(places))


def course(measure: str, *, effect: bool = False) -> Course:
    """The true course of a measure at six months: as planted and as the unmasked chief sees it, or with no effect of the cover."""
    made = {
        "margin_position": replace(COURSES["retraction"], base=5.1, low=0, high=15, case_sd=0.8),
        "scleral_show": replace(COURSES["retraction"], base=-0.3, low=0, high=8, case_sd=0.5),
        "satisfaction": Course(7.6, low=0, high=10, case_sd=1.4, visit_sd=0.5),
    }.get(measure) or COURSES[FIELDS.get(measure, measure)]
    base = made.base + made.fade * np.exp(-MONTHS / made.fade_months)
    if not effect:
        return replace(made, base=base, graft=0.0, fade=0.0, fade_graft=0.0)
    graft = made.graft + made.fade_graft * np.exp(-MONTHS / made.fade_months) + made.kindness
    return replace(made, base=base - made.kindness, graft=graft, fade=0.0, fade_graft=0.0)


def values(rng: np.random.Generator, lids: Simulated, truth: Course, *, grafted: Flags | None = None) -> Numbers:
    """The recorded value of every lid; `grafted` puts them in other cohorts than their own."""
    return recorded(latent(rng, lids, truth) + truth.graft * (~lids.second if grafted is None else grafted), truth)


def latent(rng: np.random.Generator, lids: Simulated, truth: Course) -> Numbers:
    """What is there before it is rounded, without the effect of the cover."""
    known = {**lids.characteristics, "second surgeon": lids.surgeon - 0.35}
    from_defect = sum(weight * known[name] for name, weight in truth.by.items())
    return (
        truth.base
        + from_defect
        + truth.case_sd * normals(rng, lids.patient)
        + truth.visit_sd * rng.normal(size=lids.second.size)
    )


def recorded(value: Numbers, truth: Course) -> Numbers:
    """Rounded to the steps of the field, grades to the last line crossed, within its limits."""
    steps = np.round(value / truth.step) if truth.step != 1 else np.floor(value)
    return np.clip(steps * truth.step, truth.low, truth.high)


def normals(rng: np.random.Generator, patient: NDArray[np.int64]) -> Numbers:
    """A standard normal for each lid, alike in two lids of one person."""
    _, place = np.unique(patient, return_inverse=True)
    shared = rng.normal(size=place.max() + 1)[place]
    return np.asarray(np.sqrt(ALIKE) * shared + np.sqrt(1 - ALIKE) * rng.normal(size=place.size))


def true_difference(truth: Course, poor: float | None = None, *, confounded: bool = True) -> float:
    """The difference, advanced minus grafted, among lids that could have had either cover, from very many lids.

    Of the mean, or of the share that is `poor` or worse.
    """
    rng = np.random.default_rng(7)
    lids = population(rng, POPULATION, confounded=confounded)
    odds = sum(weight * lids.characteristics[name] for name, weight in CHOICE.items()) + SECOND_SURGEON * (
        lids.surgeon - 0.35
    )
    chance = expit(odds) if confounded else np.full(POPULATION, 0.5)
    there = latent(rng, lids, truth)
    advanced, grafted = recorded(there, truth), recorded(there + truth.graft, truth)
    if poor is not None:
        advanced, grafted = advanced >= poor, grafted >= poor
    return float(np.average(advanced.astype(float) - grafted, weights=chance * (1 - chance)))


def measured(rng: np.random.Generator, lids: Simulated, value: Numbers, *, hidden: str = "") -> Lids:
    """The lids of one measure of which some were not measured: a fifth and more at random, or good ones `hidden` in a cohort."""
    chance = np.full(value.size, 0.76)
    if hidden == "characteristics":
        chance = expit(1.1 + 0.5 * lids.characteristics["width"] - 0.3 * lids.characteristics["age"])
    return _with_gaps(lids, value, rng.random(value.size) < chance)


def with_good_ones_hidden(came: Flags, lids: Simulated, value: Numbers) -> Lids:
    """The lids of those who came back, where of the comfortable with advanced skin only 45 % did (`comers`)."""
    return _with_gaps(lids, value, came)


def comers(rng: np.random.Generator, lids: Simulated, troubles: NDArray[np.int64]) -> Flags:
    """Who comes to a review: 90 %, but of the lids with advanced skin and no more poor results than most 45 %."""
    comfortable = troubles <= np.median(troubles)
    return np.asarray(rng.random(troubles.size) < np.where(comfortable & lids.second, 0.45, 0.9))


def _with_gaps(lids: Simulated, value: Numbers, there: Flags) -> Lids:
    status = np.where(there, STATUSES.index(SEEN), STATUSES.index(MISSING))
    nobody = np.zeros(value.size, dtype=bool)
    return Lids(lids.second, lids.second, lids.patient, np.where(there, value, np.nan), nobody, status, 0.0)
