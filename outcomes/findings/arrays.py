"""The lids of one measure in one window as arrays: cover, patient, value and status."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import polars as pl
from numpy.typing import NDArray

from outcomes.cohort import (
    MISSING,
    NOT_APPLICABLE,
    NOT_DUE,
    SEEN,
    STATUSES,
    CaseSeries,
    MeasureValues,
    chosen_values,
    status_without_value,
)
from outcomes.protocol import Field, Measure, Window
from outcomes.statistics.two_cohorts import Flags, Numbers

__all__ = [
    "AllLids",
    "Flags",
    "Lids",
    "MeasureLids",
    "Numbers",
    "Statuses",
    "all_lids",
    "patient_of",
    "planned_of",
    "second_of",
]
Statuses = NDArray[np.int8]
REVISION = "revision"
NEVER = np.iinfo(np.int64).max


@dataclass(frozen=True)
class Lids:
    """The lids of both cohorts for one measure in one window, one entry a lid in order of case.

    `value` is nan where the lid was not seen; `revised` tells that it had been revised by then; `status` is its place in
    `STATUSES`. `planned` tells which lids would be in the second cohort by the cover that was planned, `step` is the distance
    of neighbouring values of the field.
    """

    second: Flags
    planned: Flags
    patient: NDArray[np.int64]
    value: Numbers
    revised: Flags
    status: Statuses
    step: float = 0.0

    @cached_property
    def seen(self) -> Flags:
        """Which lids have a value in the window."""
        return np.asarray(self.status == STATUSES.index(SEEN))

    @cached_property
    def missing(self) -> Flags:
        """Which lids were due in the window and have no value."""
        return np.asarray(self.status == STATUSES.index(MISSING))

    @property
    def converted(self) -> bool:
        """Tell whether any lid that was seen got another cohort's cover than the one planned."""
        return bool((self.seen & (self.second != self.planned)).any())

    @cached_property
    def due(self) -> Flags:
        """Which lids were due in the window: those seen, and those missing."""
        return np.asarray(self.seen | self.missing)

    @cached_property
    def fewest_due(self) -> int:
        """How many lids were due in the smaller cohort."""
        due = self.due
        return int(min((due & self.second).sum(), (due & ~self.second).sum()))

    @cached_property
    def measured_shares(self) -> tuple[float, float] | None:
        """The share measured of the lids due, grafted then advanced; None where none was due in one."""
        sides = [(self.seen & side, self.due & side) for side in (~self.second, self.second)]
        if not all(due.any() for _, due in sides):
            return None
        return float(sides[0][0].sum() / sides[0][1].sum()), float(sides[1][0].sum() / sides[1][1].sum())

    @cached_property
    def _numbers_by_status(self) -> NDArray[np.int64]:
        """How many lids of each cohort (rows) have each status."""
        of_both = np.bincount(self.status + len(STATUSES) * self.second, minlength=2 * len(STATUSES))
        return of_both.reshape(2, len(STATUSES))

    def as_planned(self) -> Lids:
        """The same lids, in the cohorts of the covers that were planned."""
        return replace(self, second=self.planned)

    def counts(self, *, second: bool) -> dict[str, int]:
        """Lids of one cohort that were missing, not yet due and not applicable, by the names that results give them."""
        numbers = self._numbers_by_status[int(second)]
        names = {"missing": MISSING, "not_due": NOT_DUE, "not_applicable": NOT_APPLICABLE}
        return {name: int(numbers[STATUSES.index(status)]) for name, status in names.items()}


@dataclass(frozen=True)
class AllLids:
    """What is the same for all measures of a series; `revised_on` is the day of the first revision, counted from 1970."""

    series: CaseSeries
    second: Flags
    planned: Flags
    patient: NDArray[np.int64]
    revised_on: NDArray[np.int64]
    _without_value: dict[tuple[str, str], Statuses] = field(default_factory=dict, compare=False, repr=False)

    def of(self, measure: Measure) -> MeasureLids:
        """All lids with the values of one measure, which are held as long as this is."""
        return MeasureLids(
            self, measure, self.series.values(measure.id), _step(self.series.protocol.value_field(measure))
        )

    def without_value(self, window: Window, clock: str) -> Statuses:
        """The status of each lid that has no value in the window."""
        place = window.id, clock
        if place not in self._without_value:
            self._without_value[place] = status_without_value(self.series, window, clock=clock)
        return self._without_value[place].copy()


@dataclass(frozen=True)
class MeasureLids:
    """All lids with the values of one measure, for any window, clock and kind of review."""

    lids: AllLids
    measure: Measure
    values: MeasureValues
    step: float

    def at(self, window: Window, *, clock: str = "division", masked: bool | None = None) -> Lids:
        """The lids in one window; with `masked`, only reviews of that kind count."""
        chosen = chosen_values(self.values, window, clock=clock, masked=masked)
        lid, status = self.values.lid[chosen], self.lids.without_value(window, clock)
        status[lid] = STATUSES.index(SEEN)
        value, revised = np.full(status.size, np.nan), np.zeros(status.size, dtype=bool)
        value[lid] = self.values.value[chosen]
        revised[lid] = self.lids.revised_on[lid] <= self.values.reviewed_on[chosen]
        return Lids(self.lids.second, self.lids.planned, self.lids.patient, value, revised, status, self.step)


def all_lids(series: CaseSeries) -> AllLids:
    """Read what is the same for all measures, once for all findings."""
    revisions = series.events.filter(pl.col("kind") == REVISION).group_by("case_id").agg(pl.col("happened_on").min())
    first = series.cases.select("case_id").join(revisions, on="case_id", how="left", maintain_order="left")
    revised_on = first.get_column("happened_on").to_physical().cast(pl.Int64).fill_null(NEVER).to_numpy()
    return AllLids(series, second_of(series), planned_of(series), patient_of(series), revised_on)


def second_of(series: CaseSeries) -> Flags:
    """Which cases belong to the second cohort of every contrast: the advanced."""
    return np.asarray((series.cases.get_column("cohort") == "advanced").to_numpy(), dtype=bool)


def planned_of(series: CaseSeries) -> Flags:
    """Which cases were planned for the second cohort; one whose plan is not recorded, or was for neither, goes by what was done."""
    cohorts = {cover.id: cover.cohort or None for cover in series.protocol.covers}
    planned = series.cases.get_column("cover_planned").replace_strict(cohorts, default=None, return_dtype=pl.String)
    return np.asarray((planned.fill_null(series.cases.get_column("cohort")) == "advanced").to_numpy(), dtype=bool)


def patient_of(series: CaseSeries) -> NDArray[np.int64]:
    """A number for the patient of each case, the same for lids of one person."""
    return np.asarray(series.cases.get_column("patient_id").rank("dense").to_numpy(), dtype=np.int64)


def _step(field: Field) -> float:
    """The distance of neighbouring values: of a graded field one grade."""
    return field.step or (1.0 if field.levels else 0.0)
