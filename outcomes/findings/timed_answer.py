"""What is said of one timed event, whichever way its times were known?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from outcomes.cohort import DAYS_IN_MONTH
from outcomes.findings.cover_choice import CoverChoice
from outcomes.findings.estimable import estimable
from outcomes.findings.lids import Flags, Numbers
from outcomes.findings.results import Clock, Contrast, Curve, Mean, TimedFinding
from outcomes.protocol import Timed
from outcomes.statistics.result import Interval


@dataclass(frozen=True)
class Answer:
    """The findings at each month, the curves, restricted means, and the one test over the whole course."""

    findings: tuple[TimedFinding, ...]
    curves: tuple[Curve, ...]
    means: tuple[Mean, ...]
    test: Contrast | None


@dataclass(frozen=True)
class Table:
    """The lids of one timed event as arrays, in order of case; times in months, `weight` None when not adjusted."""

    case: tuple[str, ...]
    second: Flags
    patient: NDArray[np.int64]
    frame: pl.DataFrame
    weight: Numbers | None

    def months(self, column: str) -> Numbers:
        """One column of days, in months."""
        return np.asarray(self.frame.get_column(column).cast(pl.Float64).to_numpy() / DAYS_IN_MONTH, dtype=np.float64)

    def side(self, cohort: str) -> Flags:
        """Which lids belong to one cohort."""
        return self.second if cohort == "advanced" else ~self.second


def table(frame: pl.DataFrame, cases: pl.DataFrame, choice: CoverChoice) -> Table:
    """Make the arrays, with the overlap weight that each lid has in the whole series."""
    known = tuple(frame.get_column("case_id").to_list())
    weight = None
    if choice.weight is not None:
        by_case = dict(zip(cases.get_column("case_id").to_list(), choice.weight.tolist(), strict=True))
        weight = np.asarray([by_case[case] for case in known], dtype=np.float64)
    return Table(
        known,
        np.asarray((frame.get_column("cohort") == "advanced").to_numpy(), dtype=bool),
        np.asarray(frame.get_column("patient_id").rank("dense").to_numpy(), dtype=np.int64),
        frame,
        weight,
    )


def said(interval: Interval) -> tuple[float | None, float | None, float | None]:
    """The estimate and its limits as results say them: None where they are not estimable."""
    return estimable(interval.estimate), estimable(interval.low), estimable(interval.high)


def clock_of(timed: Timed) -> Clock:
    """The clock by which the event is timed."""
    return "operation" if timed.clock == "operation" else "division"


def at_risk_months(months: tuple[int, ...]) -> tuple[int, ...]:
    """The months under which a curve says how many remain."""
    last = max(months)
    step = next(each for each in (1, 2, 3, 6, 12) if last / each <= 8)
    return tuple(range(0, last + 1, step))
