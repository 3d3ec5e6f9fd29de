"""Follow-up of each cohort: length, completeness, reviews and who assessed."""

from __future__ import annotations

from datetime import date

import numpy as np
import polars as pl

from outcomes.cohort import (
    DAYS_IN_MONTH,
    SEEN,
    STATUSES,
    CaseSeries,
    counted_days,
    followed,
    status_without_value,
    value_column,
)
from outcomes.findings.drawn_lids import drawn_lids
from outcomes.findings.estimable import estimable
from outcomes.findings.results import Followed, Group, WindowFollowed
from outcomes.protocol import COHORTS, Measure, Window
from outcomes.statistics.completeness import clark_completeness
from outcomes.statistics.kaplan_meier import median_follow_up


def group(series: CaseSeries, cohort: str) -> Group:
    """Describe one cohort: lids, patients, divided, median follow-up since division, completeness, who assessed."""
    cases = series.cases.select("patient_id", "cohort").filter(pl.col("cohort") == cohort)
    length = followed(series).filter(pl.col("cohort") == cohort)
    days, died = length.get_column("observed").to_numpy(), length.get_column("died").to_numpy()
    median = median_follow_up(time=days / DAYS_IN_MONTH, event=died) if length.height else None
    complete = (
        clark_completeness(observed=days, potential=length.get_column("potential").to_numpy())
        if length.height
        else float("nan")
    )
    reviews = _reviews_of(series, cohort)
    return Group(
        cases=cases.height,
        patients=cases.get_column("patient_id").n_unique(),
        divided=length.height,
        median_followup_months=estimable(median.estimate) if median else None,
        followup_low=estimable(median.low) if median else None,
        followup_high=estimable(median.high) if median else None,
        followup_completeness=estimable(complete),
        assessors=_assessors(reviews),
        masked_reviews=int(reviews.get_column("masked").sum()),
        reviews=reviews.height,
    )


def _reviews_of(series: CaseSeries, cohort: str) -> pl.DataFrame:
    """The reviews of one cohort on or after the day of division."""
    lid = series.reviews.get_column("lid")
    mine, divided = (series.cases.get_column("cohort") == cohort).gather(lid), series.cases.get_column("divided_on")
    return series.reviews.filter(mine & (pl.col("reviewed_on") >= divided.gather(lid)))


def _assessors(reviews: pl.DataFrame) -> tuple[tuple[str, int], ...]:
    counts = (
        reviews.drop_nulls("assessor").group_by("assessor").len().sort(["len", "assessor"], descending=[True, False])
    )
    return tuple((str(name), int(number)) for name, number in counts.iter_rows())


def followed_cases(series: CaseSeries) -> tuple[Followed, ...]:
    """Give the line of each drawn case: when it was divided, reviewed, what happened, how follow-up ended, in days from operation."""
    drawn = drawn_lids(series)
    of_drawn = drawn.select("lid", "case_id", "operated_on")
    reviews = _days_by_case(series.reviews.join(of_drawn, on="lid", maintain_order="left"), "reviewed_on")
    events = {
        case: list(zip(kinds, days, strict=True))
        for case, kinds, days in series.events.join(drawn, on="case_id", how="semi", maintain_order="left")
        .with_columns(_since_operation("happened_on").alias("day"))
        .group_by("case_id", maintain_order=True)
        .agg("kind", "day")
        .iter_rows()
    }
    ends = set(series.protocol.ends_follow_up)
    return tuple(
        _line(row, reviews.get(row["case_id"], []), events.get(row["case_id"], []), ends, series.as_of)
        for row in drawn.iter_rows(named=True)
    )


def _line(
    row: dict[str, object], reviews: list[int], events: list[tuple[str, int]], ends: set[str], as_of: date
) -> Followed:
    operated, divided = row["operated_on"], row["divided_on"]
    assert isinstance(operated, date)  # noqa: S101 - the column has no other type
    ended = next(((kind, day) for kind, day in events if kind in ends), None)
    return Followed(
        case=str(row["case_id"]),
        cohort=str(row["cohort"]),
        divided=(divided - operated).days if isinstance(divided, date) else None,
        reviews=tuple(sorted(set(reviews))),
        events=tuple((kind, day) for kind, day in events if kind not in ends),
        ended=ended,
        due_until=(as_of - operated).days,
        operated_on=operated,
    )


def _since_operation(column: str) -> pl.Expr:
    return (pl.col(column) - pl.col("operated_on")).dt.total_days()


def _days_by_case(frame: pl.DataFrame, column: str) -> dict[str, list[int]]:
    days = frame.with_columns(_since_operation(column).alias("day")).group_by("case_id", maintain_order=True).agg("day")
    return {str(case): list(each) for case, each in days.iter_rows()}


def followed_by_window(series: CaseSeries) -> tuple[WindowFollowed, ...]:
    """Count, for each window and cohort, lids with any measure seen, with none though due, not yet due, and not applicable."""
    numbers = {window.id: _numbers(series, window) for window in series.windows}
    return tuple(
        WindowFollowed(window.id, cohort, *numbers[window.id][cohort])
        for window in series.windows
        for cohort in COHORTS
    )


def _numbers(series: CaseSeries, window: Window) -> dict[str, list[int]]:
    """How many lids of each cohort have each status, in the order of `STATUSES`."""
    status = status_without_value(series, window, clock="division")
    in_window = pl.col("since_division").is_between(*counted_days(window))
    seen = series.measured.filter(in_window & _any_of(series.measures))
    status[seen.get_column("lid").to_numpy()] = STATUSES.index(SEEN)
    cohorts = series.cases.get_column("cohort")
    return {
        cohort: np.bincount(status[(cohorts == cohort).to_numpy()], minlength=len(STATUSES)).tolist()
        for cohort in COHORTS
    }


def _any_of(measures: tuple[Measure, ...]) -> pl.Expr:
    """Tell of a review whether any of these measures has a value."""
    return pl.any_horizontal(pl.lit(value=False), *(pl.col(value_column(each.id)).is_not_null() for each in measures))
