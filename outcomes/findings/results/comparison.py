"""The whole comparison, its stamp, its warnings and its families."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from outcomes.cohort import Choice
from outcomes.findings.days_shut import DaysShut
from outcomes.findings.results.cohorts import (
    Adjustment,
    BalanceLine,
    FlowStep,
    Followed,
    Group,
    LidCourse,
    WindowFollowed,
)
from outcomes.findings.results.ids import CautionCode, FactId, Family, Level
from outcomes.findings.results.measures import Finding
from outcomes.findings.results.timed import Curve, Mean, TimedFinding


@dataclass(frozen=True)
class Stamp:
    """What a result is stamped with: the register, the as-of day, and the filters.

    In public output counts from 1 to one less than `suppressed_below` are left out. `protocol_lacks` names the keys of the
    present default protocol that came after the register's, as `table: key, key`.
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
    protocol_lacks: tuple[str, ...] = ()


@dataclass(frozen=True)
class LearningPoint:
    """The smoothed mean of a main outcome at one place in the order of cases of a cover, counted from 1."""

    case: int
    estimate: float
    low: float
    high: float


@dataclass(frozen=True)
class LearningCourse:
    """The main outcome of a measure over the order of cases of one cover, in the primary window; `n` lids were measured."""

    measure: str
    window: str
    cohort: str
    n: int
    points: tuple[LearningPoint, ...]


@dataclass(frozen=True)
class SurgeonDifference:
    """The adjusted difference of a main outcome among one surgeon's lids, of which so many were measured; exploratory."""

    measure: str
    surgeon: str
    grafted: int
    advanced: int
    estimate: float
    low: float
    high: float


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
    surgeons: tuple[SurgeonDifference, ...] = ()
    calendar: tuple[CalendarTrend, ...] = ()
    days_shut: DaysShut | None = None
    queries: tuple[str, ...] = field(default=())
    courses: tuple[LidCourse, ...] = ()
    level: Level = "own eyes"
