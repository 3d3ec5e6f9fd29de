"""How many days did it take, such as those with the eye shut?"""

from __future__ import annotations

import math

import polars as pl

from outcomes.cohort import CaseSeries, column
from outcomes.findings.counsel.matching import is_like
from outcomes.findings.counsel.outcome_figures import COVERS, why_none
from outcomes.findings.counsel.results import Cohort, CoverDays, Days, Level, LikeGroup, ToldDays
from outcomes.protocol import CounselItem
from outcomes.statistics.quantiles import quartiles

ByCover = dict[Cohort, Days]


def told_days(series: CaseSeries, told: CounselItem, groups: tuple[LikeGroup, ...]) -> ToldDays:
    """Tell the middle half of a number of days, by all lids and by the narrowest rule that both covers bear."""
    name = column(series.protocol.characteristic(told.characteristic))
    lids = series.cases.filter(pl.col(name).is_not_null())
    every = _by_cover(series, lids, name, "all")
    group, like = _nearest(series, lids, name, groups if every else ())
    grafted, advanced = (
        CoverDays(
            cohort,
            every.get(cohort),
            like.get(cohort),
            (like or every).get(cohort),
            "" if cohort in every else why_none(series, cohort),
        )
        for cohort in COVERS
    )
    return ToldDays(told.id, told.words, grafted, advanced, group)


def _nearest(
    series: CaseSeries, lids: pl.DataFrame, name: str, groups: tuple[LikeGroup, ...]
) -> tuple[LikeGroup | None, ByCover]:
    usable = _by_cover(series, lids, name, "all").keys()
    for group in groups:
        found = _by_cover(series, lids.filter(is_like(group, series.protocol)), name, "like")
        if found.keys() >= usable:
            return group, found
    return None, {}


def _by_cover(series: CaseSeries, lids: pl.DataFrame, name: str, level: Level) -> ByCover:
    """The days of each cover that has enough of these lids."""
    fewest = series.protocol.counsel.fewest_lids
    of = {cohort: lids.filter(pl.col("cohort") == cohort) for cohort in COVERS}
    return {cohort: _days(each, name, level) for cohort, each in of.items() if each.height >= fewest}


def _days(lids: pl.DataFrame, name: str, level: Level) -> Days:
    q1, median, q3 = (math.floor(each + 0.5) for each in quartiles(lids.get_column(name).to_numpy()))
    return Days(level, lids.height, lids.get_column("patient_id").n_unique(), median, q1, q3)
