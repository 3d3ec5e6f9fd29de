"""How often did one thing happen with each cover: in all lids, in those like the patient's, and by a prediction?

The narrowest of the three that both covers can bear is used for both, so that the two counts of 100 stand for the same
people. A cover that cannot bear even a count of all its lids is told apart and does not hold the other back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Literal

import polars as pl

from outcomes.cohort import CaseSeries
from outcomes.findings.counsel_answers import Results, results_of
from outcomes.findings.counsel_likeness import is_like, lacking
from outcomes.findings.counsel_numbers import of_hundred_counted
from outcomes.findings.counsel_prediction import predict
from outcomes.findings.counsel_results import (
    Answer,
    CoverAnswer,
    Lacking,
    LikeGroup,
    Prediction,
    PublishedFigure,
    ToldAnswer,
    Why,
)
from outcomes.protocol import COHORTS, Protocol, Published, Told, Value

MONTHS_IN_YEAR = 12
Answers = dict[str, Answer]
Nearest = tuple[LikeGroup | None, Answers, tuple[Lacking, ...]]


def told_answer(series: CaseSeries, told: Told, groups: tuple[LikeGroup, ...], patient: Mapping[str, Value]) -> ToldAnswer:
    """Tell one result for both covers at every level that the lids can bear."""
    results = results_of(series, told)
    by_cover = {cohort: results.lids.filter(pl.col("cohort") == cohort) for cohort in COHORTS}
    found = {cohort: results.answer(lids, "all") for cohort, lids in by_cover.items()}
    every = {cohort: answer for cohort, answer in found.items() if answer is not None}
    group, like, lacks = _nearest(series, results, groups, tuple(every))
    predicted, prediction = _prediction(told, results, tuple(every), patient, series.protocol)
    used = predicted or like or every
    covers = {
        cohort: CoverAnswer(
            cohort, every.get(cohort), like.get(cohort), predicted.get(cohort), used.get(cohort), _why(series, cohort, every),
            due=int(lids.get_column("due").sum()), missing=int((lids.get_column("due") & ~lids.get_column("known")).sum()),
        )
        for cohort, lids in by_cover.items()
    }
    return ToldAnswer(
        told.id, told.words, told.window, **_when(told, series.protocol), **covers, group=group, prediction=prediction, lacking=lacks,
        published=tuple(published_figure(each) for each in series.protocol.published if each.told == told.id),
    )


def published_figure(entry: Published) -> PublishedFigure:
    """A figure of a published series, of 100 beside its own count."""
    return PublishedFigure(
        entry.id, entry.what, entry.count, entry.of, of_hundred_counted(entry.count, entry.of), entry.followed, entry.source
    )


def _nearest(series: CaseSeries, results: Results, groups: tuple[LikeGroup, ...], usable: tuple[str, ...]) -> Nearest:
    """The narrowest rule that leaves enough lids of every usable cover, its answers, and what the rule before it lacked."""
    lacks: tuple[Lacking, ...] = ()
    for group in groups if usable else ():
        near = results.lids.filter(is_like(group, series.protocol))
        lids = {cohort: near.filter(pl.col("cohort") == cohort) for cohort in usable}
        found = {cohort: results.answer(each, "like") for cohort, each in lids.items()}
        answers = {cohort: answer for cohort, answer in found.items() if answer is not None}
        if len(answers) == len(usable):
            return group, answers, lacks
        known = {cohort: int(each.get_column("known").sum()) for cohort, each in lids.items()}
        lacks = lacking(group, known, series.protocol.counsel.fewest_lids)
    return None, {}, lacks


def _prediction(
    told: Told, results: Results, usable: tuple[str, ...], patient: Mapping[str, Value], protocol: Protocol
) -> tuple[Answers, Prediction]:
    known = results.known().filter(pl.col("cohort").is_in(list(usable)))
    if told.measure:
        return predict(known, patient, protocol)
    happened = int(known.get_column("event").sum())
    return {}, Prediction("timed", (), happened, known.height - happened, 0)


def _why(series: CaseSeries, cohort: str, every: Answers) -> Why:
    if cohort in every:
        return ""
    return "too_few" if series.cohort(cohort).height else "never_used"


def _when(told: Told, protocol: Protocol) -> dict[str, Any]:
    if told.measure:
        poor = protocol.measure(told.measure).poor
        return {"number": None, "unit": "", "clock": "division", "bound": poor.bound if poor else None}
    unit: Literal["year", "month"] = "month" if told.within_months % MONTHS_IN_YEAR else "year"
    number = told.within_months if unit == "month" else told.within_months // MONTHS_IN_YEAR
    clock = next(each.clock for each in protocol.timed if each.id == told.timed)
    return {"number": number, "unit": unit, "clock": clock, "bound": None}


def without_small_counts(told: tuple[ToldAnswer, ...], threshold: int) -> tuple[ToldAnswer, ...]:
    """The same for a leaflet that leaves the room: all lids of a cover only, and no count that could point to a person.

    An answer goes when the lids with the result, or those without it, number from 1 to one less than the threshold; and
    the later of two answers that differ in so few, such as the same event by three and by five years.
    """
    kept: list[ToldAnswer] = []
    for answer in told:
        sides = {cohort: _public_side(answer, cohort, kept, threshold) for cohort in COHORTS}
        kept.append(replace(answer, **sides, group=None, lacking=(), prediction=Prediction("public", (), 0, 0, 0)))
    return tuple(kept)


def _public_side(answer: ToldAnswer, cohort: str, before: list[ToldAnswer], threshold: int) -> CoverAnswer:
    side: CoverAnswer = getattr(answer, cohort)
    found = side.all
    small = found is not None and (
        _small(found.events, threshold) or _small(found.known - found.events, threshold) or _small(found.n - found.events, threshold)
        or any(_small(abs(found.events - other.events), threshold) for other in _same_words(answer, cohort, before))
    )
    if small or found is None:
        why: Why = "suppressed" if small else side.why
        return replace(side, all=None, like=None, predicted=None, used=None, why=why, due=0, missing=0)
    return replace(side, like=None, predicted=None, used=found, due=0, missing=0)


def _same_words(answer: ToldAnswer, cohort: str, before: list[ToldAnswer]) -> list[Answer]:
    earlier = [getattr(each, cohort).all for each in before if each.words == answer.words]
    return [each for each in earlier if each is not None]


def _small(count: int, threshold: int) -> bool:
    return 0 < count < threshold
