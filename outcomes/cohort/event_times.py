"""Times to dated events, and the intervals between reviews in which a state was reached."""

from __future__ import annotations

import numpy as np
import polars as pl

from outcomes.cohort.observation import observation_ends
from outcomes.cohort.series import CaseSeries
from outcomes.cohort.windows import DAY_0
from outcomes.protocol import Threshold, Timed

DAYS_IN_MONTH = 365.25 / 12
CENSORED, HAPPENED, COMPETED = 0, 1, 2


def event_times(series: CaseSeries, timed: Timed) -> pl.DataFrame:
    """Give, for each lid with a day 0, the days to the event, to what competes with it, or to the end of observation.

    Columns: case_id, patient_id, cohort, days, cause (0 censored, 1 the event, 2 competing), due_days (day 0 to as-of).
    What happened after the end of observation is not counted; an event before day 0 leaves the lid out, as an unknown
    day 0 does.
    """
    happened = _first(series.events, [timed.kind], "happened_on_first")
    competed = _first(series.events, list(timed.competing), "competed_on")
    watched = observation_ends(series, (timed.kind, *timed.competing))
    cases = series.cases.filter(pl.col(DAY_0[timed.clock]).is_not_null()).with_columns(
        pl.col(DAY_0[timed.clock]).alias("day_0")
    )
    for frame in (happened, competed, watched):
        cases = cases.join(frame, on="case_id", how="left")
    cases = cases.filter(pl.col("happened_on_first").is_null() | (pl.col("happened_on_first") >= pl.col("day_0")))
    end = pl.col("watched_until")
    competes = (pl.col("competed_on") <= end).fill_null(value=False)
    first = (pl.col("happened_on_first") <= end).fill_null(value=False) & (
        ~competes | (pl.col("happened_on_first") <= pl.col("competed_on"))
    )
    cause = pl.when(first).then(HAPPENED).when(competes).then(COMPETED).otherwise(CENSORED)
    until = pl.when(first).then(pl.col("happened_on_first")).when(competes).then(pl.col("competed_on")).otherwise(end)
    return cases.select(
        "case_id",
        "patient_id",
        "cohort",
        (until - pl.col("day_0")).dt.total_days().clip(lower_bound=0).alias("days"),
        cause.alias("cause"),
        (pl.lit(series.as_of) - pl.col("day_0")).dt.total_days().alias("due_days"),
    ).sort("case_id")


def _first(events: pl.DataFrame, kinds: list[str], name: str) -> pl.DataFrame:
    return events.filter(pl.col("kind").is_in(kinds)).group_by("case_id").agg(pl.col("happened_on").min().alias(name))


def event_intervals(series: CaseSeries, timed: Timed) -> pl.DataFrame:
    """Give, for each lid with at least one value after day 0, the two reviews between which the state was reached for good.

    A state that comes and goes is reached at the first of two reviews in a row that show it; once alone may be noise, so
    that a lid whose last review is the first to show it was last known free at the review before.

    Columns: case_id, patient_id, cohort, left and right in days, (left, right]; right is infinite when it was never reached;
    latest is the day of the last review with a value; due_days the days to the as-of day, or to death if that was sooner.
    """
    daily = _daily(series, timed).with_columns(
        (pl.col("there") & pl.col("there").shift(-1) & (pl.col("lid") == pl.col("lid").shift(-1)))
        .fill_null(value=False)
        .alias("reached"),
        pl.when(pl.col("lid") == pl.col("lid").shift(1)).then(pl.col("day").shift(1)).alias("before"),
    )
    spans = daily.group_by("lid").agg(
        pl.col("before").filter("reached").first().cast(pl.Float64).alias("left"),
        pl.col("day").filter("reached").first().cast(pl.Float64).fill_null(float("inf")).alias("right"),
        pl.col("day").last().alias("latest"),
        pl.when(pl.col("there").last()).then(pl.col("before").last()).otherwise(pl.col("day").last()).alias("free"),
    )
    joined = series.cases.with_row_index("lid").join(spans, on="lid").sort("lid")
    left = pl.when(pl.col("right").is_infinite()).then(pl.col("free").cast(pl.Float64)).otherwise(pl.col("left"))
    known = (left.fill_null(0.0).alias("left"), "right", "latest")
    return joined.select("case_id", "patient_id", "cohort", *known, _due_days(series, timed))


def _daily(series: CaseSeries, timed: Timed) -> pl.DataFrame:
    """One row a lid and day on which the state was looked at, in order: lid, day, there. Of one day's values the last counts."""
    values = series.values(timed.measure)
    since = values.since[timed.clock].astype(np.int64)
    days = pl.DataFrame({"lid": values.lid.astype(np.uint32), "day": since, "value": values.value})
    last = (pl.col("lid") != pl.col("lid").shift(-1)) | (pl.col("day") != pl.col("day").shift(-1))
    return days.filter((pl.col("day") > 0) & last.fill_null(value=True)).select(
        "lid", "day", _holds(pl.col("value"), timed.when).alias("there")
    )


def never_reviewed(series: CaseSeries, timed: Timed) -> pl.DataFrame:
    """Give the lids with a day 0 whose state was never looked at after it: case_id, cohort, due_days."""
    looked_at = _daily(series, timed).select("lid")
    never = series.cases.with_row_index("lid").join(looked_at, on="lid", how="anti", maintain_order="left")
    never = never.filter(pl.col(DAY_0[timed.clock]).is_not_null())
    return never.select("case_id", "cohort", _due_days(series, timed))


def _due_days(series: CaseSeries, timed: Timed) -> pl.Expr:
    """The days from day 0 to the as-of day, or to death, on which the lid could have been looked at."""
    end = pl.min_horizontal(pl.col("died_on"), pl.lit(series.as_of))
    return (end - pl.col(DAY_0[timed.clock])).dt.total_days().alias("due_days")


def _holds(value: pl.Expr, when: Threshold | None) -> pl.Expr:
    if when is None:
        return pl.lit(value=False)
    return value >= when.at_least if when.at_least is not None else value <= when.at_most
