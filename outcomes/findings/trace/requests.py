"""An address of comparison.json as a request to the case series, and the cases that answer it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import polars as pl

from outcomes.cohort import CaseSeries, Register
from outcomes.protocol import COHORTS, Protocol


@dataclass(frozen=True)
class Case:
    """One case behind a number: its study code, its cohort, and what it adds."""

    case: str
    cohort: str
    what: str = ""


@dataclass(frozen=True)
class TraceRequest:
    """An address, cut at its points, asked of a series; `tree` is the comparison.json that printed it."""

    register: Register
    series: CaseSeries
    tree: dict[str, Any]
    first: str
    rest: tuple[str, ...]

    @property
    def protocol(self) -> Protocol:
        """The words of the series."""
        return self.series.protocol

    @property
    def cohorts(self) -> tuple[str, ...]:
        """The cohort that the address names, or both."""
        named = {part for each in (self.first, *self.rest) for part in each.split("_")}
        return tuple(each for each in COHORTS if each in named) or COHORTS


TracedCases = tuple[list[str], list[Case]]


def listed(rows: pl.DataFrame, what: pl.Expr | None = None) -> list[Case]:
    """The rows as cases, grafted first, each cohort in order of its codes; `what` says what each adds."""
    told = rows.with_columns((pl.lit("") if what is None else what.cast(pl.String)).alias("what"))
    ordered = told.sort("cohort", "case_id", descending=[True, False])
    return [Case(*row) for row in ordered.select("case_id", "cohort", "what").iter_rows()]


def of_cohorts(rows: pl.DataFrame, asked: TraceRequest) -> pl.DataFrame:
    """Only the rows of the cohorts that the address names."""
    return rows.filter(pl.col("cohort").is_in(asked.cohorts))
