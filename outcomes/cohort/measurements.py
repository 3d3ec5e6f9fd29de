"""The measured values of each lid at each review after division."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from outcomes.protocol import Measure, Protocol

NOBODY = 2**20  # more than there are assessors
DECIMALS, PARTS = 3, 1000  # a value is kept in so many parts of its unit
Whole = NDArray[np.integer[Any]]


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


def reviews_of_span(
    reviews: pl.DataFrame, observations: pl.DataFrame, cases: pl.DataFrame, protocol: Protocol
) -> pl.DataFrame:
    """Give one row a review of the cases, narrow: `case` (its place among the cases), day, masked, assessor, mode, measures.

    Computed values come before entered ones; a value is kept in thousandths.
    """
    fields = _one_row_a_review(observations, reviews.get_column("review_id"), protocol)
    values = fields.select(_thousandths(measure, _kept_type(measure, protocol)) for measure in protocol.measures)
    return (
        reviews.hstack(values)
        .join(cases, on="case_id", maintain_order="none")
        .select(
            "case",
            "reviewed_on",
            (pl.col("masked") == "yes").alias("masked"),
            *(pl.col(name).cast(pl.Categorical) for name in NAMES),
            *values.columns,
        )
    )


def in_order(spans: Sequence[pl.DataFrame], protocol: Protocol) -> pl.DataFrame:
    """Put the reviews of all spans in order of case, day, masking, assessor and mode; names are numbered in order of name."""
    no_values = (
        pl.lit(None, dtype=_kept_type(each, protocol)).alias(value_column(each.id)) for each in protocol.measures
    )
    reviews = pl.concat([_NO_REVIEW.with_columns(no_values), *spans])
    reviews = reviews.with_columns(_numbered(reviews.get_column(name)) for name in NAMES)
    return reviews.sort("case", "reviewed_on", "masked", *NAMES)


NAMES = ("assessor", "mode")
_NO_REVIEW = pl.DataFrame(
    schema={"case": pl.UInt32, "reviewed_on": pl.Date, "masked": pl.Boolean, **dict.fromkeys(NAMES, pl.Categorical)}
)


def _kept_type(measure: Measure, protocol: Protocol) -> type[pl.DataType]:
    """The narrowest type that holds every value of a measure in thousandths."""
    return pl.Int32 if max(map(abs, protocol.limits(measure))) * PARTS < 2**31 else pl.Float64


def _one_row_a_review(observations: pl.DataFrame, reviews: pl.Series, protocol: Protocol) -> pl.DataFrame:
    """One column a field and one row a review, from the rows of which each holds one field of one review."""
    names = [field.id for field in protocol.observed]
    known = observations.get_column("field").cast(pl.Enum(names), strict=False)
    place = known.to_physical().fill_null(len(names)).to_numpy()
    values = np.full((len(names) + 1, reviews.len()), np.nan)  # the last row is for fields that the protocol lacks
    values[place, _places(observations.get_column("review_id"), reviews)] = observations.get_column("value").to_numpy()
    return pl.DataFrame(
        {f"field:{name}": pl.Series(column, nan_to_null=True) for name, column in zip(names, values, strict=False)}
    )


def _places(wanted: pl.Series, numbers: pl.Series) -> Whole:
    """The place of each number among the numbers of a span."""
    known = numbers.to_numpy()
    first = known.min(initial=np.iinfo(known.dtype).max)
    place = np.empty(known.max(initial=first) - first + 1, dtype=np.int64)
    place[known - first] = np.arange(known.size)
    return np.asarray(place[wanted.to_numpy() - first])


def _thousandths(measure: Measure, kept: type[pl.DataType]) -> pl.Expr:
    computed = (
        pl.col(f"field:{measure.operated}") - pl.col(f"field:{measure.fellow}")
        if measure.operated
        else pl.lit(None, dtype=pl.Float64)
    )
    entered = pl.col(f"field:{measure.field}") if measure.field else pl.lit(None, dtype=pl.Float64)
    rounded = pl.coalesce(computed, entered).round(DECIMALS)
    return (rounded * PARTS).round().cast(kept).alias(value_column(measure.id))


def measured_reviews(reviews: pl.DataFrame, cases: pl.DataFrame, protocol: Protocol) -> pl.DataFrame:
    """Give the reviews on or after the day of division at which any measure has a value, in order of lid and day.

    Columns: lid (its place among the cases), reviewed_on, masked (true, false or null), assessor, since_division and
    since_operation in days, and one a measure (`value_column`) in thousandths. When two values were given for a lid on one
    day, all stay; the window picks.
    """
    columns = [value_column(measure.id) for measure in protocol.measures]
    lid = reviews.get_column("lid")
    since = {
        f"since_{clock}": (reviews.get_column("reviewed_on") - cases.get_column(day).gather(lid)).dt.total_days()
        for clock, day in (("division", "divided_on"), ("operation", "operated_on"))
    }
    any_value = pl.any_horizontal(pl.lit(value=False), *(pl.col(name).is_not_null() for name in columns))
    return (
        reviews.select("lid", "reviewed_on", "masked", "assessor", *columns)
        .with_columns(days.cast(pl.Int32).alias(name) for name, days in since.items())
        .filter(any_value & (pl.col("since_division") >= 0))
    )


def values_of_measure(reviews: pl.DataFrame, measure: str) -> MeasureValues:
    """Read one measure from the measured reviews of a series into arrays."""
    values = reviews.get_column(value_column(measure))
    review = np.flatnonzero(values.is_not_null().to_numpy())
    lid, day, since_division, since_operation = (
        reviews.get_column(name).to_physical().to_numpy()[review]
        for name in ("lid", "reviewed_on", "since_division", "since_operation")
    )
    masked = reviews.get_column("masked").cast(pl.Int8).fill_null(-1).to_numpy()[review]
    assessor = _with_nobody(reviews.get_column("assessor"))[review]
    value = values.fill_null(0).to_numpy()[review] / PARTS
    order = _order_of_value((day, lid, masked, assessor), value)
    columns = [lid.astype(np.int64), review, value, day, since_division, since_operation, masked, assessor]
    if order is not None:
        columns = [each[order] for each in columns]
    lid, review, value, day, since_division, since_operation, masked, assessor = columns
    since = {"division": _narrow(since_division), "operation": _narrow(since_operation)}
    return MeasureValues(lid, review, value, day, since, masked, assessor)


def _order_of_value(keys: tuple[Whole, ...], value: NDArray[np.float64]) -> NDArray[np.intp] | None:
    """The order that puts the lesser first of values alike in all else; None where no two are."""
    alike = np.ones(max(value.size - 1, 0), dtype=np.bool_)
    for key in keys:
        alike &= key[1:] == key[:-1]
        if not alike.any():
            return None
    return np.lexsort((value, np.cumsum(np.append(True, ~alike))))


def _with_nobody(names: pl.Series) -> Whole:
    """The number of each name; where there is none, a greater one."""
    return names.to_physical().cast(pl.Int32).fill_null(NOBODY).to_numpy()


def _narrow(days: Whole) -> Whole:
    """The same days in half the room, if they fit: they are compared with the ends of every window."""
    fits = not days.size or -(2**15) <= days.min() <= days.max() < 2**15
    return days.astype(np.int16) if fits else days


def _numbered(names: pl.Series) -> pl.Series:
    """The same names, numbered by their place among all in order."""
    return names.cast(pl.Enum(names.drop_nulls().unique().cast(pl.String).sort()))
