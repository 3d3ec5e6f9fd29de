"""How often did one thing happen with each cover: in all lids, in those like the patient's, and by a prediction?

The narrowest of the three that both covers can bear is used for both, so that the two counts of 100 stand for the same
people. A cover that cannot bear even a count of all its lids is told apart and does not hold the other back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import polars as pl

from outcomes.cohort import CaseSeries
from outcomes.findings.counsel.matching import is_like, lacking
from outcomes.findings.counsel.natural_frequencies import of_hundred_counted
from outcomes.findings.counsel.prediction import predict
from outcomes.findings.counsel.proportions import Results, results_of
from outcomes.findings.counsel.results import (
    Answer,
    Cohort,
    CoverAnswer,
    Lacking,
    LikeGroup,
    Prediction,
    PublishedFigure,
    ToldAnswer,
    When,
    Why,
)
from outcomes.findings.results import Clock
from outcomes.protocol import CounselItem, Protocol, Published, Value

COVERS: tuple[Cohort, Cohort] = ("grafted", "advanced")
MONTHS_IN_YEAR = 12
Answers = dict[Cohort, Answer]
Nearest = tuple[LikeGroup | None, Answers, tuple[Lacking, ...]]


def told_answer(
    series: CaseSeries, told: CounselItem, groups: tuple[LikeGroup, ...], patient: Mapping[str, Value]
) -> ToldAnswer:
    """Tell one result for both covers at every level that the lids can bear."""
    results = results_of(series, told)
    every = {cohort: answer for cohort in COVERS if (answer := results.answer(results.of(cohort), "all")) is not None}
    group, like, lacks = _nearest(series, results, groups, tuple(every))
    predicted, prediction = _prediction(told, results, tuple(every), patient, series.protocol)
    sides = [_side(series, results, cohort, (every, like, predicted)) for cohort in COVERS]
    return ToldAnswer(
        told.id,
        told.words,
        _when(told, series.protocol),
        _bound(told, series.protocol),
        sides[0],
        sides[1],
        group,
        prediction,
        lacks,
        tuple(published_figure(each) for each in series.protocol.published if each.told == told.id),
    )


def _side(
    series: CaseSeries, results: Results, cohort: Cohort, levels: tuple[Answers, Answers, Answers]
) -> CoverAnswer:
    every, like, predicted = levels
    lids = results.of(cohort)
    return CoverAnswer(
        cohort,
        every.get(cohort),
        like.get(cohort),
        predicted.get(cohort),
        (predicted or like or every).get(cohort),
        "" if cohort in every else why_none(series, cohort),
        due=int(lids.get_column("due").sum()),
        missing=int((lids.get_column("due") & ~lids.get_column("known")).sum()),
    )


def why_none(series: CaseSeries, cohort: Cohort) -> Why:
    """Why nothing can be told of a cover."""
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
    series: CaseSeries, results: Results, groups: tuple[LikeGroup, ...], usable: tuple[Cohort, ...]
) -> Nearest:
    """The narrowest rule that leaves enough lids of every usable cover, its answers, and what the one before lacked."""
    lacks: tuple[Lacking, ...] = ()
    for group in groups if usable else ():
        near = results.lids.filter(is_like(group, series.protocol))
        lids: dict[Cohort, pl.DataFrame] = {cohort: near.filter(pl.col("cohort") == cohort) for cohort in usable}
        found = {cohort: results.answer(each, "like") for cohort, each in lids.items()}
        answers = {cohort: answer for cohort, answer in found.items() if answer is not None}
        if len(answers) == len(usable):
            return group, answers, lacks
        known = {cohort: int(each.get_column("known").sum()) for cohort, each in lids.items()}
        lacks = lacking(group, known, series.protocol.counsel.fewest_lids)
    return None, {}, lacks


def _prediction(
    told: CounselItem, results: Results, usable: tuple[Cohort, ...], patient: Mapping[str, Value], protocol: Protocol
) -> tuple[Answers, Prediction]:
    known = results.known().filter(pl.col("cohort").is_in(list(usable)))
    if told.measure:
        return predict(known, patient, protocol)
    happened = int(known.get_column("event").sum())
    return {}, Prediction("timed", (), happened, known.height - happened, 0)


def _when(told: CounselItem, protocol: Protocol) -> When:
    if told.measure:
        return When("division", window=told.window)
    clock = next(each.clock for each in protocol.timed if each.id == told.timed)
    if told.within_months % MONTHS_IN_YEAR:
        return When(_clock(clock), number=told.within_months, unit="month")
    return When(_clock(clock), number=told.within_months // MONTHS_IN_YEAR, unit="year")


def _clock(name: str) -> Clock:
    return "division" if name == "division" else "operation"


def _bound(told: CounselItem, protocol: Protocol) -> float | None:
    poor = protocol.measure(told.measure).poor if told.measure else None
    return poor.bound if poor else None


def without_small_counts(told: tuple[ToldAnswer, ...], threshold: int) -> tuple[ToldAnswer, ...]:
    """The same for a leaflet that leaves the room: all lids of a cover only, and no count that could point to a person.

    An answer goes when the lids with the result, or those without it, number from 1 to one less than the threshold; and
    the later of two answers that differ in so few, such as the same event by three and by five years.
    """
    kept: list[ToldAnswer] = []
    for answer in told:
        grafted, advanced = (_public_side(answer, cohort, kept, threshold) for cohort in COVERS)
        nothing = Prediction("public", (), 0, 0, 0)
        kept.append(replace(answer, grafted=grafted, advanced=advanced, group=None, lacking=(), prediction=nothing))
    return tuple(kept)


def _public_side(answer: ToldAnswer, cohort: Cohort, before: list[ToldAnswer], threshold: int) -> CoverAnswer:
    side = answer.side(cohort)
    found = side.all
    small = found is not None and (
        any(_small(count, threshold) for count in (found.events, found.known - found.events, found.n - found.events))
        or any(_small(abs(found.events - other.events), threshold) for other in _same_words(answer, cohort, before))
    )
    if small or found is None:
        why: Why = "suppressed" if small else side.why
        return replace(side, all=None, like=None, predicted=None, used=None, why=why, due=0, missing=0)
    return replace(side, like=None, predicted=None, used=found, due=0, missing=0)


def _same_words(answer: ToldAnswer, cohort: Cohort, before: list[ToldAnswer]) -> list[Answer]:
    earlier = [each.side(cohort).all for each in before if each.words == answer.words]
    return [each for each in earlier if each is not None]


def _small(count: int, threshold: int) -> bool:
    return 0 < count < threshold
