"""Days with the eye shut, from operation to division, by cohort: as done, as planned, and why divisions were early."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import polars as pl

from outcomes.cohort import CaseSeries
from outcomes.findings.estimable import estimable
from outcomes.protocol import COHORTS
from outcomes.statistics.quantiles import quartiles

NOT_RECORDED = "not recorded"


@dataclass(frozen=True)
class CohortDaysShut:
    """The days of one cohort's divided lids. `planned` is the median of the days planned, over the `planned_n` lids with a plan.

    `early` lids were divided before the day planned, `late` ones after it; `reasons` counts the early ones by what was given.
    """

    n: int
    median: float | None
    q1: float | None
    q3: float | None
    planned: float | None
    planned_n: int
    early: int
    late: int
    reasons: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class DaysShut:
    """The days of both cohorts; a description, not a comparison: the covers are planned to be divided at different times."""

    grafted: CohortDaysShut
    advanced: CohortDaysShut


def days_shut(series: CaseSeries) -> DaysShut:
    """Days from operation to division of every lid divided by the as-of day."""
    days = series.cases.select("cohort", "operated_on", "divided_on", "division_planned_on", "division_early_reason")
    grafted, advanced = (_of(days.filter(pl.col("cohort") == cohort)) for cohort in COHORTS)
    return DaysShut(grafted, advanced)


def _of(cases: pl.DataFrame) -> CohortDaysShut:
    divided = cases.filter(pl.col("divided_on").is_not_null()).with_columns(
        _days("divided_on").alias("done"), _days("division_planned_on").alias("planned")
    )
    planned = divided.filter(pl.col("planned").is_not_null())
    early = planned.filter(pl.col("done") < pl.col("planned"))
    q1, median, q3 = quartiles(divided.get_column("done").to_numpy())
    reasons = Counter(early.get_column("division_early_reason").fill_null(NOT_RECORDED).to_list())
    return CohortDaysShut(
        divided.height,
        estimable(median),
        estimable(q1),
        estimable(q3),
        estimable(quartiles(planned.get_column("planned").to_numpy())[1]),
        planned.height,
        early.height,
        planned.filter(pl.col("done") > pl.col("planned")).height,
        tuple(sorted(reasons.items(), key=lambda each: (-each[1], each[0]))),
    )


def _days(name: str) -> pl.Expr:
    return (pl.col(name) - pl.col("operated_on")).dt.total_days()
