"""Durations in days of each cover, such as the days with the eye shut: median and middle half."""

from __future__ import annotations

import math
from dataclasses import replace

import polars as pl

from outcomes.cohort import CaseSeries, column
from outcomes.findings.counsel.matching import is_like
from outcomes.findings.counsel.outcome_figures import why_none
from outcomes.findings.counsel.results import (
    COVERS,
    Cohort,
    CoverDurations,
    DurationFigure,
    DurationFigures,
    FigureKind,
    LikeGroup,
)
from outcomes.protocol import CounselItem
from outcomes.statistics.quantiles import quartiles

ByCover = dict[Cohort, DurationFigure]


def duration_figures(series: CaseSeries, item: CounselItem, groups: tuple[LikeGroup, ...]) -> DurationFigures:
    """Summarise a number of days for each cover: of all lids, and by the narrowest rule that leaves enough of both covers."""
    name = column(series.protocol.characteristic(item.characteristic))
    lids = series.cases.filter(pl.col(name).is_not_null())
    every = _by_cover(series, lids, name, "all")
    group, like = _nearest(series, lids, name, groups if every else ())
    grafted, advanced = (
        CoverDurations(
            cohort,
            every.get(cohort),
            like.get(cohort),
            (like or every).get(cohort),
            "" if cohort in every else why_none(series, cohort),
        )
        for cohort in COVERS
    )
    return DurationFigures(item.id, item.words, grafted, advanced, group)


def _nearest(
    series: CaseSeries, lids: pl.DataFrame, name: str, groups: tuple[LikeGroup, ...]
) -> tuple[LikeGroup | None, ByCover]:
    usable = _by_cover(series, lids, name, "all").keys()
    for group in groups:
        by_cover = _by_cover(series, lids.filter(is_like(group, series.protocol)), name, "like")
        if by_cover.keys() >= usable:
            return group, by_cover
    return None, {}


def _by_cover(series: CaseSeries, lids: pl.DataFrame, name: str, level: FigureKind) -> ByCover:
    """The days of each cover that has enough of these lids."""
    fewest = series.protocol.counsel.fewest_lids
    of = {cohort: lids.filter(pl.col("cohort") == cohort) for cohort in COVERS}
    return {cohort: _days(each, name, level) for cohort, each in of.items() if each.height >= fewest}


def _days(lids: pl.DataFrame, name: str, level: FigureKind) -> DurationFigure:
    q1, median, q3 = (math.floor(each + 0.5) for each in quartiles(lids.get_column(name).to_numpy()))
    return DurationFigure(level, lids.height, lids.get_column("patient_id").n_unique(), median, q1, q3)


def without_durations_used(durations: tuple[DurationFigures, ...]) -> tuple[DurationFigures, ...]:
    """The same where the patient is unlike all lids that were seen."""
    return tuple(replace(each, grafted=_unused(each.grafted), advanced=_unused(each.advanced)) for each in durations)


def _unused(side: CoverDurations) -> CoverDurations:
    return replace(side, like=None, used=None, why=side.why or "unlike")
