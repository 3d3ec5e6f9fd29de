"""How many days did it take, such as those with the eye shut?"""

from __future__ import annotations

import math

import polars as pl

from outcomes.cohort import CaseSeries, column
from outcomes.findings.counsel_likeness import is_like
from outcomes.findings.counsel_results import CoverDays, Days, Level, LikeGroup, ToldDays, Why
from outcomes.protocol import COHORTS, Told
from outcomes.statistics.quantiles import quartiles


def told_days(series: CaseSeries, told: Told, groups: tuple[LikeGroup, ...]) -> ToldDays:
    """Tell the middle and the middle half of a number of days, by all lids and by the narrowest rule that both covers bear."""
    name = column(series.protocol.characteristic(told.characteristic))
    lids = series.cases.filter(pl.col(name).is_not_null())
    fewest = series.protocol.counsel.fewest_lids
    every = {cohort: _days(lids.filter(pl.col("cohort") == cohort), name, "all", fewest) for cohort in COHORTS}
    usable = [cohort for cohort in COHORTS if every[cohort] is not None]
    like: dict[str, Days | None] = dict.fromkeys(COHORTS)
    chosen = None
    for group in groups if usable else ():
        near = lids.filter(is_like(group, series.protocol))
        found = {cohort: _days(near.filter(pl.col("cohort") == cohort), name, "like", fewest) for cohort in usable}
        if all(found.values()):
            chosen, like = group, {**like, **found}
            break
    covers = (CoverDays(cohort, every[cohort], like[cohort], like[cohort] or every[cohort], _why(series, cohort, every[cohort])) for cohort in COHORTS)
    return ToldDays(told.id, told.words, *covers, group=chosen)


def _days(lids: pl.DataFrame, name: str, level: Level, fewest: int) -> Days | None:
    if lids.height < fewest:
        return None
    q1, median, q3 = (math.floor(each + 0.5) for each in quartiles(lids.get_column(name).to_numpy()))
    return Days(level, lids.height, lids.get_column("patient_id").n_unique(), median, q1, q3)


def _why(series: CaseSeries, cohort: str, found: Days | None) -> Why:
    if found is not None:
        return ""
    return "too_few" if series.cohort(cohort).height else "never_used"
