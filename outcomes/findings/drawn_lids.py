"""The lids that are drawn one by one: all of a cohort of up to 150, of a larger one 150 evenly spaced in order of operation."""

from __future__ import annotations

import polars as pl

from outcomes.cohort import CaseSeries

MOST_DRAWN = 150


def drawn_lids(series: CaseSeries) -> pl.DataFrame:
    """The cases that are drawn, in order of case, each with its place among all cases of the series (`lid`)."""
    cases = series.cases.with_row_index("lid")
    order = pl.struct("operated_on", "case_id").rank("ordinal").over("cohort").cast(pl.Int64) - 1
    number = pl.len().over("cohort").cast(pl.Int64)
    drawn = pl.min_horizontal(number, pl.lit(MOST_DRAWN))
    # one lid in each of so many equal parts of the order: the first of the part
    first_of_part = (order * drawn) // number != ((order - 1) * drawn) // number
    return cases.filter((order == 0) | first_of_part)
