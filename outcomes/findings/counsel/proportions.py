"""Counts, shares and intervals of one outcome in a group of lids."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from outcomes.cohort import DAYS_IN_MONTH, MISSING, SEEN, CaseSeries, event_times, states
from outcomes.findings.counsel.natural_frequencies import of_hundred
from outcomes.findings.counsel.results import FigureKind, RiskFigure
from outcomes.findings.outcomes import is_poor
from outcomes.protocol import CounselItem, Protocol
from outcomes.statistics.aalen_johansen import aalen_johansen
from outcomes.statistics.clusters import effective_proportion


@dataclass(frozen=True)
class EventData:
    """The lids of both covers of one outcome, one row each, with all columns of the case series.

    `known` says whether the result is known and `due` whether it should be; `event` (true or false) holds where it is
    known. `figure` computes the figure of one group of these lids.
    """

    lids: pl.DataFrame
    figure: Callable[[pl.DataFrame, FigureKind], RiskFigure | None]

    def of(self, cohort: str) -> pl.DataFrame:
        """Only the lids of one cover."""
        return self.lids.filter(pl.col("cohort") == cohort)

    def known(self) -> pl.DataFrame:
        """Only the lids whose result is known."""
        return self.lids.filter("known")


def event_data(series: CaseSeries, item: CounselItem) -> EventData:
    """Read what happened to every lid, for a measure in a window or for a timed event."""
    return _at_review(series, item) if item.measure else _in_time(series, item)


def _at_review(series: CaseSeries, item: CounselItem) -> EventData:
    only = replace(series, selection=replace(series.selection, windows=(item.window,), measures=(item.measure,)))
    rule = series.protocol.measure(item.measure).poor
    assert rule is not None  # noqa: S101 - the protocol was checked
    grid = states(only).select("case_id", "status", "value")
    poor = is_poor(grid.get_column("value").fill_null(float("nan")).to_numpy(), rule)
    grid = grid.with_columns(
        (pl.col("status") == SEEN).alias("known"),
        pl.col("status").is_in([SEEN, MISSING]).alias("due"),
        pl.Series("event", poor),
    )
    return EventData(series.cases.join(grid, on="case_id", how="inner"), _share(series.protocol))


def _share(protocol: Protocol) -> Callable[[pl.DataFrame, FigureKind], RiskFigure | None]:
    def figure(lids: pl.DataFrame, level: FigureKind) -> RiskFigure | None:
        seen = lids.filter("known")
        if seen.height < protocol.counsel.fewest_lids:
            return None
        estimate = effective_proportion(
            seen.get_column("event").to_numpy(),
            seen.get_column("patient_id").to_numpy(),
            confidence_level=protocol.rules.confidence_level,
        )
        return RiskFigure(
            level,
            estimate.n,
            estimate.n,
            seen.get_column("patient_id").n_unique(),
            estimate.events,
            estimate.estimate,
            estimate.low,
            estimate.high,
            of_hundred(estimate.estimate, estimate.low, estimate.high),
        )

    return figure


def _in_time(series: CaseSeries, item: CounselItem) -> EventData:
    timed = next(each for each in series.protocol.timed if each.id == item.timed)
    until = item.within_months * DAYS_IN_MONTH
    times = event_times(series, timed).select("case_id", "days", "cause", "due_days")
    known = (pl.col("days") >= until) | (pl.col("cause") > 0)
    times = times.with_columns(
        known.alias("known"),
        ((pl.col("due_days") >= until) | known).alias("due"),
        ((pl.col("cause") == 1) & (pl.col("days") <= until)).alias("event"),
    )
    return EventData(series.cases.join(times, on="case_id", how="inner"), _incidence(series.protocol, until))


def _incidence(protocol: Protocol, until: float) -> Callable[[pl.DataFrame, FigureKind], RiskFigure | None]:
    def figure(lids: pl.DataFrame, level: FigureKind) -> RiskFigure | None:
        known = int(lids.get_column("known").sum())
        if known < protocol.counsel.fewest_lids:
            return None
        curve = aalen_johansen(
            time=lids.get_column("days").to_numpy(),
            cause=lids.get_column("cause").to_numpy(),
            patient=lids.get_column("patient_id").to_numpy(),
            confidence_level=protocol.rules.confidence_level,
        )
        estimate, competed = curve.at(until), curve.at(until, cause=2).estimate
        if not np.isfinite([estimate.estimate, estimate.low, estimate.high]).all():
            return None
        return RiskFigure(
            level,
            lids.height,
            known,
            lids.get_column("patient_id").n_unique(),
            int(lids.get_column("event").sum()),
            estimate.estimate,
            estimate.low,
            estimate.high,
            of_hundred(estimate.estimate, estimate.low, estimate.high, competed=competed),
        )

    return figure
