"""The lids of one timed event as arrays, and the differences common to all timed events."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import polars as pl
from numpy.typing import NDArray

from outcomes.cohort import DAYS_IN_MONTH, CaseSeries
from outcomes.findings.arrays import Flags, Numbers, planned_of
from outcomes.findings.estimable import estimable
from outcomes.findings.estimates import limits
from outcomes.findings.families import TimedDraft
from outcomes.findings.propensity import CoverChoice
from outcomes.findings.results import Adjusted, Clock, Contrast, Curve, Kind, Mean, TimedShare
from outcomes.protocol import Timed
from outcomes.statistics.result import Interval, TestedEstimate
from outcomes.statistics.turnbull import ReviewedLids, reviewed_lids


@dataclass(frozen=True)
class EventAnalysis:
    """The drafts at each month, the curves and the restricted means of one timed event."""

    drafts: tuple[TimedDraft, ...]
    curves: tuple[Curve, ...]
    means: tuple[Mean, ...]


@dataclass(frozen=True)
class TimedLids:
    """The lids of one timed event as arrays, in order of case; times in months, `weight` None when not adjusted.

    `planned` tells which lids would be in the second cohort by the cover that was planned.
    """

    second: Flags
    planned: Flags
    patient: NDArray[np.int64]
    frame: pl.DataFrame
    weight: Numbers | None
    _reviewed: dict[tuple[str, bool], ReviewedLids] = field(default_factory=dict, compare=False, repr=False)

    def months(self, column: str) -> Numbers:
        """One column of days, in months."""
        return np.asarray(self.frame.get_column(column).cast(pl.Float64).to_numpy() / DAYS_IN_MONTH, dtype=np.float64)

    def side(self, cohort: str) -> Flags:
        """Which lids belong to one cohort."""
        return self.second if cohort == "advanced" else ~self.second

    @property
    def converted(self) -> bool:
        """Tell whether any of these lids got another cohort's cover than the one planned."""
        return bool((self.second != self.planned).any())

    def as_planned(self) -> TimedLids:
        """The same lids in the cohorts of the covers that were planned; the weights belong to the covers as done."""
        return replace(self, second=self.planned, weight=None, _reviewed={})

    def reviewed(self, cohort: str, *, weighted: bool = False) -> ReviewedLids:
        """One cohort's lids between two reviews, weighted or not; what is estimated of them is kept."""
        place, side = (cohort, weighted and self.weight is not None), self.side(cohort)
        if place not in self._reviewed:
            self._reviewed[place] = reviewed_lids(
                left=self.months("left")[side],
                right=self.months("right")[side],
                patient=self.patient[side],
                weight=self.weight[side] if weighted and self.weight is not None else None,
            )
        return self._reviewed[place]


def timed_lids(frame: pl.DataFrame, series: CaseSeries, choice: CoverChoice) -> TimedLids:
    """Make the arrays, with the overlap weight that each lid has in the whole series."""
    places = series.cases.select("case_id").with_row_index("place")
    here = frame.select("case_id").join(places, on="case_id", maintain_order="left").get_column("place").to_numpy()
    return TimedLids(
        np.asarray((frame.get_column("cohort") == "advanced").to_numpy(), dtype=bool),
        planned_of(series)[here],
        np.asarray(frame.get_column("patient_id").rank("dense").to_numpy(), dtype=np.int64),
        frame,
        None if choice.weight is None else choice.weight[here],
    )


def timed_contrast(kind: Kind, found: TestedEstimate) -> Contrast:
    """The crude difference at a moment."""
    return Contrast(kind, *limits(found.interval), estimable(found.p))


def timed_adjusted(kind: Kind, found: TestedEstimate | None, worth: tuple[float, float]) -> Adjusted | None:
    """The overlap-weighted difference at a moment, with the lids that the weights are worth."""
    if found is None:
        return None
    return Adjusted(kind, "overlap weights", *limits(found.interval), estimable(found.p), None, *worth)


def timed_share(lids: int, events: int, at_risk: int, share: Interval) -> TimedShare:
    """One cohort at a moment."""
    return TimedShare(lids, events, *limits(share), at_risk=at_risk)


def clock_of(timed: Timed) -> Clock:
    """The clock by which the event is timed."""
    return "operation" if timed.clock == "operation" else "division"


def at_risk_months(months: tuple[int, ...]) -> tuple[int, ...]:
    """The months under which a curve says how many remain."""
    last = max(months)
    step = next(each for each in (1, 2, 3, 6, 12) if last / each <= 8)
    return tuple(range(0, last + 1, step))
