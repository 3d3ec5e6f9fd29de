"""The lids of one measure in one window as arrays: cover, patient, value and status."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from numpy.typing import NDArray

from outcomes.cohort import MISSING, NOT_APPLICABLE, NOT_DUE, SEEN, CaseSeries, states
from outcomes.protocol import Field
from outcomes.statistics.two_cohorts import Flags, Numbers

__all__ = ["Flags", "LidCube", "Lids", "Numbers", "lid_cube", "patient_of", "planned_of", "second_of"]
REVISION = "revision"


@dataclass(frozen=True)
class Lids:
    """The lids of both cohorts for one measure in one window, one entry a lid in order of case.

    `value` is nan where the lid was not seen; `revised` tells that it had been revised by then. `planned` tells which lids
    would be in the second cohort by the cover that was planned, `step` is the distance of neighbouring values of the field.
    """

    second: Flags
    planned: Flags
    patient: NDArray[np.int64]
    value: Numbers
    revised: Flags
    status: NDArray[np.str_]
    step: float = 0.0

    @property
    def seen(self) -> Flags:
        """Which lids have a value in the window."""
        return np.asarray(self.status == SEEN)

    @property
    def converted(self) -> bool:
        """Tell whether any lid that was seen got another cohort's cover than the one planned."""
        return bool((self.seen & (self.second != self.planned)).any())

    @property
    def due(self) -> Flags:
        """Which lids were due in the window: those seen, and those missing."""
        return np.asarray(self.seen | (self.status == MISSING))

    @property
    def fewest_due(self) -> int:
        """How many lids were due in the smaller cohort."""
        due = self.due
        return int(min((due & self.second).sum(), (due & ~self.second).sum()))

    @property
    def measured_shares(self) -> tuple[float, float] | None:
        """The share measured of the lids due, grafted then advanced; None where none was due in one."""
        sides = [(self.seen & side, self.due & side) for side in (~self.second, self.second)]
        if not all(due.any() for _, due in sides):
            return None
        return float(sides[0][0].sum() / sides[0][1].sum()), float(sides[1][0].sum() / sides[1][1].sum())

    def as_planned(self) -> Lids:
        """The same lids, in the cohorts of the covers that were planned."""
        return replace(self, second=self.planned)

    def count(self, status: str, *, second: bool) -> int:
        """How many lids of one cohort have that status."""
        return int(((self.status == status) & (self.second == second)).sum())

    def counts(self, *, second: bool) -> dict[str, int]:
        """Lids of one cohort that were missing, not yet due and not applicable, by the names that results give them."""
        return {
            "missing": self.count(MISSING, second=second),
            "not_due": self.count(NOT_DUE, second=second),
            "not_applicable": self.count(NOT_APPLICABLE, second=second),
        }


@dataclass(frozen=True)
class LidCube:
    """All lids of all measures and windows on one clock; arrays are measure by window by case."""

    measures: tuple[str, ...]
    windows: tuple[str, ...]
    second: Flags
    planned: Flags
    patient: NDArray[np.int64]
    value: Numbers
    revised: Flags
    status: NDArray[np.str_]
    steps: dict[str, float]

    def at(self, measure: str, window: str) -> Lids:
        """The lids of one measure in one window."""
        place = self.measures.index(measure), self.windows.index(window)
        values = self.value[place], self.revised[place], self.status[place]
        return Lids(self.second, self.planned, self.patient, *values, self.steps[measure])


def lid_cube(series: CaseSeries, *, clock: str, masked: bool | None = None) -> LidCube:
    """Read the states of every lid into arrays, once for all findings."""
    revisions = series.events.filter(pl.col("kind") == REVISION).group_by("case_id").agg(pl.col("happened_on").min())
    grid = states(series, clock=clock, masked=masked).join(revisions, on="case_id", how="left", maintain_order="left")
    grid = grid.with_columns((pl.col("happened_on") <= pl.col("reviewed_on")).fill_null(value=False).alias("revised"))
    measures = tuple(grid.get_column("measure").unique().sort())
    windows = tuple(grid.get_column("window").unique().sort())
    shape = (len(measures), len(windows), series.cases.height)
    return LidCube(
        measures,
        windows,
        second_of(series),
        planned_of(series),
        patient_of(series),
        _numbers(grid, "value").reshape(shape),
        grid.get_column("revised").to_numpy().reshape(shape),
        grid.get_column("status").to_numpy().astype(str).reshape(shape),
        {measure.id: _step(series.protocol.value_field(measure)) for measure in series.measures},
    )


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


def _numbers(grid: pl.DataFrame, name: str) -> Numbers:
    return np.asarray(grid.get_column(name).fill_null(float("nan")).to_numpy(), dtype=np.float64)
