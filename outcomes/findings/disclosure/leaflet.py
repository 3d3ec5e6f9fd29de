"""A public leaflet: the local figures of all lids of a cover, without anything that the public report of the same lock withholds.

Both covers of a pair go together. A share's range follows from its counts (rounding.py). A month of an event is given where it
differs safely from every month that the public report could give.
"""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from outcomes.cohort import DAYS_IN_MONTH, CaseSeries, event_times
from outcomes.findings.counsel.natural_frequencies import of_hundred
from outcomes.findings.counsel.results import (
    COVERS,
    Basis,
    Counsel,
    CoverDurations,
    CoverFigures,
    DurationFigures,
    OutcomeFigures,
    Prediction,
    RiskFigure,
    TimePoint,
)
from outcomes.findings.disclosure.counts import safe, safe_events, safe_part, safe_quartiles
from outcomes.findings.disclosure.public_findings import Rules, second_lids
from outcomes.findings.disclosure.rounding import share_limits
from outcomes.protocol import Timed

MONTHS = {"month": 1, "year": 12}
NO_PREDICTION = Prediction("public", (), 0, 0, 0)


def public_leaflet(counsel: Counsel, series: CaseSeries) -> Counsel:
    """The leaflet of a series, without anything that points at a person."""
    rules = _rules(series)
    return replace(
        counsel,
        outcomes=tuple(_outcome(each, series, rules) for each in counsel.outcomes),
        durations=tuple(_durations(each, rules) for each in counsel.durations),
        basis=_basis(counsel.basis, series, rules),
    )


def _rules(series: CaseSeries) -> Rules:
    grafted, advanced = (series.cohort(cohort) for cohort in COVERS)
    threshold = series.protocol.rules.public_threshold
    pairs = [second_lids(each.height, each["patient_id"].n_unique(), threshold) for each in (grafted, advanced)]
    return Rules(series.protocol, (grafted.height, advanced.height), (pairs[0], pairs[1]))


def _outcome(outcome: OutcomeFigures, series: CaseSeries, rules: Rules) -> OutcomeFigures:
    timed = next((each for each in series.protocol.timed if each.id == _event_of(outcome, series)), None)
    usable = [cohort for cohort in COVERS if outcome.side(cohort).why != "never_used"]
    shown = all(_is_safe(outcome.side(cohort).all, rules, rules.cases[COVERS.index(cohort)]) for cohort in usable) and (
        timed is None or _safe_month(_months(outcome.when), timed, series, rules)
    )
    grafted, advanced = (
        _side(outcome.side(cohort), pairs, rules, shown=shown)
        for cohort, pairs in zip(COVERS, rules.second_lids, strict=True)
    )
    if timed is not None and shown:
        grafted, advanced = (
            _without_few_deaths(each, outcome.when, timed, series, rules) for each in (grafted, advanced)
        )
    return replace(
        outcome, grafted=grafted, advanced=advanced, group=None, shortfalls=(), prediction=NO_PREDICTION, published=()
    )


def _event_of(outcome: OutcomeFigures, series: CaseSeries) -> str:
    return next((item.timed for item in series.protocol.told if item.id == outcome.id), "")


def _months(when: TimePoint) -> int:
    return when.number * MONTHS.get(when.unit, 0)


def _is_safe(figure: RiskFigure | None, rules: Rules, cases: int) -> bool:
    """Tell whether the lids counted, those known, and those with and without the result point at nobody; not all have it."""
    if figure is None:
        return False
    parts = ((figure.n, cases), (figure.known, figure.n), (figure.events, figure.known))
    return all(safe_part(part, whole, rules.threshold) for part, whole in parts) and safe_events(
        figure.events, figure.n, rules.threshold
    )


def _safe_month(months: int, timed: Timed, series: CaseSeries, rules: Rules) -> bool:
    """Tell whether the events by this month differ safely from those by every month that is told anywhere."""
    told = {item.within_months for item in series.protocol.told if item.timed == timed.id}
    others = {*timed.months, *told} - {months}
    return all(
        safe(abs(mine - theirs), rules.threshold)
        for other in others
        for mine, theirs in zip(_events_by(months, timed, series), _events_by(other, timed, series), strict=True)
    )


