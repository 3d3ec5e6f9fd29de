"""The review that counts for each window, and the status of a lid that has none.

Of several values in a window the one nearest to the nominal day counts; on a tie the later one, and of two on one day
the masked one. A lid without a value is *missing* (the window is past), *not yet due* (the window is not over on the
as-of day) or *not applicable* (the pedicle was never divided, or the patient died before the window was over).
"""

from __future__ import annotations

import polars as pl

from outcomes.cohort.series import CaseSeries

SEEN, MISSING, NOT_DUE, NOT_APPLICABLE = "seen", "missing", "not due", "not applicable"
DAY_0 = {"division": "divided_on", "operation": "operated_on"}


def states(series: CaseSeries, *, clock: str = "division", masked: bool | None = None) -> pl.DataFrame:
    """Give one row for each lid, window and measure: case_id, patient_id, cohort, window, measure, status, value.

    With `masked`, only reviews of that kind count. Windows are counted from the day of division or of operation.
    """
    values = series.values if masked is None else series.values.filter(pl.col("masked") == masked)
    values = values.filter(pl.col(f"since_{clock}") > 0)
    chosen = _chosen(series, values, clock)
    grid = _grid(series, clock).join(chosen, on=["case_id", "window", "measure"], how="left")
    return (
        grid.with_columns(_status(series))
        .select(
            "case_id",
            "patient_id",
            "cohort",
            "window",
            "measure",
            "status",
            "value",
            "reviewed_on",
            "masked",
            "assessor",
        )
        .sort("measure", "window", "case_id")
    )


def _windows(series: CaseSeries) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "window": [w.id for w in series.windows],
            "nominal": [w.nominal_days for w in series.windows],
            "first": [w.days[0] for w in series.windows],
            "last": [w.days[1] for w in series.windows],
        },
        schema={"window": pl.String, "nominal": pl.Int64, "first": pl.Int64, "last": pl.Int64},
    )


def _grid(series: CaseSeries, clock: str) -> pl.DataFrame:
    measures = pl.DataFrame({"measure": [m.id for m in series.measures]}, schema={"measure": pl.String})
    cases = series.cases.select(
        "case_id",
        "patient_id",
        "cohort",
        "divided_on",
        "died_on",
        "division_planned_on",
        pl.col(DAY_0[clock]).alias("day_0"),
    )
    return cases.join(_windows(series), how="cross").join(measures, how="cross")


def _chosen(series: CaseSeries, values: pl.DataFrame, clock: str) -> pl.DataFrame:
    day = pl.col(f"since_{clock}")
    return (
        values.join(_windows(series), how="cross")
        .filter(day.is_between(pl.col("first"), pl.col("last")))
        .with_columns((day - pl.col("nominal")).abs().alias("away"))
        .sort(
            "case_id",
            "measure",
            "window",
            "away",
            "reviewed_on",
            "masked",
            "assessor",
            descending=[False, False, False, False, True, True, False],
            nulls_last=True,
        )
        .unique(["case_id", "measure", "window"], keep="first", maintain_order=True)
        .select("case_id", "window", "measure", "value", "reviewed_on", "masked", "assessor")
    )


def _status(series: CaseSeries) -> pl.Expr:
    over = pl.col("day_0") + pl.duration(days=pl.col("last"))
    undivided = pl.col("divided_on").is_null()
    return (
        pl.when(pl.col("value").is_not_null())
        .then(pl.lit(SEEN))
        .when(undivided & (pl.col("division_planned_on") > series.as_of) & pl.col("died_on").is_null())
        .then(pl.lit(NOT_DUE))
        .when(undivided | (pl.col("died_on") <= over))
        .then(pl.lit(NOT_APPLICABLE))
        .when(over > series.as_of)
        .then(pl.lit(NOT_DUE))
        .otherwise(pl.lit(MISSING))
        .alias("status")
    )
