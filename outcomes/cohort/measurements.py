"""The measured values of each lid at each review after division."""

from __future__ import annotations

import polars as pl

from outcomes.protocol import Measure, Protocol

DECIMALS = 3


def measured(reviews: pl.DataFrame, observations: pl.DataFrame, protocol: Protocol) -> pl.DataFrame:
    """Give one row for each measure at each review on or after the day of division, computed values before entered ones.

    Columns: case_id, measure, value, reviewed_on, masked (true, false or null), assessor, since_division and
    since_operation in days. When two values were given for a lid on one day, all stay; the window picks.
    """
    wide = _one_row_a_review(reviews, observations, protocol)
    names = [measure.id for measure in protocol.measures]
    return (
        wide.filter(pl.col("reviewed_on") >= pl.col("divided_on"))
        .with_columns(_value(measure).alias(f"measure:{measure.id}") for measure in protocol.measures)
        .select(
            "case_id",
            "reviewed_on",
            "assessor",
            (pl.col("masked") == "yes").alias("masked"),
            (pl.col("reviewed_on") - pl.col("divided_on")).dt.total_days().alias("since_division"),
            (pl.col("reviewed_on") - pl.col("operated_on")).dt.total_days().alias("since_operation"),
            *(pl.col(f"measure:{name}").alias(name) for name in names),
        )
        .unpivot(
            on=names,
            index=["case_id", "reviewed_on", "assessor", "masked", "since_division", "since_operation"],
            variable_name="measure",
            value_name="value",
        )
        .drop_nulls("value")
        .sort("case_id", "measure", "reviewed_on", "masked", "assessor", "value")
    )


def _one_row_a_review(reviews: pl.DataFrame, observations: pl.DataFrame, protocol: Protocol) -> pl.DataFrame:
    fields = [field.id for field in protocol.observed]
    columns = [pl.col("value").filter(pl.col("field") == name).first().alias(f"field:{name}") for name in fields]
    return reviews.join(observations.group_by("review_id").agg(columns), on="review_id", how="left")


def _value(measure: Measure) -> pl.Expr:
    computed = (
        pl.col(f"field:{measure.operated}") - pl.col(f"field:{measure.fellow}")
        if measure.operated
        else pl.lit(None, dtype=pl.Float64)
    )
    entered = pl.col(f"field:{measure.field}") if measure.field else pl.lit(None, dtype=pl.Float64)
    return pl.coalesce(computed, entered).round(DECIMALS)
