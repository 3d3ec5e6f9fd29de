"""What does the protocol hold beside its fields: covers, windows, measures, timed events, characteristics, queries?"""

from __future__ import annotations

from dataclasses import dataclass

COHORTS = ("grafted", "advanced")
MAIN_OUTCOMES = ("mean", "share")
AFTER_REVISION = ("as seen", "poor")
CAPTURES = ("all", "contact", "reviews")


@dataclass(frozen=True)
class Rules:
    """The numbers by which the analysis decides; each is explained beside its value in the protocol file."""

    close_margin_mm: float
    follow_up_difference_points: float
    too_few_lids: int
    at_risk_minimum: int
    cases_per_covariate: int
    overlap_minimum: float
    imbalance_smd: float
    resamples: int
    seed: int
    confidence_level: float
    power: float
    single_assessor_share: float
    public_threshold: int
    k_anonymity: int
    fellow_poor_logmar: float = 0.5


@dataclass(frozen=True)
class Cover:
    """One way of covering the flap; `cohort` is empty when its cases are in neither cohort. Days from operation."""

    id: str
    label: str
    division_days: int
    usual_division_days: tuple[int, ...]
    cohort: str = ""


@dataclass(frozen=True)
class Window:
    """One planned review: its nominal day and its first and last day after division."""

    id: str
    label: str
    nominal_days: int
    days: tuple[int, ...]

    def holds(self, day: int) -> bool:
        """Tell whether a review on that day after division falls in this window."""
        return self.days[0] <= day <= self.days[1]


@dataclass(frozen=True)
class Threshold:
    """A cut on a value: at least, or at most, the bound."""

    at_least: float | None = None
    at_most: float | None = None

    def says(self, unit: str = "", word: str = "") -> str:
        """Say the threshold, such as `1 mm or more`; `word` replaces the number where levels have names."""
        bound = word or f"{self.bound:g}"
        return f"{bound}{' ' + unit if unit else ''} or {'more' if self.at_least is not None else 'less'}"

    @property
    def bound(self) -> float:
        """The number at which the cut lies."""
        return self.at_least if self.at_least is not None else self.at_most or 0.0


@dataclass(frozen=True)
class Measure:
    """One graded or measured quantity: the review field that holds it, how it is computed, and what is a poor result.

    `important_difference` is in the unit of the field, or in percentage points where `main_outcome` is "share"; None
    where the protocol gives none. `weight` is its weight among the planned questions.
    """

    id: str
    label: str
    worse: str
    field: str = ""
    operated: str = ""
    fellow: str = ""
    main: bool = False
    poor: Threshold | None = None
    poor_from: str = ""
    poor_note: str = ""
    main_outcome: str = "mean"
    important_difference: float | None = None
    important_reason: str = ""
    weight: float = 1.0
    after_revision: str = "as seen"

    @property
    def important_margin(self) -> float | None:
        """The important difference on the scale of the estimate: a share as a proportion from 0 to 1."""
        if self.important_difference is None or self.main_outcome == "mean":
            return self.important_difference
        return self.important_difference / 100


@dataclass(frozen=True)
class Timed:
    """One thing that happens in time, dated in the events or seen only at reviews. `good`: sooner is better.

    `main_month` is the month at which its verdict is given, 0 for no verdict.
    """

    id: str
    label: str
    origin: str
    clock: str
    months: tuple[int, ...]
    kind: str = ""
    competing: tuple[str, ...] = ()
    measure: str = ""
    when: Threshold | None = None
    good: bool = False
    main: bool = False
    main_month: int = 0


@dataclass(frozen=True)
class Characteristic:
    """One line of the baseline table: exactly one of the ways to get its value is set.

    `adjust` is its place in the order in which characteristics enter the model of the cover, 0 for never.
    """

    id: str
    label: str
    field: str = ""
    values: tuple[str, ...] = ()
    ratio: tuple[str, ...] = ()
    years_since: str = ""
    year_of: str = ""
    levels_of: str = ""
    days_between: tuple[str, ...] = ()
    unit: str = ""
    adjust: int = 0
    consequence: bool = False


@dataclass(frozen=True)
class Query:
    """A legal but odd row: a field over another field, under a bound, or over a bound.

    With `lacks_event`, the bound makes the row odd only when the case has no event of that kind.
    """

    id: str
    sheet: str
    field: str
    says: str
    over_field: str = ""
    under: float | None = None
    over: float | None = None
    lacks_event: str = ""
