"""Cumulative share of states that are seen only at reviews (interval-censored)."""

from __future__ import annotations

import numpy as np
import polars as pl

from outcomes.cohort import DAYS_IN_MONTH, CaseSeries, event_intervals, unseen
from outcomes.findings.arrays import Flags
from outcomes.findings.estimable import estimable
from outcomes.findings.propensity import CoverChoice
from outcomes.findings.results import Adjusted, Contrast, Curve, CurvePoint, Mean, TimedFinding, TimedShare
from outcomes.findings.time_to_event.result import Answer, Table, at_risk_months, clock_of, said, table
from outcomes.findings.time_to_event.sensitivity import Loss, state_loss, with_doubts
from outcomes.protocol import COHORTS, Timed
from outcomes.statistics.difference import square_and_add
from outcomes.statistics.interval_logrank import interval_logrank
from outcomes.statistics.overlap import effective_size
from outcomes.statistics.proportion import NOT_ESTIMABLE
from outcomes.statistics.restricted_mean import interval_restricted_mean, restricted_mean_difference
from outcomes.statistics.result import Interval
from outcomes.statistics.turnbull import proportion_by, turnbull

METHOD = "Turnbull"
KIND = "difference of cumulative share"
ADJUSTED_KIND = "overlap-weighted difference of cumulative share"
MEAN_KIND = "difference of restricted mean months"


def state_answers(series: CaseSeries, choice: CoverChoice, timed: Timed) -> Answer:
    """Answer one state: shares by each month as far as both cohorts reach, curves between two edges, mean time, test."""
    lids = table(event_intervals(series, timed), series, choice)
    reach = {cohort: _reach(lids, cohort, series.protocol.rules.at_risk_minimum) for cohort in COHORTS}
    never = unseen(series, timed)
    findings = tuple(_beside(_at(series, lids, timed, month, reach), lids, never) for month in timed.months)
    curves = tuple(_curve(lids, timed, cohort, series.protocol.rules.at_risk_minimum) for cohort in COHORTS)
    return Answer(findings, curves, _means(lids, timed, reach), _test(lids))


def _reach(lids: Table, cohort: str, least: int, *, column: str = "latest") -> float:
    """The last month by which at least that many lids of the cohort were still being reviewed, or still free (`left`)."""
    months = np.sort(lids.months(column)[lids.side(cohort)])[::-1]
    return float(months[least - 1]) if months.size >= least else float("-inf")


def _at(series: CaseSeries, lids: Table, timed: Timed, month: int, reach: dict[str, float]) -> TimedFinding:
    sides = [lids.side(cohort) for cohort in COHORTS]
    short = [cohort for cohort in COHORTS if reach[cohort] < month]
    shares = [NOT_ESTIMABLE if short else _share(lids, side, month) for side in sides]
    grafted, advanced = (
        TimedShare(int(side.sum()), _seen_by(lids, side, month), *said(share))
        for side, share in zip(sides, shares, strict=True)
    )
    contrast = Contrast(KIND, *said(square_and_add(*shares)))
    note = ""
    if short:
        least = series.protocol.rules.at_risk_minimum
        note = f"fewer than {least} {' and '.join(short)} lids were reviewed for {month} months"
    elif contrast.estimate is None:
        note = f"what became of the lids that were free at their last review before {month} months is not known"
    else:
        note = _few_at_risk(lids, month, series.protocol.rules.at_risk_minimum)
    adjusted = None if short else _adjusted(lids, sides, month)
    return TimedFinding(
        timed.id, METHOD, clock_of(timed), month, grafted, advanced, contrast, "too few to say", adjusted, note=note
    )


def _beside(found: TimedFinding, lids: Table, never: pl.DataFrame) -> TimedFinding:
    """Put beside a finding what the lost could have made of it, and what it is by the covers that were planned.

    A lid that was due and never looked at is lost like the others.
    """
    if found.contrast.estimate is None:
        return found
    month = found.at_months
    grafted, advanced = (_loss(lids, cohort, never, month) for cohort in COHORTS)
    planned = None
    if lids.converted:
        held = lids.as_planned()
        planned = Contrast(KIND, *said(square_and_add(*(_share(held, held.side(cohort), month) for cohort in COHORTS))))
    return with_doubts(found, (grafted, advanced), planned)


