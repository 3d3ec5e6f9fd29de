"""What is known of the cohorts: their size and follow-up, the baseline table, and what was adjusted for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from outcomes.cohort import Step
from outcomes.findings.results.ids import NotAdjusted

FlowStep = Step


@dataclass(frozen=True)
class Group:
    """One cohort as a whole. Completeness is Clark's index; the interval is that of the median follow-up."""

    cases: int
    patients: int | None
    divided: int | None
    median_followup_months: float | None
    followup_low: float | None
    followup_high: float | None
    followup_completeness: float | None
    assessors: tuple[tuple[str, int], ...] = ()
    masked_reviews: int | None = 0
    reviews: int = 0


@dataclass(frozen=True)
class BalanceLine:
    """One line of the baseline table.

    For numbers `grafted` and `advanced` are means with `spread` the standard deviations; for a level they are counts
    of the `known`. `smd` is the standardised difference, `smd_adjusted` the same after weighting. `adjusted_for` tells
    that the protocol asks to adjust for it, where the lids can bear it.
    """

    field: str
    label: str
    level: str
    unit: str
    grafted: float | None
    advanced: float | None
    grafted_spread: float | None
    advanced_spread: float | None
    grafted_known: int
    advanced_known: int
    grafted_missing: int
    advanced_missing: int
    smd: float | None
    smd_adjusted: float | None
    adjusted_for: bool
    consequence: bool = False
    note: str = ""


@dataclass(frozen=True)
class Followed:
    """One case on the follow-up picture; all days are counted from operation."""

    case: str
    cohort: str
    divided: int | None
    reviews: tuple[int, ...]
    events: tuple[tuple[str, int], ...]
    ended: tuple[str, int] | None
    due_until: int
    operated_on: date

    def date_of(self, day: int) -> date:
        """The date of a day counted from operation."""
        return self.operated_on + timedelta(days=day)


@dataclass(frozen=True)
class LidCourse:
    """The values of one main measure in one lid, by days since division, and the day of its first revision after division.

    `fellow` are the values of the fellow lid on the same days, where the measure has one; None where it was not measured.
    """

    case: str
    cohort: str
    measure: str
    divided_on: date
    days: tuple[int, ...]
    values: tuple[float, ...]
    fellow: tuple[float | None, ...] = ()
    revised: int | None = None

    def date_of(self, day: int) -> date:
        """The date of a day counted from division."""
        return self.divided_on + timedelta(days=day)


@dataclass(frozen=True)
class WindowFollowed:
    """How many lids of a cohort were due in a window, seen, missing, not yet due and not applicable."""

    window: str
    cohort: str
    seen: int
    missing: int
    not_due: int
    not_applicable: int


@dataclass(frozen=True)
class LeftOut:
    """A characteristic that did not enter the model, and why."""

    label: str
    reason: Literal["not_recorded", "too_few_lids", "one_surgeon_a_cover", "one_surgeon_did_both"]


@dataclass(frozen=True)
class Adjustment:
    """How the choice of cover was modelled in the whole series: what entered, what had to stay out, what is left to compare.

    `surgeons` are those adjusted for on top of the characteristics; `why_not` says why nothing could be adjusted for.
    """

    estimable: bool
    covariates: tuple[str, ...]
    left_out: tuple[LeftOut, ...]
    surgeons: int
    effective_n_grafted: float | None
    effective_n_advanced: float | None
    why_not: NotAdjusted = ""
