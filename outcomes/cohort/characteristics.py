"""Baseline characteristics of each case, computed from its fields as the protocol defines them."""

from __future__ import annotations

import polars as pl

from outcomes.protocol import Characteristic, Protocol

UNKNOWN = "unknown"


def with_characteristics(cases: pl.DataFrame, protocol: Protocol) -> pl.DataFrame:
    """Add one column `is:ID` for each characteristic: a number, 1 or 0 for a yes or no, or a word for levels; null when not recorded."""
    return cases.with_columns(expression(each, protocol).alias(column(each)) for each in protocol.characteristics)


def column(characteristic: Characteristic) -> str:
    """The name of the column that holds a characteristic."""
    return f"is:{characteristic.id}"


def expression(characteristic: Characteristic, protocol: Protocol) -> pl.Expr:  # noqa: PLR0911 - one way a kind
    """How a characteristic follows from the fields of its case and patient."""
    if characteristic.ratio:
        top, bottom = characteristic.ratio
        return pl.col(top) / pl.col(bottom)
    if characteristic.years_since:
        return (pl.col("operated_on").dt.year() - pl.col(characteristic.years_since)).cast(pl.Float64)
    if characteristic.year_of:
        return pl.col(characteristic.year_of).dt.year().cast(pl.Float64)
    if characteristic.days_between:
        first, last = characteristic.days_between
        return (pl.col(last) - pl.col(first)).dt.total_days().cast(pl.Float64)
    if characteristic.levels_of:
        return _known(characteristic.levels_of)
    if characteristic.values:
        return _known(characteristic.field).is_in(list(characteristic.values)).cast(pl.Float64)
    if protocol.field(*_place(characteristic.field, protocol)).kind == "yes_no":
        return (pl.col(characteristic.field) == "yes").cast(pl.Float64)
    return pl.col(characteristic.field).cast(pl.Float64)


def _known(name: str) -> pl.Expr:
    return pl.when(pl.col(name) != UNKNOWN).then(pl.col(name))


def _place(name: str, protocol: Protocol) -> tuple[str, str]:
    sheet = next(
        field.sheet for field in protocol.fields if field.id == name and field.sheet in {"patients", "reconstructions"}
    )
    return sheet, name
