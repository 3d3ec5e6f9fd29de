"""Figures of one outcome for both covers: of all lids, of lids like the patient's, and by a prediction.

The narrowest of the three that both covers have enough lids for is used for both, so that the two counts of 100 stand for the same
people. A cover with too few lids for any of them has no figure and does not restrict the other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import polars as pl

from outcomes.cohort import CaseSeries
from outcomes.findings.counsel.matching import is_like, shortfalls
from outcomes.findings.counsel.natural_frequencies import of_hundred_counted
from outcomes.findings.counsel.prediction import predict
from outcomes.findings.counsel.proportions import EventData, event_data
from outcomes.findings.counsel.results import (
    COVERS,
    Cohort,
    CoverFigures,
    LikeGroup,
    NoFigureReason,
    OutcomeFigures,
    Prediction,
    PublishedFigure,
    RiskFigure,
    Shortfall,
    TimePoint,
)
from outcomes.findings.results import Clock
from outcomes.protocol import CounselItem, Protocol, Published, Value

MONTHS_IN_YEAR = 12
FiguresByCover = dict[Cohort, RiskFigure]
Nearest = tuple[LikeGroup | None, FiguresByCover, tuple[Shortfall, ...]]


def outcome_figures(
    series: CaseSeries, item: CounselItem, groups: tuple[LikeGroup, ...], patient: Mapping[str, Value]
) -> OutcomeFigures:
    """Give one outcome for both covers at every level with enough lids."""
    results = event_data(series, item)
    every = {cohort: answer for cohort in COVERS if (answer := results.figure(results.of(cohort), "all")) is not None}
    group, like, lacks = _nearest(series, results, groups, tuple(every))
    predicted, prediction = _prediction(item, results, tuple(every), patient, series.protocol)
    sides = [_side(series, results, cohort, (every, like, predicted)) for cohort in COVERS]
    return OutcomeFigures(
        item.id,
        item.words,
        item.section,
        _when(item, series.protocol),
        _bound(item, series.protocol),
        sides[0],
        sides[1],
        group,
        prediction,
        lacks,
        tuple(published_figure(each) for each in series.protocol.published if each.told == item.id),
    )


def _side(
    series: CaseSeries,
    results: EventData,
    cohort: Cohort,
    levels: tuple[FiguresByCover, FiguresByCover, FiguresByCover],
) -> CoverFigures:
    every, like, predicted = levels
    lids = results.of(cohort)
    return CoverFigures(
        cohort,
        every.get(cohort),
        like.get(cohort),
        predicted.get(cohort),
        (predicted or like or every).get(cohort),
        "" if cohort in every else why_none(series, cohort),
        due=int(lids.get_column("due").sum()),
        missing=int((lids.get_column("due") & ~lids.get_column("known")).sum()),
    )


def why_none(series: CaseSeries, cohort: Cohort) -> NoFigureReason:
    """Why a cover has no figure."""
    return "too_few" if series.cohort(cohort).height else "never_used"


def published_figure(entry: Published) -> PublishedFigure:
    """A figure of a published series, of 100 beside its own count."""
    return PublishedFigure(
        entry.id,
        entry.what,
        entry.count,
        entry.of,
        of_hundred_counted(entry.count, entry.of),
        entry.followed_months,
        entry.source,
        entry.note,
    )


def _nearest(
    series: CaseSeries, results: EventData, groups: tuple[LikeGroup, ...], usable: tuple[Cohort, ...]
) -> Nearest:
    """The narrowest rule that leaves enough lids of every usable cover, its answers, and what the one before lacked."""
    lacks: tuple[Shortfall, ...] = ()
    for group in groups if usable else ():
        near = results.lids.filter(is_like(group, series.protocol))
        lids: dict[Cohort, pl.DataFrame] = {cohort: near.filter(pl.col("cohort") == cohort) for cohort in usable}
        counted = {cohort: results.figure(each, "like") for cohort, each in lids.items()}
        answers = {cohort: answer for cohort, answer in counted.items() if answer is not None}
        if len(answers) == len(usable):
            return group, answers, lacks
        known = {cohort: int(each.get_column("known").sum()) for cohort, each in lids.items()}
        lacks = shortfalls(group, known, series.protocol.counsel.fewest_lids)
    return None, {}, lacks


def _prediction(
    item: CounselItem, results: EventData, usable: tuple[Cohort, ...], patient: Mapping[str, Value], protocol: Protocol
) -> tuple[FiguresByCover, Prediction]:
    known = results.known().filter(pl.col("cohort").is_in(list(usable)))
    if item.measure:
        return predict(known, patient, protocol)
    happened = int(known.get_column("event").sum())
    return {}, Prediction("timed", (), happened, known.height - happened, 0)


def _when(item: CounselItem, protocol: Protocol) -> TimePoint:
    if item.measure:
        return TimePoint("division", window=item.window)
    clock = next(each.clock for each in protocol.timed if each.id == item.timed)
    if item.within_months % MONTHS_IN_YEAR:
        return TimePoint(_clock(clock), number=item.within_months, unit="month")
    return TimePoint(_clock(clock), number=item.within_months // MONTHS_IN_YEAR, unit="year")


def _clock(name: str) -> Clock:
    return "division" if name == "division" else "operation"


def _bound(item: CounselItem, protocol: Protocol) -> float | None:
    poor = protocol.measure(item.measure).poor if item.measure else None
    return poor.bound if poor else None


def without_figures_used(outcomes: tuple[OutcomeFigures, ...]) -> tuple[OutcomeFigures, ...]:
    """The same where the patient is unlike all lids that were seen: no figure is used, and none is predicted."""
    return tuple(
        replace(each, grafted=_unused(each.grafted), advanced=_unused(each.advanced), published=()) for each in outcomes
    )


def _unused(side: CoverFigures) -> CoverFigures:
    return replace(side, like=None, predicted=None, used=None, why=side.why or "unlike")
