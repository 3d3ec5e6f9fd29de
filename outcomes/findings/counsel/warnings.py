"""Warnings beside the local figures."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from outcomes.cohort import CaseSeries, column
from outcomes.findings.counsel.results import CoverFigures, ObservedRange, OutcomeFigures
from outcomes.findings.results import Caution
from outcomes.statistics.balance import standardised_difference


def counsel_cautions(
    series: CaseSeries, told: tuple[OutcomeFigures, ...], seen: tuple[ObservedRange, ...]
) -> tuple[Caution, ...]:
    """Give every warning that holds for these figures, in the order of their weight."""
    return (
        *_outside(series, seen),
        *_too_few(series, told),
        *_imbalance(series),
        *_follow_up(series, told),
        *_lost(series, told),
    )


def covers_differ(series: CaseSeries) -> tuple[str, ...]:
    """The labels of the protocol's characteristics by which the covers differed before anything was done."""
    rules, names = series.protocol.rules, []
    for name in series.protocol.counsel.ranges:
        characteristic = series.protocol.characteristic(name)
        grafted, advanced = (
            series.cohort(cohort).get_column(column(characteristic)).drop_nulls().to_numpy().astype(float)
            for cohort in ("grafted", "advanced")
        )
        apart = standardised_difference(grafted, advanced)
        if np.isfinite(apart) and abs(apart) > rules.imbalance_smd:
            names.append(characteristic.label)
    return tuple(names)


def _outside(series: CaseSeries, seen: tuple[ObservedRange, ...]) -> Iterator[Caution]:
    for each in seen:
        if each.outside:
            label = series.protocol.characteristic(each.characteristic).label
            yield Caution(
                "outside",
                f"{label}: the patient's {each.value:.4g} lies outside all that was seen in the {each.n} {each.cohort} "
                f"lids ({each.low:.4g} to {each.high:.4g}). No local figure speaks for such a patient.",
            )


def _too_few(series: CaseSeries, told: tuple[OutcomeFigures, ...]) -> Iterator[Caution]:
    thin = [
        f"{series.protocol.told_words(each.id)} ({side.cohort})"
        for each in told
        for side in (each.grafted, each.advanced)
        if side.why == "too_few"
    ]
    if thin:
        yield Caution("too_few", f"Too few lids to say anything of: {', '.join(thin)}.")


def _imbalance(series: CaseSeries) -> Iterator[Caution]:
    apart = covers_differ(series)
    if apart:
        yield Caution(
            "imbalance",
            f"The cover was chosen because of the lid: the cohorts differed in {', '.join(map(str.lower, apart))}. "
            "The difference between the two columns is not the effect of the cover.",
        )


def _follow_up(series: CaseSeries, told: tuple[OutcomeFigures, ...]) -> Iterator[Caution]:
    points = series.protocol.rules.follow_up_difference_points
    for each in told:
        grafted, advanced = (_known_share(side) for side in (each.grafted, each.advanced))
        if grafted is not None and advanced is not None and abs(grafted - advanced) * 100 > points:
            name = series.protocol.told_words(each.id)
            yield Caution(
                "follow_up_differs",
                f"{name[0].upper()}{name[1:]}: the covers were not followed alike; of lids due, the result is known in "
                f"{grafted:.0%} grafted and {advanced:.0%} advanced.",
            )


def _lost(series: CaseSeries, told: tuple[OutcomeFigures, ...]) -> Iterator[Caution]:
    lost = [
        each for each in told for side in (each.grafted, each.advanced) if side.all and side.missing > side.all.known
    ]
    names = dict.fromkeys(series.protocol.told_words(each.id) for each in lost)
    if names:
        yield Caution("missing_could_reverse", f"More lids are missing than known in: {', '.join(names)}.")


def _known_share(side: CoverFigures) -> float | None:
    return (side.due - side.missing) / side.due if side.due else None
