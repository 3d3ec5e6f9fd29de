"""Warnings beside the local figures."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from outcomes.cohort import CaseSeries, column
from outcomes.findings.counsel.results import CounselCaution, CoverFigures, ObservedRange, OutcomeFigures
from outcomes.protocol import COHORTS
from outcomes.statistics.balance import standardised_difference


def counsel_cautions(
    series: CaseSeries, outcomes: tuple[OutcomeFigures, ...], observed: tuple[ObservedRange, ...]
) -> tuple[CounselCaution, ...]:
    """Give every warning that holds for these figures, in the order of their weight."""
    return (
        *_outside(series, observed),
        *_too_few(series, outcomes),
        *_imbalance(series),
        *_follow_up(series, outcomes),
        *_lost(series, outcomes),
    )


def covers_differ(series: CaseSeries) -> tuple[str, ...]:
    """The labels of the protocol's characteristics by which the covers differed before anything was done."""
    rules, names = series.protocol.rules, []
    for name in series.protocol.counsel.ranges:
        characteristic = series.protocol.characteristic(name)
        grafted, advanced = (
            series.cohort(cohort).get_column(column(characteristic)).drop_nulls().to_numpy().astype(float)
            for cohort in COHORTS
        )
        apart = standardised_difference(grafted, advanced)
        if np.isfinite(apart) and abs(apart) > rules.imbalance_smd:
            names.append(characteristic.label)
    return tuple(names)


def _outside(series: CaseSeries, observed: tuple[ObservedRange, ...]) -> Iterator[CounselCaution]:
    matched = {name for rule in series.protocol.likeness[:1] for name, _ in rule.within}
    for each in observed:
        if each.outside:
            label = series.protocol.characteristic(each.characteristic).label
            unlike = each.unlike and each.characteristic in matched
            numbers = (each.value, each.n, each.low, each.high)
            yield CounselCaution("unlike" if unlike else "outside", (label, each.cohort), numbers)


def _too_few(series: CaseSeries, outcomes: tuple[OutcomeFigures, ...]) -> Iterator[CounselCaution]:
    thin = tuple(
        f"{series.protocol.told_words(each.id)} ({side.cohort})"
        for each in outcomes
        for side in (each.grafted, each.advanced)
        if side.why == "too_few"
    )
    if thin:
        yield CounselCaution("too_few", thin)


def _imbalance(series: CaseSeries) -> Iterator[CounselCaution]:
    apart = covers_differ(series)
    if apart:
        yield CounselCaution("imbalance", tuple(map(str.lower, apart)))


def _follow_up(series: CaseSeries, outcomes: tuple[OutcomeFigures, ...]) -> Iterator[CounselCaution]:
    points = series.protocol.rules.follow_up_difference_points
    for each in outcomes:
        grafted, advanced = (_known_share(side) for side in (each.grafted, each.advanced))
        if grafted is not None and advanced is not None and abs(grafted - advanced) * 100 > points:
            yield CounselCaution("follow_up_differs", (series.protocol.told_words(each.id),), (grafted, advanced))


def _lost(series: CaseSeries, outcomes: tuple[OutcomeFigures, ...]) -> Iterator[CounselCaution]:
    lost = [
        each
        for each in outcomes
        for side in (each.grafted, each.advanced)
        if side.all and side.missing > side.all.known
    ]
    names = tuple(dict.fromkeys(series.protocol.told_words(each.id) for each in lost))
    if names:
        yield CounselCaution("more_missing_than_known", names)


def _known_share(side: CoverFigures) -> float | None:
    return (side.due - side.missing) / side.due if side.due else None
