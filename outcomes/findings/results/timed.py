"""The results of timed events: a moment, a curve and a restricted mean."""

from __future__ import annotations

from dataclasses import dataclass

from outcomes.findings.results.counts import Count
from outcomes.findings.results.ids import Clock, Reason, Verdict
from outcomes.findings.results.measures import NOTHING_UNSEEN, Adjusted, Bounded, Contrast, Note, Share, Unseen


@dataclass(frozen=True)
class TimedShare:
    """One cohort at one moment: lids that set out, events so far, and the share with its interval.

    `due` lids could have been followed so long, and `lost` of them were not, nor had the event before. `at_risk` are still followed
    and free of the event then.
    """

    n: Count
    events: Count | None
    estimate: float | None
    low: float | None
    high: float | None
    due: int | None = 0
    lost: int | None = 0
    at_risk: int | None = None


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
    unseen: Unseen = NOTHING_UNSEEN
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
