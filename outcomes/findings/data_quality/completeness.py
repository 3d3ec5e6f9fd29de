"""How complete the data are, and what each gap costs the comparison."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import polars as pl

from outcomes.cohort import MISSING, SEEN, CaseSeries, column, states
from outcomes.findings.arrays import Lids, all_lids
from outcomes.findings.data_quality.queries import DataQuery
from outcomes.protocol import COHORTS


@dataclass(frozen=True)
class Completeness:
    """How many lids of a cohort have a value of a measure in a window, of how many that were due."""

    measure: str
    window: str
    cohort: str
    seen: int
    due: int


def completeness(series: CaseSeries) -> tuple[Completeness, ...]:
    """Every measure, window and cohort of the protocol, in its order."""
    every = all_lids(series)
    return tuple(
        Completeness(measure.id, window.id, cohort, *_seen_and_due(lids, cohort))
        for measure in series.measures
        for of_one in [every.of(measure)]
        for window in series.windows
        for lids in [of_one.at(window)]
        for cohort in COHORTS
    )


def _seen_and_due(lids: Lids, cohort: str) -> tuple[int, int]:
    side = lids.second == (cohort == "advanced")
    return int((lids.seen & side).sum()), int((lids.due & side).sum())


def gap_queries(series: CaseSeries) -> Iterator[DataQuery]:
    """Characteristics that the comparison adjusts for and that are missing, and planned results that were not measured."""
    yield from _characteristics(series)
    yield from _planned_results(series)


def _gap(kind: str, field: str, cases: set[str], of: int, **names: str) -> DataQuery:
    facts: tuple[tuple[str, str | float], ...] = (("lids", float(len(cases))), ("of", float(of)), *names.items())
    return DataQuery(kind, "gap", field=field, facts=facts, cases=tuple(sorted(cases)))


def _characteristics(series: CaseSeries) -> Iterator[DataQuery]:
    adjusted = [each for each in series.protocol.characteristics if each.adjust]
    for each in sorted(adjusted, key=lambda each: each.adjust):
        lacking = _cases(series.cases.filter(pl.col(column(each)).is_null()))
        if lacking:
            yield _gap("characteristic_missing", each.id, lacking, series.cases.height, label=each.label)


def _planned_results(series: CaseSeries) -> Iterator[DataQuery]:
    """Lids due in the primary window that were not seen at all, and, of those seen, the measures without a value."""
    protocol = series.protocol
    window = protocol.window(protocol.primary_window)
    there = replace(series, selection=replace(series.selection, windows=(window.id,)))
    due = states(there).filter(pl.col("status").is_in([SEEN, MISSING]))
    everyone, seen = _cases(due), _cases(due.filter(pl.col("status") == SEEN))
    if everyone - seen:
        yield _gap("review_missing", "", everyone - seen, len(everyone), window=window.label)
    for measure in protocol.measures:
        absent = due.filter((pl.col("measure") == measure.id) & (pl.col("status") == MISSING))
        cases = _cases(absent) & seen
        if cases:
            yield _gap("value_missing", measure.id, cases, len(seen), window=window.label, label=measure.label)


def _cases(frame: pl.DataFrame) -> set[str]:
    return set(frame.get_column("case_id").to_list())
