"""Frozen results of the comparison, which a report shows and comparison.json holds number for number.

A number that cannot be estimated
is None, and `note` says why; a count is None only in public output. Signs: advanced minus grafted. Shares are 0 to 1,
times are months, unless a name says days.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from outcomes.cohort import Choice, Step

Reading = Literal["better with advanced", "better with graft", "no clear difference", "too few to say"]
Outcome = Literal["poor", "value"]
Clock = Literal["division", "operation"]
Level = Literal["own eyes", "journal", "public"]
Withheld = Literal["", "public"]
FlowStep = Step


@dataclass(frozen=True)
class Stamp:
    """What a result is stamped with: the register, the as-of day, and the filters.

    In public output counts from 1 to one less than `suppressed_below` are left out.
    """

    cases: int
    digest: str
    frozen: str
    as_of: date
    software: str
    protocol: str
    fingerprint: str
    selection: tuple[Choice, ...]
    suppressed_below: int = 0


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
class Share:
    """How many lids of a cohort had a poor result, of how many seen; who was missing, not yet due, not applicable."""

    n: int
    missing: int | None
    not_due: int | None
    not_applicable: int | None
    patients: int | None
    events: int
    proportion: float | None
    low: float | None
    high: float | None

    @property
    def due(self) -> int:
        """The lids that were due in the window: those seen, and those missing."""
        return self.n + (self.missing or 0)


@dataclass(frozen=True)
class Values:
    """The value itself in one cohort: middle and quartiles, and how many lids had each value (every lid is there)."""

    n: int
    missing: int | None
    not_due: int | None
    not_applicable: int | None
    patients: int | None
    median: float | None
    q1: float | None
    q3: float | None
    counts: tuple[tuple[float, int], ...]

    @property
    def due(self) -> int:
        """The lids that were due in the window: those seen, and those missing."""
        return self.n + (self.missing or 0)


@dataclass(frozen=True)
class Contrast:
    """Advanced minus grafted, with its interval; `p` is exact, or has a Monte Carlo error."""

    kind: str
    estimate: float | None
    low: float | None
    high: float | None
    p: float | None = None
    p_adjusted: float | None = None
    exact: bool = False
    monte_carlo_error: float | None = None


@dataclass(frozen=True)
class Adjusted:
    """The contrast in the overlap population, after weighting for how the covers were chosen."""

    kind: str
    estimate: float | None
    low: float | None
    high: float | None
    effective_n_grafted: float
    effective_n_advanced: float
    e_value: float | None = None
    e_value_limit: float | None = None


@dataclass(frozen=True)
class Range:
    """The least and greatest difference over everything that the missing lids could have been."""

    low: float | None
    high: float | None


@dataclass(frozen=True)
class Finding:
    """One measure, in one window, told as a share of poor results or as the value itself."""

    measure: str
    window: str
    outcome: Outcome
    clock: Clock
    grafted: Share | Values
    advanced: Share | Values
    contrast: Contrast
    adjusted: Adjusted | None
    if_missing: Range
    reading: Reading
    primary: bool = False
    detectable: float | None = None
    last_known: Contrast | None = None
    as_planned: Contrast | None = None
    since_operation: Contrast | None = None
    masked: Contrast | None = None
    unmasked: Contrast | None = None
    reasons: tuple[str, ...] = ()
    note: str = ""
    withheld: Withheld = ""


@dataclass(frozen=True)
class TimedShare:
    """One cohort at one moment: lids that set out, events so far, and the share with its interval.

    `due` lids could have been followed so long, and `lost` of them were not, nor had the event before.
    """

    n: int
    events: int
    estimate: float | None
    low: float | None
    high: float | None
    due: int | None = 0
    lost: int | None = 0


@dataclass(frozen=True)
class TimedFinding:
    """One timed event at one moment after day 0 of its clock; `if_missing` is the range over all the lost could have been."""

    event: str
    method: str
    clock: Clock
    at_months: int
    grafted: TimedShare
    advanced: TimedShare
    contrast: Contrast
    reading: Reading
    adjusted: Adjusted | None = None
    if_missing: Range = Range(None, None)
    as_planned: Contrast | None = None
    reasons: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class CurvePoint:
    """One step of a curve: from `months` on, the share who had the event, with its interval."""

    months: float
    estimate: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Curve:
    """The share of one cohort who had the event, against time, up to where too few remain at risk.

    `upper` is the other edge where the estimate is known only between two edges (interval censoring); else empty.
    """

    event: str
    cohort: str
    points: tuple[CurvePoint, ...]
    at_risk: tuple[tuple[int, int], ...]
    ends_at_months: float | None
    upper: tuple[CurvePoint, ...] = ()


@dataclass(frozen=True)
class Mean:
    """Restricted mean time to an event in months, up to `until` months."""

    event: str
    until: float | None
    grafted: float | None
    advanced: float | None
    contrast: Contrast
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
class Adjustment:
    """How the choice of cover was modelled: what entered, what had to stay out, and what is left to compare."""

    estimable: bool
    covariates: tuple[str, ...]
    left_out: tuple[str, ...]
    penalised: bool
    effective_n_grafted: float | None
    effective_n_advanced: float | None
    resamples: int
    note: str = ""


@dataclass(frozen=True)
class Caution:
    """One thing that the reader must know before believing a figure."""

    code: str
    text: str


@dataclass(frozen=True)
class Comparison:
    """Everything that one run of the comparison found: what the report shows and comparison.json holds."""

    stamp: Stamp
    grafted: Group
    advanced: Group
    flow: tuple[FlowStep, ...]
    balance: tuple[BalanceLine, ...]
    adjustment: Adjustment
    findings: tuple[Finding, ...]
    timing: tuple[TimedFinding, ...]
    curves: tuple[Curve, ...]
    means: tuple[Mean, ...]
    followed: tuple[Followed, ...]
    followed_by_window: tuple[WindowFollowed, ...]
    warnings: tuple[Caution, ...]
    queries: tuple[str, ...] = field(default=())
    level: Level = "own eyes"
