"""The facts of a series that a paper states beside its results: setting, period, flow of cases and events."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Literal

import polars as pl

from outcomes.cohort import CaseSeries, LossReason, Register, read_frames
from outcomes.findings.comparison import NOT_REVIEWED
from outcomes.findings.results import Comparison, FlowStep, WindowFollowed
from outcomes.findings.small_count import SmallCount
from outcomes.protocol import COHORTS, Protocol

Count = int | None  # None: not shown, because so small a number could point at a person


@dataclass(frozen=True)
class CohortCounts:
    """A count in each cohort."""

    grafted: Count
    advanced: Count


@dataclass(frozen=True)
class LossByCohort:
    """Lids of each cohort that left at one step, and why; "" where the reason is not given."""

    reason: LossReason | Literal[""]
    grafted: Count
    advanced: Count


@dataclass(frozen=True)
class Stage:
    """One step of the flow of cases: the lids that remain, and those that left on the way to it.

    `id`, `label` and `window` are those of the step; of lids analysed for a measure the measure's id and name.
    """

    id: str
    grafted: Count
    advanced: Count
    lost: tuple[LossByCohort, ...] = ()
    label: str = ""
    window: str = ""


@dataclass(frozen=True)
class OtherCover:
    """Lids with a cover that belongs to neither cohort."""

    cover: str
    lids: Count


@dataclass(frozen=True)
class EventCounts:
    """One kind of event: lids that had it, and how many of these were revised on that day or later."""

    kind: str
    lids: CohortCounts
    revised: CohortCounts


@dataclass(frozen=True)
class RevisionCounts:
    """One kind of revision, and the lids that had it."""

    what: str
    lids: CohortCounts


@dataclass(frozen=True)
class Congress:
    """What a paper says beside the comparison. The months are year and month, in public output the year alone."""

    operated: Count
    other_covers: tuple[OtherCover, ...]
    stages: tuple[Stage, ...]
    analysed: tuple[Stage, ...]
    first_operation: str
    last_operation: str
    last_review: str
    surgeons: int
    sites: int
    assessors: int
    happened: tuple[EventCounts, ...]
    treated: tuple[RevisionCounts, ...]


def congress(register: Register, series: CaseSeries, comparison: Comparison) -> Congress:
    """Gather what a paper says of this series beside the comparison."""
    reconstructions = read_frames(register, series.protocol).reconstructions
    everyone = reconstructions.filter(pl.col("operated_on") <= series.as_of)
    cases = series.cases
    return Congress(
        operated=everyone.height,
        other_covers=_other_covers(everyone, series.protocol),
        stages=stages(comparison),
        analysed=analysed(comparison, series.protocol),
        first_operation=_month(cases.get_column("operated_on").min()),
        last_operation=_month(cases.get_column("operated_on").max()),
        last_review=_month(series.reviews.get_column("reviewed_on").max()),
        surgeons=cases.get_column("surgeon").drop_nulls().n_unique(),
        sites=cases.get_column("site").drop_nulls().n_unique(),
        assessors=series.reviews.get_column("assessor").drop_nulls().n_unique(),
        happened=_happened(series),
        treated=_treated(series),
    )


def _month(day: object) -> str:
    return f"{day:%Y-%m}" if isinstance(day, date) else ""


def _other_covers(everyone: pl.DataFrame, protocol: Protocol) -> tuple[OtherCover, ...]:
    counted = dict(everyone.group_by("cover").len().iter_rows())
    return tuple(
        OtherCover(cover.label, counted[cover.id])
        for cover in protocol.covers
        if not cover.cohort and cover.id in counted
    )


def stages(comparison: Comparison) -> tuple[Stage, ...]:
    """The steps up to the first review, each with the lids that left, then the reviews with theirs, counted from the divided."""
    chain = [step for step in comparison.flow if not step.window]
    reviewed = [step for step in comparison.flow if step.window]
    first = _stage(chain[0]) if chain else None
    later = (_after(before, step) for before, step in pairwise(chain))
    seen = {(each.window, each.cohort): each for each in comparison.followed_by_window}
    return (
        *((first,) if first else ()),
        *later,
        *(_review(step, [seen.get((step.window, cohort)) for cohort in COHORTS]) for step in reviewed),
    )


def _stage(step: FlowStep, lost: tuple[LossByCohort, ...] = ()) -> Stage:
    return Stage(step.id, step.grafted, step.advanced, lost, step.label, step.window)


def _after(before: FlowStep, step: FlowStep) -> Stage:
    grafted, advanced = before.grafted - step.grafted, before.advanced - step.advanced
    reason = step.lost[0].reason if step.lost else ""
    return _stage(step, (LossByCohort(reason, grafted, advanced),) if grafted or advanced else ())


def _review(step: FlowStep, seen: list[WindowFollowed | None]) -> Stage:
    """One review; a public comparison does not tell why lids were not seen."""
    if None in seen:
        return _stage(step)
    lost = (LossByCohort(reason, *(getattr(each, reason) for each in seen)) for reason in NOT_REVIEWED)
    return _stage(step, tuple(each for each in lost if each.grafted or each.advanced))


def analysed(comparison: Comparison, protocol: Protocol) -> tuple[Stage, ...]:
    """The lids analysed for each main measure in the primary window."""
    counts = {
        each.measure: (_given(each.grafted.n), _given(each.advanced.n))
        for each in comparison.findings
        if each.clock == "division" and each.window == protocol.primary_window
    }
    return tuple(
        Stage(each.id, *counts[each.id], label=each.label) for each in protocol.main_measures if each.id in counts
    )


def _given(count: Count | SmallCount) -> Count:
    return count if isinstance(count, int) else None


def _happened(series: CaseSeries) -> tuple[EventCounts, ...]:
    """Lids with each kind of event at any time after the operation, in the order of the protocol."""
    kinds = series.protocol.field("events", "kind").values
    return tuple(
        EventCounts(kind, _cohort_counts(series, having), _cohort_counts(series, _revised(series, kind)))
        for kind in kinds
        if not (having := series.events.filter(pl.col("kind") == kind)).is_empty()
    )


def _revised(series: CaseSeries, kind: str) -> pl.DataFrame:
    first = (
        series.events.filter(pl.col("kind") == kind).group_by("case_id").agg(pl.col("happened_on").min().alias("on"))
    )
    revisions = series.events.filter(pl.col("kind") == "revision").join(first, on="case_id")
    return revisions.filter(pl.col("happened_on") >= pl.col("on"))


def _treated(series: CaseSeries) -> tuple[RevisionCounts, ...]:
    revisions = series.events.filter(pl.col("kind") == "revision").with_columns(
        pl.col("revision_kind").fill_null("kind not recorded")
    )
    kinds = revisions.get_column("revision_kind").unique().sort().to_list()
    return tuple(
        RevisionCounts(kind, _cohort_counts(series, revisions.filter(pl.col("revision_kind") == kind)))
        for kind in kinds
    )


def _cohort_counts(series: CaseSeries, events: pl.DataFrame) -> CohortCounts:
    having = events.get_column("case_id").unique().to_list()
    lids = series.cases.filter(pl.col("case_id").is_in(having))
    return CohortCounts(*(lids.filter(pl.col("cohort") == cohort).height for cohort in COHORTS))
