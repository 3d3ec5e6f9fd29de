"""What happened to a group of lids, as counts, as a share with its interval, and of 100?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from outcomes.cohort import DAYS_IN_MONTH, MISSING, SEEN, CaseSeries, event_times, states
from outcomes.findings.counsel.natural_frequencies import of_hundred
from outcomes.findings.counsel.results import Answer, Level
from outcomes.findings.outcomes import is_poor
from outcomes.protocol import CounselItem, Protocol
from outcomes.statistics.aalen_johansen import aalen_johansen
from outcomes.statistics.clusters import effective_proportion


@dataclass(frozen=True)
class Results:
    """The lids of both covers that one told result is asked of, one row each, with all columns of the case series.

    `known` says whether the result is known and `due` whether it should be; `event` (true or false) holds where it is
    known. `answer` works out one group of these lids.
    """

    lids: pl.DataFrame
    answer: Callable[[pl.DataFrame, Level], Answer | None]

    def of(self, cohort: str) -> pl.DataFrame:
        """Only the lids of one cover."""
        return self.lids.filter(pl.col("cohort") == cohort)

    def known(self) -> pl.DataFrame:
        """Only the lids whose result is known."""
        return self.lids.filter("known")


def results_of(series: CaseSeries, told: CounselItem) -> Results:
    """Read what happened to every lid, for a measure in a window or for a timed event."""
    return _at_review(series, told) if told.measure else _in_time(series, told)


def _at_review(series: CaseSeries, told: CounselItem) -> Results:
    only = replace(series, selection=replace(series.selection, windows=(told.window,), measures=(told.measure,)))
    rule = series.protocol.measure(told.measure).poor
    assert rule is not None  # noqa: S101 - the protocol was checked
    grid = states(only).select("case_id", "status", "value")
    poor = is_poor(grid.get_column("value").fill_null(float("nan")).to_numpy(), rule)
    grid = grid.with_columns(
        (pl.col("status") == SEEN).alias("known"),
        pl.col("status").is_in([SEEN, MISSING]).alias("due"),
        pl.Series("event", poor),
    )
    return Results(series.cases.join(grid, on="case_id", how="inner"), _share(series.protocol))


def _share(protocol: Protocol) -> Callable[[pl.DataFrame, Level], Answer | None]:
    def answer(lids: pl.DataFrame, level: Level) -> Answer | None:
        seen = lids.filter("known")
        if seen.height < protocol.counsel.fewest_lids:
            return None
        found = effective_proportion(
            seen.get_column("event").to_numpy(),
            seen.get_column("patient_id").to_numpy(),
            confidence_level=protocol.rules.confidence_level,
        )
        return Answer(
            level,
            found.n,
            found.n,
            seen.get_column("patient_id").n_unique(),
            found.events,
            found.estimate,
            found.low,
            found.high,
            of_hundred(found.estimate, found.low, found.high),
        )

    return answer


def _in_time(series: CaseSeries, told: CounselItem) -> Results:
    timed = next(each for each in series.protocol.timed if each.id == told.timed)
    until = told.within_months * DAYS_IN_MONTH
    times = event_times(series, timed).select("case_id", "days", "cause", "due_days")
    known = (pl.col("days") >= until) | (pl.col("cause") > 0)
    times = times.with_columns(
        known.alias("known"),
        ((pl.col("due_days") >= until) | known).alias("due"),
        ((pl.col("cause") == 1) & (pl.col("days") <= until)).alias("event"),
    )
    return Results(series.cases.join(times, on="case_id", how="inner"), _incidence(series.protocol, until))


def _incidence(protocol: Protocol, until: float) -> Callable[[pl.DataFrame, Level], Answer | None]:
    def answer(lids: pl.DataFrame, level: Level) -> Answer | None:
        known = int(lids.get_column("known").sum())
        if known < protocol.counsel.fewest_lids:
            return None
        curve = aalen_johansen(
            time=lids.get_column("days").to_numpy(),
            cause=lids.get_column("cause").to_numpy(),
            patient=lids.get_column("patient_id").to_numpy(),
            confidence_level=protocol.rules.confidence_level,
        )
        found, competed = curve.at(until), curve.at(until, cause=2).estimate
        if not np.isfinite([found.estimate, found.low, found.high]).all():
            return None
        return Answer(
            level,
            lids.height,
            known,
            lids.get_column("patient_id").n_unique(),
            int(lids.get_column("event").sum()),
            found.estimate,
            found.low,
            found.high,
            of_hundred(found.estimate, found.low, found.high, competed=competed),
        )

    return answer
