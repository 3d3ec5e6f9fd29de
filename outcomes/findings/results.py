"""Frozen results of the comparison, which a report shows and comparison.json holds number for number.

A number that cannot be estimated is None, and `notes` say why; a count is None only in public output. Signs: advanced minus
grafted, but for the win probability, which is 0.5 without a difference and above it favours advanced. Shares are 0 to 1,
times are months, unless a name says days.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from math import ceil
from typing import Literal

from outcomes.cohort import Choice, Step
from outcomes.findings.days_shut import DaysShut
from outcomes.findings.small_count import SmallCount

Verdict = Literal[
    "better with advanced",
    "better with graft",
    "may be better with advanced",
    "may be better with graft",
    "no difference that matters",
    "cannot tell",
    "too few to say",
]
Outcome = Literal["main", "poor", "value"]
Family = Literal["planned", "further", "exploratory"]
Kind = Literal[
    "difference of means",
    "difference of proportions",
    "win probability",
    "difference of cumulative incidence",
    "difference of cumulative share",
    "difference of restricted mean months",
]
Method = Literal["linear model", "augmented overlap weights", "overlap weights"]
Reason = Literal["", "public", "no_overlap", "unseen", "masked"]
CheckId = Literal[
    "as_planned",
    "masked_only",
    "operation_clock",
    "revision_poor",
    "revision_as_seen",
    "without_first_twenty",
    "within_surgeon",
    "inverse_measured",
    "overlap_weighted",
]
NoteId = Literal[
    "not_recorded",
    "few_lids",
    "no_interval",
    "not_adjusted",
    "no_overlap",
    "unseen",
    "masked",
    "within_important",
    "no_important_difference",
    "win_probability_disagrees",
    "public",
    "few_followed",
    "unknown_at_month",
    "few_at_risk",
    "lower_bound",
    "not_followed_for_mean",
    "nothing_happened",
]
CautionCode = Literal[
    "too_few",
    "no_overlap",
    "imbalance",
    "follow_up_differs",
    "missing_could_reverse",
    "clock_matters",
    "masking_matters",
    "single_assessor",
    "clustered",
    "converted",
    "public",
]
FactId = Literal[
    "no_lids",
    "few_lids_seen",
    "no_overlap",
    "surgeon_is_cover",
    "cohorts_differed",
    "reviewed_apart",
    "median_apart",
    "completeness_apart",
    "missing_could_reverse",
    "clock_matters",
    "masked_saw_less",
    "single_assessor",
    "clustered",
    "converted",
    "in_general",
    "suppressed",
]
NotAdjusted = Literal["", "one_cohort_empty", "too_few_lids", "nothing_recorded", "no_overlap"]
Clock = Literal["division", "operation"]
Level = Literal["own eyes", "journal", "public"]
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
class Note:
    """Why a number is missing, or what must be said beside it; `number` and `label` as the note of that id needs them."""

    id: NoteId
    number: float | None = None
    label: str = ""


Count = int | SmallCount


def exact(count: Count | None) -> int:
    """The count itself; TypeError where public output does not give it."""
    if not isinstance(count, int):
        raise TypeError(f"{count} is no exact count: public output cannot be counted on")
    return count


@dataclass(frozen=True)
class Share:
    """How many lids of a cohort had a poor result, of how many seen; who was missing, not yet due, not applicable."""

    n: Count
    missing: int | None
    not_due: int | None
    not_applicable: int | None
    patients: int | None
    events: Count | None
    proportion: float | None
    low: float | None
    high: float | None

    @property
    def due(self) -> int:
        """The lids that were due in the window: those seen, and those missing."""
        return exact(self.n) + (self.missing or 0)


@dataclass(frozen=True)
class Values:
    """The value itself in one cohort: mean, middle and quartiles, and how many lids had each value (every lid is there)."""

    n: Count
    missing: int | None
    not_due: int | None
    not_applicable: int | None
    patients: int | None
    mean: float | None
    sd: float | None
    median: float | None
    q1: float | None
    q3: float | None
    counts: tuple[tuple[float, int], ...]

    @property
    def centre(self) -> Literal["mean", "median"]:
        """Which middle value is given: the mean, or the median where public output leaves the mean out."""
        return "median" if self.mean is None else "mean"

    @property
    def due(self) -> int:
        """The lids that were due in the window: those seen, and those missing."""
        return exact(self.n) + (self.missing or 0)


@dataclass(frozen=True)
class Contrast:
    """The crude difference with its interval and the p value of the same statistic, and that of the permutation of patients."""

    kind: Kind
    estimate: float | None
    low: float | None
    high: float | None
    p: float | None = None
    permutation_p: float | None = None
    p_corrected: float | None = None
    exact: bool = False
    monte_carlo_error: float | None = None


@dataclass(frozen=True)
class Adjusted:
    """The difference adjusted for how the covers were chosen. The effective lids are those of shares; E-values of a difference."""

    kind: Kind
    method: Method
    estimate: float | None
    low: float | None
    high: float | None
    p: float | None
    p_corrected: float | None = None
    effective_n_grafted: float | None = None
    effective_n_advanced: float | None = None
    e_value: float | None = None
    e_value_limit: float | None = None


@dataclass(frozen=True)
class Range:
    """The least and greatest difference over everything that the missing lids could have been."""

    low: float | None
    high: float | None


@dataclass(frozen=True)
class Bounded:
    """An estimate with its interval and no test."""

    estimate: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Unseen:
    """What the lids that were due and not measured could change.

    `tipping_lids` of the unseen lids of the better cohort, a `tipping_share` of them, would have to be poor for the
    interval to reach none, beside the `seen_share`; `tipping_shift` is by how much worse they would have to be on
    average. `as_other_cohort` is the difference if the surplus unseen of one cohort differed in nothing.
    """

    worst_case: Range | None = Range(None, None)
    as_other_cohort: Bounded | None = None
    tipping_lids: int | None = None
    tipping_share: float | None = None
    seen_share: float | None = None
    tipping_shift: float | None = None


@dataclass(frozen=True)
class Check:
    """The adjusted difference once more, with one thing done differently."""

    id: CheckId
    estimate: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Finding:
    """One outcome of one measure, in one window."""

    measure: str
    window: str
    outcome: Outcome
    clock: Clock
    grafted: Share | Values
    advanced: Share | Values
    contrast: Contrast
    adjusted: Adjusted | None
    verdict: Verdict | None = None
    family: Family = "exploratory"
    q: float | None = None
    important_difference: float | None = None
    could_find: float | None = None
    unseen: Unseen = Unseen()
    checks: tuple[Check, ...] = ()
    withheld: Reason = ""
    notes: tuple[Note, ...] = ()

    @property
    def judged(self) -> Contrast | Adjusted:
        """The difference that the verdict is about: the adjusted one, the crude one where nothing could be adjusted for."""
        return self.adjusted or self.contrast

    @property
    def is_share(self) -> bool:
        """Tell whether the outcome is a share of lids."""
        return isinstance(self.grafted, Share)

    @property
    def is_planned(self) -> bool:
        """Tell whether the finding is a planned one: a main outcome in the primary window."""
        return self.family == "planned"

    @property
    def lids_needed(self) -> int | None:
        """About how many lids measured with each cover would find the smallest difference that matters, if as unlike as these."""
        counts = [side.n for side in (self.grafted, self.advanced) if isinstance(side.n, int)]
        if not self.could_find or not self.important_difference or len(counts) < 2:
            return None
        return ceil(min(counts) * (self.could_find / self.important_difference) ** 2)

    def check(self, name: CheckId) -> Check | None:
        """One of the checks, if it was made."""
        return next((each for each in self.checks if each.id == name), None)


@dataclass(frozen=True)
class TimedShare:
    """One cohort at one moment: lids that set out, events so far, and the share with its interval.

    `due` lids could have been followed so long, and `lost` of them were not, nor had the event before.
    """

    n: Count
    events: Count | None
    estimate: float | None
    low: float | None
    high: float | None
    due: int | None = 0
    lost: int | None = 0


@dataclass(frozen=True)
class StateShare:
    """The share of lids in a state that comes and goes, at the review of one window: advanced minus grafted beside both."""

    window: str
    grafted: Share
    advanced: Share
    contrast: Bounded


@dataclass(frozen=True)
class TimedFinding:
    """One timed event at one moment after day 0 of its clock.

    `p_curve` is the test over the whole course, the same at every moment. `in_state` is the share in the state then,
    where the event is a state that comes and goes. A verdict is given at the main month only.
    """

    event: str
    method: str
    clock: Clock
    at_months: int
    grafted: TimedShare
    advanced: TimedShare
    contrast: Contrast
    adjusted: Adjusted | None = None
    p_curve: Contrast | None = None
    q: float | None = None
    verdict: Verdict | None = None
    unseen: Unseen = Unseen()
    as_planned: Contrast | None = None
    in_state: StateShare | None = None
    withheld: Reason = ""
    notes: tuple[Note, ...] = ()

    @property
    def judged(self) -> Contrast | Adjusted:
        """The difference that the verdict is about: the adjusted one, the crude one where nothing could be adjusted for."""
        return self.adjusted or self.contrast


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
    contrast: Bounded
    notes: tuple[Note, ...] = ()


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
class LidCourse:
    """The values of one main measure in one lid, by days since division, and the day of its first revision after division.

    `fellow` are the values of the fellow lid on the same days, where the measure has one; None where it was not measured.
    """

    case: str
    cohort: str
    measure: str
    days: tuple[int, ...]
    values: tuple[float, ...]
    fellow: tuple[float | None, ...] = ()
    revised: int | None = None


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


@dataclass(frozen=True)
class LeftOut:
    """A characteristic that did not enter the model, and why."""

    label: str
    reason: Literal["not_recorded", "too_few_lids", "one_surgeon_a_cover", "one_surgeon_did_both"]


@dataclass(frozen=True)
class LearningPoint:
    """The smoothed mean of a main outcome at one place in the order of cases of a cover, counted from 1."""

    case: int
    estimate: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class LearningCourse:
    """The main outcome of a measure over the order of cases of one cover, in the primary window; `n` lids were measured."""

    measure: str
    window: str
    cohort: str
    n: int
    points: tuple[LearningPoint, ...]


@dataclass(frozen=True)
class CalendarTrend:
    """By how much the adjusted difference of a main outcome changed with a year of operation; exploratory."""

    measure: str
    estimate: float | None
    low: float | None
    high: float | None
    p: float | None


@dataclass(frozen=True)
class FamilySummary:
    """Of one family: how many differences were judged, how many read better and may be better, how many chance gives."""

    family: Family
    judged: int
    better: int
    may_be: int
    by_chance: float


@dataclass(frozen=True)
class Fact:
    """One thing that a warning says, with the names and the numbers that belong to it, in the order of its words."""

    id: FactId
    labels: tuple[str, ...] = ()
    numbers: tuple[float, ...] = ()


@dataclass(frozen=True)
class Caution:
    """One thing that the reader must know before believing a figure."""

    code: CautionCode
    facts: tuple[Fact, ...]


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
    families: tuple[FamilySummary, ...] = ()
    learning: tuple[LearningCourse, ...] = ()
    calendar: tuple[CalendarTrend, ...] = ()
    days_shut: DaysShut | None = None
    queries: tuple[str, ...] = field(default=())
    courses: tuple[LidCourse, ...] = ()
    level: Level = "own eyes"
