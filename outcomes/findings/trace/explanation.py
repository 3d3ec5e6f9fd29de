"""Trace a printed number to its definition, its query and its cases.

For the surgeon's own machine only: it names study codes. The cases are found again from the register, in few words of their
own, so that whoever doubts a number can count them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import polars as pl

from outcomes.cohort import CaseSeries, Register, event_intervals, event_times
from outcomes.findings.trace.cases import (
    CLOCKS,
    lids_analysed,
    lids_at_step,
    lids_followed,
    lids_left,
    lids_of_balance,
    lids_of_cohort,
    lids_of_finding,
)
from outcomes.findings.trace.requests import Case, TracedCases, TraceRequest, listed, of_cohorts

MONTHS_IN_YEAR, DAYS_IN_YEAR = 12, 365.25
ALL = ("patients", "reconstructions", "reviews", "observations", "events")
EXTRACTS = {"balance": ("patients", "reconstructions"), "protocol": (), "shared": ALL}


@dataclass(frozen=True)
class Trace:
    """What a number means, the extracts of the register that are read for it, the steps from them to it, and its cases."""

    definition: tuple[str, ...]
    extracts: tuple[str, ...]
    steps: tuple[str, ...]
    cases: tuple[Case, ...]


def trace(register: Register, series: CaseSeries, tree: dict[str, Any], address: str) -> Trace:
    """Trace an address of the comparison.json whose tree is given, in the series that it was made from."""
    first, *rest = address.split(".")
    asked = TraceRequest(register, series, tree, first, tuple(rest))
    definition, cases = _FINDERS.get(first, _of_no_case)(asked)
    return Trace(tuple(definition), EXTRACTS.get(first, ALL), _steps(series, first), tuple(cases))


def _steps(series: CaseSeries, first: str) -> tuple[str, ...]:
    chosen = "; ".join(series.selection.says()) or "every case"
    said = [f"cases: {chosen}, as known on {series.as_of.isoformat()}, in two cohorts by what was done"]
    if first in {*CLOCKS, "followed_by_window", "congress", "flow"}:
        said.append("reviews: of several values in a window the one nearest to its nominal day")
    if first in {*CLOCKS, "timing", "means"}:
        said.append("contrasts: advanced minus grafted; adjusted ones are weighted for the choice of cover")
    return tuple(said)


def _of_no_case(asked: TraceRequest) -> TracedCases:
    protocol = asked.protocol
    where = (
        f"the protocol {protocol.name} ({protocol.fingerprint})"
        if asked.first == "protocol"
        else "the series as a whole"
    )
    return [f"a number of {where}: {' '.join(asked.rest).replace('_', ' ')}"], []


def _timed(asked: TraceRequest) -> TracedCases:
    """The lids of one timed event; with `events`, only those that had it by then."""
    event, *path = asked.rest
    timed = next(each for each in asked.protocol.timed if each.id == event)
    by = float(path[0]) if asked.first == "timing" else float("inf")
    said = [f"timed event: {timed.label}, counted from {timed.clock}"]
    if asked.first == "timing":
        said.append(f"by {path[0]} months")
    if timed.origin == "events":
        rows, had, what = _dated(event_times(asked.series, timed))
    else:
        rows, had, what = _between(event_intervals(asked.series, timed))
    rows = of_cohorts(rows, asked)
    if path and path[-1] == "events":
        rows = rows.filter(had & (pl.col("until") * MONTHS_IN_YEAR / DAYS_IN_YEAR <= by))
    return said, listed(rows, what)


def _dated(times: pl.DataFrame) -> tuple[pl.DataFrame, pl.Expr, pl.Expr]:
    cause = pl.col("cause").replace_strict({0: "free of it", 1: "event", 2: "competing event"}, return_dtype=pl.String)
    what = pl.concat_str(pl.lit("day "), pl.col("days"), pl.lit(": "), cause)
    return times.with_columns(pl.col("days").alias("until")), pl.col("cause") == 1, what


def _between(spans: pl.DataFrame) -> tuple[pl.DataFrame, pl.Expr, pl.Expr]:
    end = (
        pl.when(pl.col("right").is_finite())
        .then(pl.concat_str(pl.lit("day "), pl.col("right")))
        .otherwise(pl.lit("no review"))
    )
    what = pl.concat_str(pl.lit("after day "), pl.col("left"), pl.lit(", by "), end)
    return spans.with_columns(pl.col("right").alias("until")), pl.col("right").is_finite(), what


def _congress(asked: TraceRequest) -> TracedCases:
    part, *rest = asked.rest
    if part == "stages":
        return lids_left(asked)
    if part == "analysed":
        return lids_analysed(asked)
    if part == "happened":
        return _happened(asked, rest[0].replace("_", " "), revised="revised" in rest)
    if part == "treated":
        return _treated(asked, asked.tree["congress"]["treated"][int(rest[0])]["what"])
    return _of_no_case(asked)


def _happened(asked: TraceRequest, kind: str, *, revised: bool) -> TracedCases:
    events = of_cohorts(asked.series.events.join(asked.series.cases.select("case_id", "cohort"), on="case_id"), asked)
    having = events.filter(pl.col("kind") == kind).group_by("case_id", "cohort").agg(pl.col("happened_on").min())
    if not revised:
        return [f"lids with this event at any time after the operation: {kind}"], listed(having, pl.col("happened_on"))
    revisions = events.filter(pl.col("kind") == "revision").select("case_id", pl.col("happened_on").alias("revised_on"))
    both = having.join(revisions, on="case_id").filter(pl.col("revised_on") >= pl.col("happened_on"))
    first = both.group_by("case_id", "cohort").agg(pl.col("revised_on").min())
    return [f"lids with {kind}, revised on that day or later"], listed(first, pl.col("revised_on"))


def _treated(asked: TraceRequest, what: str) -> TracedCases:
    events = of_cohorts(asked.series.events.join(asked.series.cases.select("case_id", "cohort"), on="case_id"), asked)
    same = pl.col("revision_kind").fill_null("kind not recorded") == what
    having = (
        events.filter((pl.col("kind") == "revision") & same)
        .group_by("case_id", "cohort")
        .agg(pl.col("happened_on").min())
    )
    return [f"lids with this revision: {what}"], listed(having, pl.col("happened_on"))


_FINDERS: dict[str, Callable[[TraceRequest], TracedCases]] = {
    "findings": lids_of_finding,
    "findings_since_operation": lids_of_finding,
    "followed_by_window": lids_followed,
    "timing": _timed,
    "means": _timed,
    "curves": _timed,
    "balance": lids_of_balance,
    "grafted": lids_of_cohort,
    "advanced": lids_of_cohort,
    "flow": lids_at_step,
    "congress": _congress,
}
