"""What an outsider could know of a lid, with the levels to which each column may be coarsened.

A blank is a level of its own. Every ladder ends with leaving the column out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from typing import Any

import polars as pl

from outcomes.cohort import DAYS_IN_MONTH, CaseSeries, followed
from outcomes.findings.disclosure.k_anonymity import Level, QuasiIdentifier

NOT_RECORDED = "not recorded"
UNKNOWN = "unknown"
WITHHELD = "withheld"
OTHER = "other"
LEFT_OUT = "left_out"
AS_HELD = "as_held"
NAMES = (
    "age_band",
    "sex",
    "side",
    "year_of_operation",
    "diagnosis",
    "days_shut",
    "months_followed",
    "smoker",
    "prior_lid_radiotherapy",
)
BAND_WIDTHS = {
    "age_band": (10, 20),
    "year_of_operation": (1, 3, 5),
    "days_shut": (7, 14),
    "months_followed": (6, 12, 24),
}


def quasi_identifiers(series: CaseSeries, cases: pl.DataFrame) -> tuple[QuasiIdentifier, ...]:
    """The columns that an outsider could know of these cases of the series, in their order."""
    held = _as_held(series, cases)
    return tuple(
        _banded(name, held.get_column(name).to_list())
        if name in BAND_WIDTHS
        else _named(name, held.get_column(name).to_list())
        for name in NAMES
    )


def _as_held(series: CaseSeries, cases: pl.DataFrame) -> pl.DataFrame:
    year = pl.col("operated_on").dt.year()
    observed = followed(series).select("case_id", "observed")
    return cases.join(observed, on="case_id", how="left", maintain_order="left").select(
        (year - pl.col("birth_year")).alias("age_band"),
        *(_known(name) for name in ("sex", "side")),
        year.alias("year_of_operation"),
        _known("diagnosis"),
        (pl.col("divided_on") - pl.col("operated_on")).dt.total_days().alias("days_shut"),
        (pl.col("observed") / DAYS_IN_MONTH).floor().cast(pl.Int64).alias("months_followed"),
        *(_known(name) for name in ("smoker", "prior_lid_radiotherapy")),
    )


def _known(name: str) -> pl.Expr:
    return pl.when(pl.col(name) != UNKNOWN).then(pl.col(name)).alias(name)


def _banded(name: str, numbers: list[int | None]) -> QuasiIdentifier:
    levels = (Level(str(width), _each(numbers, band_of(width))) for width in BAND_WIDTHS[name])
    return QuasiIdentifier(name, (*levels, _left_out(len(numbers))))


def band_of(width: int) -> Callable[[int], str]:
    """Give the band of so many whole numbers, counted from 0, in which a number lies.

    >>> band_of(20)(74)
    '60-79'
    """
    return lambda number: (
        str(number) if width == 1 else f"{number // width * width}-{number // width * width + width - 1}"
    )


def _named(name: str, words: list[str | None]) -> QuasiIdentifier:
    """As held, then the most frequent one against the others, where there are more than two."""
    exact = _each(words, str)
    most = max(Counter(exact).items(), key=lambda each: (each[1], each[0]))[0] if exact else ""
    coarse = _each(words, lambda word: word if word == most else OTHER)
    two = (Level("most_frequent", coarse),) if len(set(coarse)) < len(set(exact)) else ()
    return QuasiIdentifier(name, (Level(AS_HELD, exact), *two, _left_out(len(words))))


def _left_out(rows: int) -> Level:
    return Level(LEFT_OUT, ("",) * rows)


def _each(values: list[Any], said: Callable[[Any], str]) -> tuple[str, ...]:
    return tuple(NOT_RECORDED if value is None else said(value) for value in values)
