"""Cumulative share of states that are seen only at reviews (interval-censored), and the share in the state at a review."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl

from outcomes.cohort import DAYS_IN_MONTH, CaseSeries, event_intervals, never_reviewed
from outcomes.findings.arrays import Flags, MeasureLids, all_lids
from outcomes.findings.cohort_summary import share_summary
from outcomes.findings.estimable import estimable
from outcomes.findings.estimates import Scale, bounded, crude_estimate, limits
from outcomes.findings.outcomes import is_poor
from outcomes.findings.propensity import CoverChoice
from outcomes.findings.results import Bounded, Contrast, Curve, CurvePoint, Kind, Mean, Note, StateShare, TimedFinding
from outcomes.findings.sample import crude_sample
from outcomes.findings.time_to_event.result import (
    EventAnalysis,
    TimedLids,
    at_risk_months,
    clock_of,
    timed_adjusted,
    timed_contrast,
    timed_lids,
    timed_share,
)
from outcomes.findings.time_to_event.sensitivity import LostLids, state_loss, with_losses
from outcomes.findings.time_to_event.verdict import timed_draft
from outcomes.protocol import COHORTS, Timed, Window
from outcomes.statistics.interval_logrank import interval_logrank
from outcomes.statistics.inverted_difference import inverted_difference
from outcomes.statistics.overlap import effective_size
from outcomes.statistics.proportion import NOT_ESTIMABLE
from outcomes.statistics.restricted_mean import interval_restricted_mean, restricted_mean_difference
from outcomes.statistics.result import TestedEstimate

METHOD = "Turnbull"
KIND: Kind = "difference of cumulative share"


def analyse_state(series: CaseSeries, choice: CoverChoice, timed: Timed) -> EventAnalysis:
    """Analyse one state: shares by each month as far as both cohorts reach, curves between two edges, mean time, test."""
    lids = timed_lids(event_intervals(series, timed), series, choice)
    reach = {cohort: _reach(lids, cohort, series.protocol.rules.at_risk_minimum) for cohort in COHORTS}
    test, measured, never = _test(lids), _measured(series, timed), never_reviewed(series, timed)
    planned = lids.as_planned() if lids.converted else None
    drafts = []
    for month in timed.months:
        finding, judged = _at(series, lids, timed, month, reach)
        finding = _beside(finding, lids, never, planned)
        finding = replace(finding, p_curve=test, in_state=_in_state(series, timed, measured, month))
        drafts.append(timed_draft(series, choice, timed, finding, judged))
    curves = tuple(_curve(lids, timed, cohort, series.protocol.rules.at_risk_minimum) for cohort in COHORTS)
    return EventAnalysis(tuple(drafts), curves, _means(lids, timed, reach))


def _reach(lids: TimedLids, cohort: str, least: int, *, column: str = "latest") -> float:
    """The last month by which at least that many lids of the cohort were still being reviewed, or still free (`left`)."""
    months = np.sort(lids.months(column)[lids.side(cohort)])[::-1]
    return float(months[least - 1]) if months.size >= least else float("-inf")


def _at(
    series: CaseSeries, lids: TimedLids, timed: Timed, month: int, reach: dict[str, float]
) -> tuple[TimedFinding, TestedEstimate | None]:
    """The finding at one month, and the estimate that a verdict would be about."""
    rules, sides = series.protocol.rules, [lids.side(cohort) for cohort in COHORTS]
    short = [cohort for cohort in COHORTS if reach[cohort] < month]
    shares = [
        NOT_ESTIMABLE if short else lids.reviewed(cohort).known_share(month).interval(rules.confidence_level)
        for cohort in COHORTS
    ]
    grafted, advanced = (
        timed_share(int(side.sum()), _seen_by(lids, side, month), _free_at(lids, side, month), share)
        for side, share in zip(sides, shares, strict=True)
    )
    crude = None if short else _difference(lids, month, rules.confidence_level, weighted=False)
    adjusted = None
    if lids.weight is not None and not short:
        adjusted = _difference(lids, month, rules.confidence_level, weighted=True)
    contrast = Contrast(KIND, None, None, None) if crude is None else timed_contrast(KIND, crude)
    worth = [0.0 if lids.weight is None else effective_size(lids.weight[side]) for side in sides]
    notes = _notes(lids, month, (short, contrast.estimate), rules.at_risk_minimum)
    finding = TimedFinding(
        timed.id,
        METHOD,
        clock_of(timed),
        month,
        grafted,
        advanced,
        contrast,
        timed_adjusted(KIND, adjusted, (worth[0], worth[1])),
        notes=notes,
    )
    return finding, adjusted if lids.weight is not None else crude


def _notes(lids: TimedLids, month: int, of: tuple[list[str], float | None], least: int) -> tuple[Note, ...]:
    short, estimate = of
    if short:
        return (Note("few_followed", least, " and ".join(short)),)
    if estimate is None:
        return (Note("unknown_at_month", month),)
    still = {cohort: _free_at(lids, lids.side(cohort), month) for cohort in COHORTS}
    few = [f"{number} {cohort}" for cohort, number in still.items() if number < least]
    return (Note("few_at_risk", label=" and ".join(few)),) if few else ()


def _difference(lids: TimedLids, month: float, level: float, *, weighted: bool) -> TestedEstimate:
    """The difference by a month, weighted or not, with the p value of the same interval."""
    first, second = (lids.reviewed(cohort, weighted=weighted).known_share(month) for cohort in COHORTS)
    return inverted_difference(lambda confidence: (first.interval(confidence), second.interval(confidence)), level)


def _measured(series: CaseSeries, timed: Timed) -> MeasureLids | None:
    """Every review of the measure that shows the state."""
    return all_lids(series).of(series.protocol.measure(timed.measure)) if series.cases.height else None


def _in_state(series: CaseSeries, timed: Timed, measured: MeasureLids | None, month: int) -> StateShare | None:
    """The share in the state at the review nearest to a month."""
    if measured is None or timed.when is None:
        return None
    window = min(series.protocol.windows, key=lambda each: _days_apart(each, month))
    lids = measured.at(window)
    there = is_poor(lids.value, timed.when)[lids.seen].astype(np.float64)
    sample = crude_sample(lids, lids.seen, series.protocol.rules)
    grafted, advanced = (share_summary(lids, there, sample, second=second) for second in (False, True))
    contrast = bounded(crude_estimate(there, sample, Scale("difference of proportions")))
    return StateShare(window.id, grafted, advanced, contrast)


def _days_apart(window: Window, month: int) -> float:
    return abs(window.nominal_days - month * DAYS_IN_MONTH)


def _beside(found: TimedFinding, lids: TimedLids, never: pl.DataFrame, planned: TimedLids | None) -> TimedFinding:
    """Put beside a finding what the lost could have made of it, and what it is by the covers that were planned.

    A lid that was due and never looked at is lost like the others.
    """
    if found.contrast.estimate is None:
        return found
    month = found.at_months
    grafted, advanced = (_loss(lids, cohort, never, month) for cohort in COHORTS)
    by_plan = None if planned is None else timed_contrast(KIND, _difference(planned, month, 0.95, weighted=False))
    return with_losses(found, (grafted, advanced), by_plan)


def _loss(lids: TimedLids, cohort: str, never: pl.DataFrame, month: float) -> LostLids:
    side = lids.side(cohort)
    others = never.filter(pl.col("cohort") == cohort).get_column("due_days").to_numpy() / DAYS_IN_MONTH
    return state_loss(
        np.append(lids.months("left")[side], np.zeros(others.size)),
        np.append(lids.months("right")[side], np.full(others.size, np.inf)),
        np.append(lids.months("due_days")[side], others),
        month,
    )


def _seen_by(lids: TimedLids, side: Flags, month: int) -> int:
    """How many of these lids had reached the state by then."""
    return int((lids.months("right")[side] <= month).sum())


def _free_at(lids: TimedLids, side: Flags, month: int) -> int:
    """How many of these lids were still reviewed and free then."""
    return int((lids.months("left")[side] >= month).sum())


def _test(lids: TimedLids) -> Contrast | None:
    if lids.second.all() or not lids.second.any():
        return None
    test = interval_logrank(
        left=lids.months("left"), right=lids.months("right"), second=lids.second, patient=lids.patient
    )
    drawn = test.p == test.permutation.p and not test.permutation.exact
    error = test.permutation.monte_carlo_error if drawn else None
    return Contrast(KIND, None, None, None, estimable(test.p), exact=not drawn, monte_carlo_error=error)


def _curve(lids: TimedLids, timed: Timed, cohort: str, least: int) -> Curve:
    side = lids.side(cohort)
    last = min(_reach(lids, cohort, least, column="left"), float(max(timed.months)))
    left = lids.months("left")[side]
    if not side.any() or last < 0:
        return Curve(timed.id, cohort, (), (), None)
    estimate = lids.reviewed(cohort).estimate
    marks = sorted({0.0, last, *(float(t) for t in (*estimate.left, *estimate.right) if t < last)})
    bounds = [estimate.survival_bounds(month) for month in marks]
    lower = tuple(CurvePoint(month, 1 - high, None, None) for month, (_, high) in zip(marks, bounds, strict=True))
    upper = tuple(CurvePoint(month, 1 - low, None, None) for month, (low, _) in zip(marks, bounds, strict=True))
    still = tuple((month, int((left >= month).sum())) for month in at_risk_months(timed.months))
    return Curve(timed.id, cohort, lower, still, last, upper)


def _means(lids: TimedLids, timed: Timed, reach: dict[str, float]) -> tuple[Mean, ...]:
    """The restricted mean time, up to the last month asked for that both cohorts reach."""
    reached = [month for month in timed.months if month <= min(reach.values())]
    nothing = Bounded(None, None, None)
    if not reached:
        return (Mean(timed.id, None, None, None, nothing, (Note("not_followed_for_mean"),)),)
    until = float(max(reached))
    first, second = (
        interval_restricted_mean(
            left=lids.months("left")[side], right=lids.months("right")[side], until=until, patient=lids.patient[side]
        )
        for side in (lids.side(cohort) for cohort in COHORTS)
    )
    contrast = Bounded(*limits(restricted_mean_difference(first.interval(), second.interval())))
    notes: tuple[Note, ...] = ()
    if contrast.estimate is None:
        notes = (Note("unknown_at_month", until),)
    elif contrast.low is None:
        notes = (Note("nothing_happened"),)
    return (Mean(timed.id, until, estimable(first.estimate), estimable(second.estimate), contrast, notes),)
