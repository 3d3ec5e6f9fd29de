"""Invented patients, with the end of their follow-up."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
from faker import Faker

from demo.clinic.truth import Mortality, Truth

Row = dict[str, Any]


@dataclass(frozen=True)
class Person:
    """One invented patient: the row that is written, and what the clinic cannot see."""

    row: Row
    age: float
    first_operation: date
    died_on: date | None
    died_unheard: bool
    left_on: date | None
    left_by: str
    frailty: dict[str, float]
    """What both lids of this person share, a standard normal for each measure."""

    @property
    def last_day(self) -> date | None:
        """The last day on which anything can be seen of this person, if there is one before the closing date."""
        return min((day for day in (self.died_on, self.left_on) if day), default=None)


def stream(seed: int, *part: int) -> np.random.Generator:
    """A source of chance for one part, untouched by how much chance any other part uses."""
    return np.random.default_rng([seed, *part])


def weekday(day: date) -> date:
    """The day itself, or the Monday after a weekend."""
    return day + timedelta(days=max(0, 7 - day.weekday()) if day.weekday() > 4 else 0)


def one_of(rng: np.random.Generator, shares: dict[str, float]) -> str:
    """One name, drawn by its share."""
    names, weights = list(shares), np.array(list(shares.values()), dtype=float)
    return names[int(rng.choice(len(names), p=weights / weights.sum()))]


def codes(seed: int, number: int) -> list[str]:
    """Study codes that say nothing about anybody."""
    fake = Faker("en_GB")
    fake.seed_instance(seed)
    return [fake.unique.bothify("VB-###?", letters="ACEFHKMNPRTXY") for _ in range(number)]


def dies_after(rng: np.random.Generator, age: float, mortality: Mortality) -> float:
    """Years until death when the yearly hazard doubles every so many years of age."""
    if mortality.yearly_at_72 == 0:
        return float("inf")
    growth = np.log(2) / mortality.doubling_years
    hazard = mortality.yearly_at_72 * np.exp(growth * (age - 72))
    return float(np.log1p(growth * rng.exponential() / hazard) / growth)


def leaves(rng: np.random.Generator, mortality: Mortality) -> tuple[float, str]:
    """Years until the patient moves away or withdraws, and which of the two."""
    hazards = {"moved away": mortality.moves_yearly, "withdrawn": mortality.withdraws_yearly}
    waits = {how: rng.exponential() / yearly if yearly else float("inf") for how, yearly in hazards.items()}
    how = min(waits, key=lambda name: waits[name])
    return waits[how], how


def in_time(start: date, years: float, closing: date) -> date | None:
    """The date so many years on, unless it lies after the closing date."""
    days = years * 365.25
    return start + timedelta(days=int(days)) if days < (closing - start).days else None


def habits(rng: np.random.Generator) -> Row:
    """Smoking and illnesses, with the blanks and unknowns of real notes."""

    def known(share: float) -> str | None:
        return one_of(rng, {"yes": share * 0.96, "no": (1 - share) * 0.96, "unknown": 0.02, "": 0.02}) or None

    return {
        "smoker": one_of(rng, {"never": 0.5, "former": 0.31, "current": 0.13, "unknown": 0.04, "": 0.02}) or None,
        "diabetes": known(0.15),
        "immunosuppressed": known(0.06),
        "anticoagulated": known(0.24),
        "prior_lid_radiotherapy": known(0.02),
    }


def person(seed: int, index: int, code: str, truth: Truth) -> Person:
    """One invented patient, from a stream of chance of their own."""
    rng = stream(seed, 1, index)
    age = float(np.clip(rng.normal(truth.mean_age, 10), 38, 95))
    first = weekday(truth.opened + (truth.last_operation - truth.opened) * float(rng.uniform()))
    died_on = in_time(first + timedelta(days=70), dies_after(rng, age, truth.mortality), truth.closing)
    years, how = leaves(rng, truth.mortality)
    row = {
        "patient_id": code,
        "birth_year": first.year - round(age),
        "sex": one_of(rng, {"female": 0.515, "male": 0.475, "unknown": 0.01}),
    } | habits(rng)
    return Person(
        row=row,
        age=age,
        first_operation=first,
        died_on=died_on,
        died_unheard=bool(rng.uniform() > truth.mortality.reported),
        left_on=in_time(first + timedelta(days=120), years, truth.closing),
        left_by=how,
        frailty={name: float(rng.normal()) for name in truth.courses},
    )


def people(seed: int, truth: Truth) -> list[Person]:
    """Everybody, in order of first operation."""
    everybody = [person(seed, index, code, truth) for index, code in enumerate(codes(seed, truth.patients))]
    return sorted(everybody, key=lambda who: (who.first_operation, who.row["patient_id"]))
