"""The measured values of each lid at each review after division."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from outcomes.protocol import Measure, Protocol

DECIMALS = 3
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class MeasureValues:
    """Every value of one measure, in order of lid, day, masking, assessor and value.

    `lid` and `review` are places in the cases and in the measured reviews of the series; days are counted from 1970 or,
    in `since`, from each clock. `masked` is 1, 0 or, not known, -1; assessors are numbered by name, the unknown last.
    """

    lid: Whole
    review: Whole
    value: NDArray[np.float64]
    reviewed_on: Whole
    since: dict[str, Whole]
    masked: Whole
    assessor: Whole


def value_column(measure: str) -> str:
    """The name of the column that holds a measure at each review."""
    return f"measure:{measure}"


def measured_reviews(
    reviews: pl.DataFrame, observations: pl.DataFrame, cases: pl.DataFrame, protocol: Protocol
) -> pl.DataFrame:
    """Give one row for each review on or after the day of division at which any measure has a value, in order of lid and day.

    Columns: lid (its place among the cases), case_id, reviewed_on, masked (true, false or null), assessor, since_division
    and since_operation in days, and one a measure (`value_column`), computed values before entered ones. When two values
    were given for a lid on one day, all stay; the window picks.
    """
    columns = [value_column(measure.id) for measure in protocol.measures]
    lids = cases.select("case_id").with_row_index("lid")
    return (
        reviews.filter(pl.col("reviewed_on") >= pl.col("divided_on"))
        .join(_one_row_a_review(observations, protocol), on="review_id")
        .join(lids, on="case_id")
        .with_columns(_value(measure) for measure in protocol.measures)
        .select(
            "lid",
            "case_id",
            "reviewed_on",
            (pl.col("masked") == "yes").alias("masked"),
            "assessor",
            (pl.col("reviewed_on") - pl.col("divided_on")).dt.total_days().alias("since_division"),
            (pl.col("reviewed_on") - pl.col("operated_on")).dt.total_days().alias("since_operation"),
            *columns,
        )
        .filter(pl.any_horizontal(pl.lit(value=False), *(pl.col(name).is_not_null() for name in columns)))
        .sort("lid", "reviewed_on", "masked", "assessor", maintain_order=True)
    )


def _one_row_a_review(observations: pl.DataFrame, protocol: Protocol) -> pl.DataFrame:
    """One column a field, from the rows of which each holds one field of one review."""
    names = [field.id for field in protocol.observed]
    reviews = observations.get_column("review_id").unique().sort()
    row = reviews.search_sorted(observations.get_column("review_id")).to_numpy()
    place = observations.get_column("field").replace_strict(names, range(len(names)), default=-1, return_dtype=pl.Int64)
    value = observations.get_column("value").to_numpy()
    columns = {"review_id": reviews}
    for number, name in enumerate(names):
        here = np.flatnonzero(place.to_numpy() == number)
        column = np.full(reviews.len(), np.nan)
        column[row[here[::-1]]] = value[here[::-1]]
        columns[f"field:{name}"] = pl.Series(column, nan_to_null=True)
    return pl.DataFrame(columns)


def _value(measure: Measure) -> pl.Expr:
    computed = (
        pl.col(f"field:{measure.operated}") - pl.col(f"field:{measure.fellow}")
        if measure.operated
        else pl.lit(None, dtype=pl.Float64)
    )
    entered = pl.col(f"field:{measure.field}") if measure.field else pl.lit(None, dtype=pl.Float64)
    return pl.coalesce(computed, entered).round(DECIMALS).alias(value_column(measure.id))


def values_of_measure(reviews: pl.DataFrame, measure: str) -> MeasureValues:
    """Read one measure from the measured reviews of a series into arrays."""
    values = reviews.get_column(value_column(measure))
    review = np.flatnonzero(values.is_not_null().to_numpy())
    known = reviews.select("lid", "reviewed_on", "masked", "since_division", "since_operation")[review]
    lid, day = (_whole(known.get_column(name)) for name in ("lid", "reviewed_on"))
    masked = _whole(known.get_column("masked").fill_null(value=False))
    masked[known.get_column("masked").is_null().to_numpy()] = -1
    value = values.gather(review).to_numpy()
    assessor = _numbered(reviews.get_column("assessor"))[review]
    since = {clock: _whole(known.get_column(f"since_{clock}")) for clock in ("division", "operation")}
    order = _order_of_value(np.stack([lid, day, masked, assessor]), value)
    if order is not None:
        lid, review, value, day, masked, assessor = (
            each[order] for each in (lid, review, value, day, masked, assessor)
        )
        since = {clock: days[order] for clock, days in since.items()}
    return MeasureValues(lid, review, value, day, since, masked, assessor)


def _order_of_value(keys: Whole, value: NDArray[np.float64]) -> NDArray[np.intp] | None:
    """The order that puts the lesser first of values alike in all else; None where no two are."""
    begins = np.append(True, (keys[:, 1:] != keys[:, :-1]).any(axis=0))[: value.size]
    return None if begins.all() else np.lexsort((value, np.cumsum(begins)))


def _whole(column: pl.Series) -> Whole:
    return column.to_physical().cast(pl.Int64).to_numpy(writable=True)


def _numbered(names: pl.Series) -> Whole:
    """The place of each name among all in order; past the last where there is none."""
    known = names.drop_nulls().unique().sort()
    return _whole(names.replace_strict(known, range(known.len()), default=known.len(), return_dtype=pl.Int64))
