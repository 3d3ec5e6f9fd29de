"""Learning, surgeons and time: the main outcomes over case order, each surgeon's own difference, and its change over the years."""

from __future__ import annotations

import numpy as np
import polars as pl

from outcomes.cohort import CaseSeries
from outcomes.findings.arrays import Lids, Numbers, all_lids
from outcomes.findings.covariates import Covariates
from outcomes.findings.estimable import estimable
from outcomes.findings.estimates import limits
from outcomes.findings.measure_findings import order_by_cover
from outcomes.findings.outcomes import outcome_values, scale_of
from outcomes.findings.results import CalendarTrend, LearningCourse, LearningPoint, SurgeonDifference
from outcomes.findings.sample import sample_of
from outcomes.protocol import COHORTS, Measure
from outcomes.statistics.linear_model import interaction_design, linear_difference, within_design
from outcomes.statistics.result import Interval
from outcomes.statistics.smooth_mean import smooth_mean

POINTS = 12
FEWEST_PATIENTS = 2
DAYS_IN_YEAR = 365.25


def learning_courses(series: CaseSeries) -> tuple[LearningCourse, ...]:
    """The main outcome of each main measure in the primary window over case order, a smooth course a cover."""
    order = order_by_cover(series)
    return tuple(
        course
        for measure, lids in _main_measures(series)
        for cohort in COHORTS
        if (course := _course(series, measure, (lids, order), cohort)) is not None
    )


def _main_measures(series: CaseSeries) -> list[tuple[Measure, Lids]]:
    window = next((each for each in series.windows if each.id == series.protocol.primary_window), None)
    main = [measure for measure in series.measures if measure.main]
    if not main or window is None or not series.cases.height:
        return []
    every = all_lids(series)
    return [(measure, every.of(measure).at(window)) for measure in main]


def _course(series: CaseSeries, measure: Measure, of: tuple[Lids, Numbers], cohort: str) -> LearningCourse | None:
    lids, order = of
    here = lids.seen & (lids.second == (cohort == "advanced"))
    if not here.any():
        return None
    value = outcome_values(lids, measure, "main")[here]
    at = np.unique(np.round(np.linspace(order[here].min(), order[here].max(), POINTS)))
    found = smooth_mean(order[here], value, lids.patient[here], at=at, confidence_level=_level(series))
    if estimable(found[0].estimate) is None:
        return None
    ends = (0.0, 1.0) if measure.main_outcome == "share" else series.protocol.limits(measure)
    points = tuple(LearningPoint(int(place) + 1, *_within(each, ends)) for place, each in zip(at, found, strict=True))
    return LearningCourse(measure.id, series.protocol.primary_window, cohort, int(here.sum()), points)


def _within(smoothed: Interval, ends: tuple[float, float]) -> tuple[float, float, float]:
    """The smoothed mean and its limits, none of them beyond the ends of the scale."""
    low, high = ends
    estimate, *both = (min(max(each, low), high) for each in (smoothed.estimate, smoothed.low, smoothed.high))
    return estimate, both[0], both[1]


def surgeon_differences(series: CaseSeries, covariates: Covariates) -> tuple[SurgeonDifference, ...]:
    """The adjusted difference of each main measure among the lids of each surgeon who did both covers, of several surgeons."""
    if not covariates.several_surgeons:
        return ()
    surgeons = [str(name) for name in np.unique(covariates.stratum) if name]
    return tuple(
        difference
        for measure, lids in _main_measures(series)
        for surgeon in surgeons
        if (difference := _of_surgeon(measure, lids, covariates, surgeon)) is not None
    )


def _of_surgeon(measure: Measure, lids: Lids, covariates: Covariates, surgeon: str) -> SurgeonDifference | None:
    """From the model of all lids, with the difference of this surgeon's lids apart; None with too few lids or one patient's."""
    sample = sample_of(lids, lids.seen, covariates)
    own = (covariates.stratum == surgeon)[lids.seen]
    mine = [own & side for side in (~sample.second, sample.second)]
    counts = [int(side.sum()) for side in mine]
    people = min(np.unique(sample.patient[side]).size for side in mine)
    if min(counts) < sample.rules.too_few_lids or people < FEWEST_PATIENTS or sample.why_not_adjusted:
        return None
    value = outcome_values(lids, measure, "main")[lids.seen]
    found = linear_difference(
        value,
        within_design(sample.cohorts, own),
        step=scale_of(measure, "main", lids.step).step,
        confidence_level=sample.level,
    )
    if estimable(found.low) is None:
        return None
    return SurgeonDifference(measure.id, surgeon, counts[0], counts[1], found.estimate, found.low, found.high)


def calendar_trends(series: CaseSeries, covariates: Covariates) -> tuple[CalendarTrend, ...]:
    """By how much the adjusted difference of each main measure changed with a year of operation (exploratory)."""
    operated = series.cases.get_column("operated_on")
    years = _years(operated)
    return tuple(
        trend
        for measure, lids in _main_measures(series)
        if (trend := _trend(measure, lids, covariates, years)) is not None
    )


def _years(operated: pl.Series) -> Numbers:
    return np.asarray(operated.dt.epoch(time_unit="d").to_numpy() / DAYS_IN_YEAR, dtype=np.float64)


def _trend(measure: Measure, lids: Lids, covariates: Covariates, years: Numbers) -> CalendarTrend | None:
    sample = sample_of(lids, lids.seen, covariates)
    if sample.fewest < sample.rules.too_few_lids or sample.why_not_adjusted:
        return None
    value = outcome_values(lids, measure, "main")[lids.seen]
    design = interaction_design(sample.cohorts, years[lids.seen])
    found = linear_difference(value, design, confidence_level=sample.level)
    if estimable(found.low) is None:
        return None
    return CalendarTrend(measure.id, *limits(found.interval), estimable(found.p))


def _level(series: CaseSeries) -> float:
    return series.protocol.rules.confidence_level