def _events_by(months: int, timed: Timed, series: CaseSeries, cause: int = 1) -> list[int]:
    times = event_times(series, timed).join(series.cases.select("case_id", "cohort"), on="case_id", how="left")
    happened = times.filter((pl.col("cause") == cause) & (pl.col("days") <= months * DAYS_IN_MONTH))
    return [happened.filter(pl.col("cohort") == cohort).height for cohort in COVERS]


def _side(side: CoverFigures, pairs: int, rules: Rules, *, shown: bool) -> CoverFigures:
    if side.why == "never_used":
        return replace(side, like=None, predicted=None, used=None, due=0, missing=0)
    if not shown or side.all is None:
        return replace(side, all=None, like=None, predicted=None, used=None, why="suppressed", due=0, missing=0)
    figure = _figure(side.all, pairs, rules)
    return replace(side, all=figure, like=None, predicted=None, used=figure, due=0, missing=0)


def _figure(figure: RiskFigure, pairs: int, rules: Rules) -> RiskFigure:
    """The figure with the range that follows from its counts, where nobody's end of follow-up moves the share."""
    if not figure.n or round(figure.estimate, 2) != round(figure.events / figure.n, 2):
        return replace(figure, patients=0)
    found = share_limits(figure.events / figure.n, figure.n, pairs, rules.level)
    of_100 = of_hundred(found.estimate, found.low, found.high, competed=figure.of_100.competed / 100)
    return replace(figure, patients=0, estimate=found.estimate, low=found.low, high=found.high, of_100=of_100)


def _without_few_deaths(
    side: CoverFigures, when: TimePoint, timed: Timed, series: CaseSeries, rules: Rules
) -> CoverFigures:
    """Lids to which it could no longer happen are counted among those without it, where they are few."""
    few = not safe(_events_by(_months(when), timed, series, cause=2)[COVERS.index(side.cohort)], rules.threshold)
    if side.all is None or not few:
        return side
    figure = replace(side.all, of_100=replace(side.all.of_100, competed=0))
    return replace(side, all=figure, used=figure)


def _durations(each: DurationFigures, rules: Rules) -> DurationFigures:
    """Days of both covers, where the lids counted are enough for quartiles, and the rest of the cover is none or safe."""
    usable = [cohort for cohort in COVERS if each.side(cohort).why != "never_used"]
    shown = all(_safe_days(each.side(cohort), rules, rules.cases[COVERS.index(cohort)]) for cohort in usable)
    grafted, advanced = (_days(each.side(cohort), shown=shown) for cohort in COVERS)
    return replace(each, grafted=grafted, advanced=advanced, group=None)


def _safe_days(side: CoverDurations, rules: Rules, cases: int) -> bool:
    figure = side.all
    return (
        figure is not None and safe_part(figure.n, cases, rules.threshold) and safe_quartiles(figure.n, rules.threshold)
    )


def _days(side: CoverDurations, *, shown: bool) -> CoverDurations:
    if side.why == "never_used":
        return replace(side, like=None, used=None)
    if not shown or side.all is None:
        return replace(side, all=None, like=None, used=None, why="suppressed")
    figure = replace(side.all, patients=0)
    return replace(side, all=figure, like=None, used=figure)


def _basis(basis: Basis, series: CaseSeries, rules: Rules) -> Basis:
    """The patients are given where nobody's second lid can be told from them, in a cover or across both."""
    within = [each.height - each["patient_id"].n_unique() for each in (series.cohort(cohort) for cohort in COVERS)]
    second = basis.lids - (basis.patients or 0)
    given = all(safe(count, rules.threshold) for count in (*within, second, second - sum(within)))
    months = basis.median_followup_months
    return replace(
        basis,
        patients=basis.patients if given else None,
        median_followup_months=None if months is None else float(round(months)),
    )
