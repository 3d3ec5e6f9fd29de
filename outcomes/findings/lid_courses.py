"""The course of each drawn lid on the main measures, for pictures that only the clinic's own eyes see."""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from outcomes.cohort import CaseSeries
from outcomes.findings.drawn_lids import drawn_lids
from outcomes.findings.results import LidCourse
from outcomes.protocol import Measure


def lid_courses(series: CaseSeries) -> tuple[LidCourse, ...]:
    """One course for each drawn lid and main measure of which anything was measured after division, by measure and case."""
    drawn = drawn_lids(series).select("lid", "case_id", "cohort", "divided_on")
    revised = _revised(series)
    series = replace(series, measured=series.measured.join(drawn, on="lid", how="semi", maintain_order="left"))
    drawn = drawn.cast({"lid": pl.Int64})
    return tuple(
        LidCourse(case, cohort, measure.id, divided_on, tuple(when), tuple(values), tuple(fellow), revised.get(case))
        for measure in series.measures
        if measure.main
        for case, cohort, divided_on, when, values, fellow in _days(series, measure, drawn).iter_rows()
    )


def _days(series: CaseSeries, measure: Measure, drawn: pl.DataFrame) -> pl.DataFrame:
    """One row a drawn lid: its days, its values and those of the fellow lid; of several values of one day the last in order."""
    compared = next(
        (each.id for each in series.protocol.measures if each.operated and each.operated == measure.field), ""
    )
    own = _of_each_day(series, measure.id, drawn)
    beside = _of_each_day(series, compared, drawn) if compared else own.clear()
    return (
        own.join(beside.select("lid", "since_division", difference="value"), on=["lid", "since_division"], how="left")
        .with_columns((pl.col("value") - pl.col("difference")).alias("fellow"))
        .sort("lid", "since_division")
        .group_by("lid", "case_id", "cohort", "divided_on", maintain_order=True)
        .agg("since_division", "value", "fellow")
        .drop("lid")
    )


def _of_each_day(series: CaseSeries, measure: str, drawn: pl.DataFrame) -> pl.DataFrame:
    values = series.values(measure)
    days = pl.DataFrame({"lid": values.lid, "since_division": values.since["division"], "value": values.value})
    return days.join(drawn, on="lid", maintain_order="left").unique(
        ["lid", "since_division"], keep="last", maintain_order=True
    )


def _revised(series: CaseSeries) -> dict[str, int]:
    """The days from division to the first revision after it."""
    dated = series.events.filter(pl.col("kind") == "revision").join(
        series.cases.select("case_id", pl.col("divided_on").alias("day_0")), on="case_id"
    )
    days = dated.select("case_id", (pl.col("happened_on") - pl.col("day_0")).dt.total_days().alias("days"))
    first = days.filter(pl.col("days") >= 0).group_by("case_id").agg(pl.col("days").min())
    return dict(first.iter_rows())
