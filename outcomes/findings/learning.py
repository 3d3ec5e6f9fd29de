"""Learning, surgeons and time: the main outcomes over case order, each surgeon's own difference, and its change over the years."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import polars as pl

from outcomes.cohort import CaseSeries
from outcomes.findings.arrays import Flags, Lids, Numbers, all_lids
from outcomes.findings.covariates import Covariates
from outcomes.findings.estimable import estimable
from outcomes.findings.estimates import limits
from outcomes.findings.measure_findings import order_by_cover
from outcomes.findings.outcomes import outcome_values, scale_of
from outcomes.findings.results import CalendarTrend, LearningCourse, LearningPoint, SurgeonDifference
from outcomes.findings.sample import Sample, sample_of
from outcomes.protocol import COHORTS, Measure
from outcomes.statistics.linear_model import interaction_design, linear_difference, within_design
from outcomes.statistics.result import Interval
from outcomes.statistics.smooth_mean import smooth_mean

POINTS = 12
FEWEST_PATIENTS = 2
DAYS_IN_YEAR = 365.25


@dataclass(frozen=True)
class Exploration:
    """What is explored without a verdict: courses over case order, each surgeon's difference, and its change over the years."""

    learning: tuple[LearningCourse, ...] = ()
    surgeons: tuple[SurgeonDifference, ...] = ()
    calendar: tuple[CalendarTrend, ...] = ()


def exploration(series: CaseSeries, covariates: Covariates) -> Exploration:
    """Explore the main outcome of each main measure in the primary window; empty where that was not asked for."""
    window = next((each for each in series.windows if each.id == series.protocol.primary_window), None)
    main = [measure for measure in series.measures if measure.main]
    if not main or window is None or not series.cases.height:
        return Exploration()
    every = all_lids(series)
    order, years = order_by_cover(series), _years(series.cases.get_column("operated_on"))
    courses: list[LearningCourse] = []
    surgeons: list[SurgeonDifference] = []
    trends: list[CalendarTrend] = []
    for measure in main:
        lids = every.of(measure).at(window)
        explored = _ExploredMeasure(measure, lids, sample_of(lids, lids.seen, covariates))
        found = (_course(series, explored, order, cohort) for cohort in COHORTS)
        courses += [course for course in found if course is not None]
        surgeons += _of_surgeons(explored, covariates)
        trend = _trend(explored, years)
        trends += [] if trend is None else [trend]
    return Exploration(tuple(courses), tuple(surgeons), tuple(trends))


@dataclass(frozen=True)
class _ExploredMeasure:
    """A main measure with its lids in the primary window, and the sample of those measured."""

    measure: Measure
    lids: Lids
    sample: Sample

    @property
    def value(self) -> Numbers:
        """The main outcome of the lids measured."""
        return outcome_values(self.lids, self.measure, "main")[self.lids.seen]


def _course(series: CaseSeries, of: _ExploredMeasure, order: Numbers, cohort: str) -> LearningCourse | None:
    """The outcome over case order in one cohort, as a smooth course."""
    here = of.sample.second == (cohort == "advanced")
    if not here.any():
        return None
    place = order[of.lids.seen][here]
    at = np.unique(np.round(np.linspace(place.min(), place.max(), POINTS)))
    found = smooth_mean(place, of.value[here], of.sample.patient[here], at=at, confidence_level=of.sample.level)
    if estimable(found[0].estimate) is None:
        return None
    ends = (0.0, 1.0) if of.measure.main_outcome == "share" else series.protocol.limits(of.measure)
    points = tuple(LearningPoint(int(each) + 1, *_within(mean, ends)) for each, mean in zip(at, found, strict=True))
    return LearningCourse(of.measure.id, series.protocol.primary_window, cohort, int(here.sum()), points)


def _within(smoothed: Interval, ends: tuple[float, float]) -> tuple[float, float, float]:
    """The smoothed mean and its limits, none of them beyond the ends of the scale."""
    low, high = ends
    estimate, *both = (min(max(each, low), high) for each in (smoothed.estimate, smoothed.low, smoothed.high))
    return estimate, both[0], both[1]


def _of_surgeons(of: _ExploredMeasure, covariates: Covariates) -> Iterator[SurgeonDifference]:
    """The adjusted difference among the lids of each surgeon who did both covers, where there are several surgeons."""
    if covariates.several_surgeons and not of.sample.why_not_adjusted:
        names, number = covariates.surgeons
        stratum = number[of.lids.seen]
        for place in np.flatnonzero(names != ""):
            difference = _of_surgeon(of, str(names[place]), stratum == place)
            if difference is not None:
                yield difference


def _of_surgeon(of: _ExploredMeasure, surgeon: str, own: Flags) -> SurgeonDifference | None:
    """From the model of all lids, with the difference of this surgeon's lids apart; None with too few lids or one patient's."""
    sample = of.sample
    mine = [own & side for side in (~sample.second, sample.second)]
    counts = [int(side.sum()) for side in mine]
    people = min(np.unique(sample.patient[side]).size for side in mine)
    if min(counts) < sample.rules.too_few_lids or people < FEWEST_PATIENTS:
        return None
    step = scale_of(of.measure, "main", of.lids.step).step
    found = linear_difference(of.value, within_design(sample.design, own), step=step, confidence_level=sample.level)
    if estimable(found.low) is None:
        return None
    return SurgeonDifference(of.measure.id, surgeon, counts[0], counts[1], found.estimate, found.low, found.high)


def _years(operated: pl.Series) -> Numbers:
    return np.asarray(operated.dt.epoch(time_unit="d").to_numpy() / DAYS_IN_YEAR, dtype=np.float64)


def _trend(of: _ExploredMeasure, years: Numbers) -> CalendarTrend | None:
    """By how much the adjusted difference changed with a year of operation."""
    sample = of.sample
    if sample.fewest < sample.rules.too_few_lids or sample.why_not_adjusted:
        return None
    design = interaction_design(sample.design, years[of.lids.seen])
    found = linear_difference(of.value, design, confidence_level=sample.level)
    if estimable(found.low) is None:
        return None
    return CalendarTrend(of.measure.id, *limits(found.interval), estimable(found.p))