def _loss(lids: Table, cohort: str, never: pl.DataFrame, month: float) -> Loss:
    side = lids.side(cohort)
    others = never.filter(pl.col("cohort") == cohort).get_column("due_days").to_numpy() / DAYS_IN_MONTH
    return state_loss(
        np.append(lids.months("left")[side], np.zeros(others.size)),
        np.append(lids.months("right")[side], np.full(others.size, np.inf)),
        np.append(lids.months("due_days")[side], others),
        month,
    )


def _few_at_risk(lids: Table, month: int, least: int) -> str:
    """Say that few were still free by then: the share rests on those who had it before."""
    still = {cohort: int((lids.months("left")[lids.side(cohort)] >= month).sum()) for cohort in COHORTS}
    few = [f"{number} {cohort}" for cohort, number in still.items() if number < least]
    return f"of lids still free and reviewed there were only {' and '.join(few)}" if few else ""


def _seen_by(lids: Table, side: Flags, month: int) -> int:
    """How many of these lids had been seen in the state by then."""
    return int((lids.months("right")[side] <= month).sum())


def _share(lids: Table, side: Flags, month: float) -> Interval:
    return proportion_by(
        left=lids.months("left")[side], right=lids.months("right")[side], at=month, patient=lids.patient[side]
    )


def _adjusted(lids: Table, sides: list[Flags], month: int) -> Adjusted | None:
    """The difference of the weighted shares, each with the score limits of the lids that its weights are worth."""
    if lids.weight is None:
        return None
    sizes = [effective_size(lids.weight[side]) for side in sides]
    shares = [
        proportion_by(
            left=lids.months("left")[side],
            right=lids.months("right")[side],
            at=month,
            weight=lids.weight[side],
            patient=lids.patient[side],
        )
        for side in sides
    ]
    return Adjusted(ADJUSTED_KIND, *said(square_and_add(*shares)), sizes[0], sizes[1])


def _test(lids: Table) -> Contrast | None:
    if lids.second.all() or not lids.second.any():
        return None
    test = interval_logrank(
        left=lids.months("left"), right=lids.months("right"), second=lids.second, patient=lids.patient
    )
    drawn = test.p == test.permutation.p and not test.permutation.exact
    return Contrast(
        "interval-censored log-rank test, by permutation of patients and given who was at risk",
        None,
        None,
        None,
        estimable(test.p),
        None,
        not drawn,
        test.permutation.monte_carlo_error if drawn else None,
    )


def _curve(lids: Table, timed: Timed, cohort: str, least: int) -> Curve:
    side = lids.side(cohort)
    last = min(_reach(lids, cohort, least, column="left"), float(max(timed.months)))
    left, right = lids.months("left")[side], lids.months("right")[side]
    if not side.any() or last < 0:
        return Curve(timed.id, cohort, (), (), None)
    estimate = turnbull(left=left, right=right)
    marks = sorted({0.0, last, *(float(t) for t in (*estimate.left, *estimate.right) if t < last)})
    bounds = [estimate.survival_bounds(month) for month in marks]
    lower = tuple(CurvePoint(month, 1 - high, None, None) for month, (_, high) in zip(marks, bounds, strict=True))
    upper = tuple(CurvePoint(month, 1 - low, None, None) for month, (low, _) in zip(marks, bounds, strict=True))
    still = tuple((month, int((left >= month).sum())) for month in at_risk_months(timed.months))
    return Curve(timed.id, cohort, lower, still, last, upper)


def _means(lids: Table, timed: Timed, reach: dict[str, float]) -> tuple[Mean, ...]:
    """The restricted mean time, up to the last month asked for that both cohorts reach."""
    reached = [month for month in timed.months if month <= min(reach.values())]
    nothing = Contrast(MEAN_KIND, None, None, None)
    if not reached:
        return (Mean(timed.id, None, None, None, nothing, "the cohorts were not reviewed long enough for a mean"),)
    until = float(max(reached))
    first, second = (
        interval_restricted_mean(
            left=lids.months("left")[side], right=lids.months("right")[side], until=until, patient=lids.patient[side]
        )
        for side in (lids.side(cohort) for cohort in COHORTS)
    )
    contrast = Contrast(MEAN_KIND, *said(restricted_mean_difference(first.interval(), second.interval())))
    note = ""
    if contrast.estimate is None:
        note = f"lids were lost before {until:g} months, so that the mean up to then is not known"
    elif contrast.low is None:
        note = "nothing happened, or to all alike, in one of the cohorts, so that the difference has no interval"
    return (Mean(timed.id, until, estimable(first.estimate), estimable(second.estimate), contrast, note),)
