"""Frozen results of the local figures for one patient.

Every number that a sheet prints is here, already whole: of 100 people, in days, in lids. A part that the register
cannot bear is None, and a code says why. Nothing here rests on fewer lids than the protocol's `fewest_lids`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from outcomes.findings.results import Clock, Stamp, Verdict

Cohort = Literal["grafted", "advanced"]
COVERS: tuple[Cohort, Cohort] = ("grafted", "advanced")
FigureKind = Literal["all", "like", "predicted"]
NoFigureReason = Literal["", "never_used", "too_few", "suppressed", "unlike"]
Relaxation = Literal["widened", "left_out", "unknown"]
CounselCautionId = Literal["outside", "unlike", "too_few", "imbalance", "follow_up_differs", "more_missing_than_known"]
NoPredictionReason = Literal["", "timed", "no_terms", "few_results", "outside", "public"]


@dataclass(frozen=True)
class CounselCaution:
    """One thing that the surgeon must know before giving these figures to a patient, with what belongs to its words."""

    id: CounselCautionId
    labels: tuple[str, ...] = ()
    numbers: tuple[float, ...] = ()


@dataclass(frozen=True)
class OfHundred:
    """Whole people of 100: how many had it and had not, and how many that could plausibly be.

    `had` and `had_not` add up to 100. The ends of the range are rounded outwards. `competed` counts those among
    `had_not` to whom it could no longer happen.
    """

    had: int
    had_not: int
    low: int
    high: int
    competed: int = 0

    @property
    def spared(self) -> int:
        """How many had it not and were there to the end."""
        return self.had_not - self.competed


@dataclass(frozen=True)
class RiskFigure:
    """One figure: at which level, from how many lids and patients, and of 100. Shares are 0 to 1.

    `n` lids were counted, of which `known` have a known result (fewer than `n` only where time had to pass).
    """

    level: FigureKind
    n: int
    known: int
    patients: int
    events: int
    estimate: float
    low: float
    high: float
    of_100: OfHundred


@dataclass(frozen=True)
class CoverFigures:
    """The figures of one cover: of all its lids, of those like the patient, by a prediction; and which is used.

    Of the `due` lids, those whose time had come, `missing` have no known result.
    """

    cohort: Cohort
    all: RiskFigure | None
    like: RiskFigure | None
    predicted: RiskFigure | None
    used: RiskFigure | None
    why: NoFigureReason
    due: int
    missing: int

    @property
    def counted(self) -> Literal["all", "like"]:
        """Which count of lids stands behind the figure that is used; a prediction has that of all lids."""
        return "like" if self.used is not None and self.used is self.like else "all"


@dataclass(frozen=True)
class DurationFigure:
    """A number of days in whole days: the middle and the middle half."""

    level: FigureKind
    n: int
    patients: int
    median: int
    q1: int
    q3: int


@dataclass(frozen=True)
class CoverDurations:
    """A number of days with one cover, by all its lids and by those like the patient; and which is used."""

    cohort: Cohort
    all: DurationFigure | None
    like: DurationFigure | None
    used: DurationFigure | None
    why: NoFigureReason


@dataclass(frozen=True)
class Bound:
    """Between which values of a characteristic a lid counts as like the patient's: no further than `reach` from it.

    `reach` is in the characteristic's own unit, and a share in whole parts of 100.
    """

    characteristic: str
    reach: float
    low: float
    high: float


@dataclass(frozen=True)
class LikeGroup:
    """One rule of likeness with the patient's own values put in: fields that are the same, and bounds.

    `relaxed` says in what it looks more widely than the narrowest rule, and how.
    """

    rule: str
    same: tuple[tuple[str, str], ...]
    between: tuple[Bound, ...]
    relaxed: tuple[tuple[str, Relaxation], ...] = ()


@dataclass(frozen=True)
class Shortfall:
    """What the next narrower rule lacks with one cover: it leaves `n` lids with a known result, and needs more."""

    rule: str
    cohort: Cohort
    n: int
    more: int


@dataclass(frozen=True)
class Prediction:
    """How a prediction was made, or why there is none: the terms beside the cover, lids with and without the result."""

    why_not: NoPredictionReason
    terms: tuple[str, ...]
    with_result: int
    without_result: int
    needed: int


@dataclass(frozen=True)
class PublishedFigure:
    """A published count with its denominator, apart from every local figure; its range is the exact one."""

    id: str
    what: str
    count: int
    of: int
    of_100: OfHundred
    followed_months: float | None
    source: str
    note: str


@dataclass(frozen=True)
class TimePoint:
    """A `window` of the protocol, or within `number` years or months (`unit`) of day 0 of the `clock`."""

    clock: Clock
    window: str = ""
    number: int = 0
    unit: Literal["", "year", "month"] = ""


@dataclass(frozen=True)
class OutcomeFigures:
    """One outcome for both covers. `group` is the rule of likeness that leaves enough lids of both; None where none does.

    `bound` is the value from which a measure is poor. `verdict` is that of the comparison, None where it gives none.
    """

    id: str
    words: str
    section: str
    when: TimePoint
    bound: float | None
    grafted: CoverFigures
    advanced: CoverFigures
    group: LikeGroup | None
    prediction: Prediction
    shortfalls: tuple[Shortfall, ...]
    published: tuple[PublishedFigure, ...]
    verdict: Verdict | None = None

    def side(self, cohort: Cohort) -> CoverFigures:
        """The figures of one cover."""
        return self.grafted if cohort == "grafted" else self.advanced


@dataclass(frozen=True)
class DurationFigures:
    """One number of days for both covers."""

    id: str
    words: str
    grafted: CoverDurations
    advanced: CoverDurations
    group: LikeGroup | None

    def side(self, cohort: Cohort) -> CoverDurations:
        """The durations of one cover."""
        return self.grafted if cohort == "grafted" else self.advanced


@dataclass(frozen=True)
class ObservedRange:
    """The patient's value of a characteristic beside the range of one cover's lids; `n` lids have it recorded.

    `outside` the range it may still be near enough to a lid to be like it by the narrowest rule; `unlike` it is not.
    """

    characteristic: str
    value: float
    cohort: Cohort
    n: int
    low: float
    high: float
    outside: bool
    unlike: bool


@dataclass(frozen=True)
class OutOfRange:
    """Where no lid is like the patient's, with one cover or with both, and the range that was seen.

    `withholds` tells that the rules of likeness use the characteristic, so that no local figure holds for the patient.
    """

    characteristic: str
    cohort: Cohort | Literal["both"]
    low: float
    high: float
    withholds: bool


@dataclass(frozen=True)
class Basis:
    """From which lids the figures come: how many of each cover, of how many patients, operated on when.

    A public leaflet gives no patients where they would tell of few second lids.
    """

    lids: int
    patients: int | None
    grafted: int
    advanced: int
    first: date | None
    last: date | None
    median_followup_months: float | None


@dataclass(frozen=True)
class Counsel:
    """Everything that a sheet for one patient, or a public leaflet, holds.

    `order` is the order in which the covers are shown. `withheld` tells that no local figure holds for the patient.
    """

    stamp: Stamp
    public: bool
    order: tuple[Cohort, Cohort]
    withheld: bool
    outcomes: tuple[OutcomeFigures, ...]
    durations: tuple[DurationFigures, ...]
    observed: tuple[ObservedRange, ...]
    outside: tuple[OutOfRange, ...]
    basis: Basis
    covers_differ: bool
    cautions: tuple[CounselCaution, ...]
    published: tuple[PublishedFigure, ...]
    left_out_lids: int
    somebody_missing: bool
    fewest_lids: int
