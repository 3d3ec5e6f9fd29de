"""The tables and parts of a protocol beside its fields: each class states the keys of one, their types and their defaults."""

from __future__ import annotations

from typing import Annotated

import pydantic
from pydantic.dataclasses import dataclass

from outcomes.protocol.value_types import (
    Amount,
    Bound,
    Count,
    Days,
    Flag,
    Line,
    Name,
    OptionalNumber,
    PositiveAmount,
    Share,
    Whole,
    Wholes,
    Word,
    Words,
    allowing,
    one_of,
)

COHORTS = ("grafted", "advanced")
CAPTURES = ("all", "contact", "reviews")
STRICT = pydantic.ConfigDict(extra="forbid", validate_by_name=True)


@dataclass(frozen=True, config=STRICT)
class Scale:
    """The words of a grading, counted from 0, and where it was published; "own scale" when this project defines it."""

    id: Word
    levels: Words
    source: Line = ""


@dataclass(frozen=True, config=STRICT)
class Rules:
    """The numbers by which the analysis decides; each is explained beside its value in the protocol file."""

    close_margin_mm: Amount
    follow_up_difference_points: Amount
    too_few_lids: Whole
    at_risk_minimum: Whole
    cases_per_covariate: Whole
    overlap_minimum: Amount
    imbalance_smd: Amount
    confidence_level: Share
    power: Share
    single_assessor_share: Share
    public_threshold: Whole
    k_anonymity: Whole
    fellow_poor_logmar: Amount = 0.5


@dataclass(frozen=True, config=STRICT)
class Primary:
    """The window of the planned questions."""

    window: Line = ""


@dataclass(frozen=True, config=STRICT)
class Ends:
    """The kinds of events that end follow-up."""

    follow_up: Words = ()


@dataclass(frozen=True, config=STRICT)
class Cover:
    """One way of covering the flap; `cohort` is empty when its cases are in neither cohort. Days from operation."""

    id: Word
    label: Word
    division_days: Whole
    usual_division_days: Days
    cohort: Annotated[str, one_of(*COHORTS, "")] = ""


@dataclass(frozen=True, config=STRICT)
class Window:
    """One planned review: its nominal day and its first and last day after division."""

    id: Name
    label: Word
    nominal_days: Whole
    days: Days

    def holds(self, day: int) -> bool:
        """Tell whether a review on that day after division falls in this window."""
        return self.days[0] <= day <= self.days[1]


def with_unit(number: str, unit: str) -> str:
    """Put the unit behind a printed number; per cent stands close."""
    return f"{number}{unit}" if unit == "%" else f"{number} {unit}".strip()


@dataclass(frozen=True, config=STRICT)
class Threshold:
    """A cut on a value: at least, or at most, the bound."""

    at_least: Bound = None
    at_most: Bound = None

    def __post_init__(self) -> None:
        if (self.at_least is None) == (self.at_most is None):
            raise ValueError

    def says(self, unit: str = "", word: str = "") -> str:
        """Say the threshold, such as `1 mm or more`; `word` replaces the number where levels have names."""
        bound = word or f"{self.bound:g}"
        return f"{with_unit(bound, unit)} or {'more' if self.at_least is not None else 'less'}"

    @property
    def bound(self) -> float:
        """The number at which the cut lies."""
        return self.at_least if self.at_least is not None else self.at_most or 0.0


@dataclass(frozen=True, config=STRICT)
class Computed:
    """The two review fields whose difference, operated minus fellow, is the value of a measure."""

    operated: Word
    fellow: Word


Cut = Annotated[Threshold | None, allowing("{ at_least = NUMBER } or { at_most = NUMBER }")]


@dataclass(frozen=True, config=STRICT)
class Measure:
    """One graded or measured quantity: the review field that holds it, how it is computed, and what is a poor result.

    `important_difference` is in the unit of the field, or in percentage points where `main_outcome` is "share"; None
    where the protocol gives none. `weight` is its weight among the planned questions.
    """

    id: Name
    label: Word
    worse: Annotated[str, one_of("higher", "lower")]
    field: Line = ""
    computed: Annotated[Computed | None, allowing('{ operated = "FIELD", fellow = "FIELD" }')] = None
    main: Flag = False
    poor: Cut = None
    poor_from: Line = ""
    poor_note: Line = ""
    main_outcome: Annotated[str, one_of("mean", "share")] = "mean"
    important_difference: OptionalNumber = None
    important_reason: Line = ""
    weight: PositiveAmount = 1.0
    after_revision: Annotated[str, one_of("as seen", "poor")] = "as seen"

    @property
    def operated(self) -> str:
        """The field of the operated lid from which the value is computed; empty when it is not computed."""
        return self.computed.operated if self.computed else ""

    @property
    def fellow(self) -> str:
        """The field of the fellow lid from which the value is computed; empty when it is not computed."""
        return self.computed.fellow if self.computed else ""

    @property
    def important_margin(self) -> float | None:
        """The important difference on the scale of the estimate: a share as a proportion from 0 to 1."""
        if self.important_difference is None or self.main_outcome == "mean":
            return self.important_difference
        return self.important_difference / 100


@dataclass(frozen=True, config=STRICT)
class Timed:
    """One thing that happens in time, dated in the events or seen only at reviews. `good`: sooner is better.

    `main_month` is the month at which its verdict is given, 0 for no verdict.
    """

    id: Name
    label: Word
    origin: Annotated[str, one_of("events", "reviews"), pydantic.Field(validation_alias="from")]
    clock: Annotated[str, one_of("operation", "division")]
    months: Wholes
    kind: Line = ""
    competing: Words = ()
    measure: Line = ""
    when: Cut = None
    good: Flag = False
    main: Flag = False
    main_month: Whole = 0


@dataclass(frozen=True, config=STRICT)
class Characteristic:
    """One line of the baseline table: exactly one of the ways to get its value is set.

    `adjust` is its place in the order in which characteristics enter the model of the cover, 0 for never.
    """

    id: Word
    label: Word
    field: Line = ""
    values: Annotated[Words, pydantic.Field(validation_alias="is")] = ()
    ratio: Words = ()
    years_since: Line = ""
    year_of: Line = ""
    levels_of: Line = ""
    days_between: Words = ()
    unit: Line = ""
    adjust: Whole = 0
    consequence: Flag = False


@dataclass(frozen=True, config=STRICT)
class Query:
    """A valid but unusual row: a field over another field, under a bound, or over a bound.

    With `lacks_event`, the bound makes the row odd only when the case has no event of that kind.
    """

    id: Word
    sheet: Line
    field: Line
    says: Line
    over_field: Line = ""
    under: OptionalNumber = None
    over: OptionalNumber = None
    lacks_event: Line = ""


@dataclass(frozen=True, config=STRICT)
class CounselRules:
    """The numbers by which local figures are given or withheld; `terms` and `ranges` name characteristics."""

    fewest_lids: Count
    cases_per_term: Count
    terms: Words
    ranges: Words
    ages: Annotated[Days, allowing("[youngest, oldest], in whole years")]
