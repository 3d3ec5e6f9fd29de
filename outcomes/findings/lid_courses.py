"""The course of each lid on the main measures, for pictures that only the clinic's own eyes see."""

from __future__ import annotations

import polars as pl

from outcomes.cohort import CaseSeries
from outcomes.findings.results import LidCourse
from outcomes.protocol import Measure, Protocol


def lid_courses(series: CaseSeries) -> tuple[LidCourse, ...]:
    """One course for each lid and main measure of which anything was measured after division, in order of measure and case."""
    lids = {case: rest for case, *rest in series.cases.select("case_id", "cohort", "divided_on").iter_rows()}
    revised = _revised(series)
    courses = []
    for measure in (each for each in series.measures if each.main):
        days = _days(series.values, measure, series.protocol)
        for case, when, values, fellow in days.iter_rows():
            cohort, divided_on = lids[case]
            lists = tuple(when), tuple(values), tuple(fellow)
            courses.append(LidCourse(case, cohort, measure.id, divided_on, *lists, revised.get(case)))
    return tuple(courses)


def _days(values: pl.DataFrame, measure: Measure, protocol: Protocol) -> pl.DataFrame:
    """One row a lid: its days, its values and those of the fellow lid; of several values of one day the last in order."""
    mine = values.filter(pl.col("measure") == measure.id).select("case_id", "since_division", "value")
    compared = next((each.id for each in protocol.measures if each.operated and each.operated == measure.field), "")
    beside = values.filter(pl.col("measure") == compared).select(
        "case_id", "since_division", pl.col("value").alias("difference")
    )
    return (
        mine.unique(["case_id", "since_division"], keep="last", maintain_order=True)
        .join(beside.unique(["case_id", "since_division"], keep="last"), on=["case_id", "since_division"], how="left")
        .with_columns((pl.col("value") - pl.col("difference")).alias("fellow"))
        .sort("case_id", "since_division")
        .group_by("case_id", maintain_order=True)
        .agg("since_division", "value", "fellow")
    )


def _revised(series: CaseSeries) -> dict[str, int]:
    """The days from division to the first revision after it."""
    dated = series.events.filter(pl.col("kind") == "revision").join(
        series.cases.select("case_id", pl.col("divided_on").alias("day_0")), on="case_id"
    )
    days = dated.select("case_id", (pl.col("happened_on") - pl.col("day_0")).dt.total_days().alias("days"))
    first = days.filter(pl.col("days") >= 0).group_by("case_id").agg(pl.col("days").min())
    return dict(first.iter_rows())
