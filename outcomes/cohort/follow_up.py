"""The observed and the potential follow-up of each divided lid."""

from __future__ import annotations

import polars as pl

from outcomes.cohort.observation import last_reviews
from outcomes.cohort.series import CaseSeries


def followed(series: CaseSeries) -> pl.DataFrame:
    """Give, for each divided lid, the days from division to its last review, and the days it could have been followed.

    Columns: case_id, patient_id, cohort, observed, potential (to death or to the as-of day), died.
    """
    last = last_reviews(series.measured, "last_review")
    known = series.cases.select("case_id", "patient_id", "cohort", "divided_on", "died_on").with_row_index("lid")
    cases = known.join(last, on="lid", how="left")
    divided = cases.filter(pl.col("divided_on").is_not_null())
    died = pl.col("died_on").is_not_null()
    potential_end = pl.when(died).then(pl.col("died_on")).otherwise(pl.lit(series.as_of))
    observed_end = pl.when(died).then(pl.col("died_on")).otherwise(pl.col("last_review"))
    return divided.select(
        "case_id",
        "patient_id",
        "cohort",
        (observed_end - pl.col("divided_on")).dt.total_days().fill_null(0).clip(lower_bound=0).alias("observed"),
        (potential_end - pl.col("divided_on")).dt.total_days().clip(lower_bound=0).alias("potential"),
        died.alias("died"),
    ).sort("case_id")
