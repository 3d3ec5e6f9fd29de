"""Cumulative incidence of dated events with death as a competing risk."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from outcomes.cohort import CaseSeries, event_times
from outcomes.findings.arrays import Numbers
from outcomes.findings.estimable import estimable
from outcomes.findings.families import TimedDraft
from outcomes.findings.propensity import CoverChoice
from outcomes.findings.results import Contrast, Curve, CurvePoint, Kind, Note, TimedFinding
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
from outcomes.findings.time_to_event.sensitivity import event_loss, with_losses
from outcomes.findings.time_to_event.verdict import timed_draft
from outcomes.protocol import COHORTS, Timed
from outcomes.statistics.aalen_johansen import IncidenceCurve, aalen_johansen
from outcomes.statistics.gray import gray_test
from outcomes.statistics.inverted_difference import inverted_difference
from outcomes.statistics.overlap import effective_size
from outcomes.statistics.proportion import NOT_ESTIMABLE
from outcomes.statistics.result import Interval, TestedEstimate

METHOD = "Aalen-Johansen"
KIND: Kind = "difference of cumulative incidence"


def analyse_event(series: CaseSeries, choice: CoverChoice, timed: Timed) -> EventAnalysis:
    """Analyse one dated event: shares by each month as far as both cohorts reach, curves, and Gray's test by permutation."""
    lids = timed_lids(event_times(series, timed), series, choice)
    least = series.protocol.rules.at_risk_minimum
    courses = _courses(lids, least)
    planned = _courses(lids.as_planned(), least) if lids.converted else None
    test = _test(lids)
    drafts = tuple(_draft(series, choice, timed, (courses, planned, test), month) for month in timed.months)
    return EventAnalysis(drafts, tuple(_curve(timed, course) for course in courses), ())


@dataclass(frozen=True)
class Course:
    """One cohort's course: its estimate, the weighted one with the lids that its weights are worth, and how far it reaches.

    The curve reaches as far as enough lids remain at risk. A share at a month fixed in advance is told when of enough lids it
    is known how they were by then: to ask that enough had no event would choose the series in which few did.
    """

    cohort: str
    months: Numbers
    cause: Numbers
    due: Numbers
    estimate: IncidenceCurve
    weighted: IncidenceCurve | None
    worth: float
    reach: float

    def known_by(self, month: float) -> int:
        """Of how many lids that were due by then it is known what had become of them."""
        return int(((self.due >= month) & ((self.cause > 0) | (self.months >= month))).sum())

    def events_by(self, month: float) -> int:
        """How many lids had the event by then."""
        return int(((self.cause == 1) & (self.months <= month)).sum())

    def at_risk(self, month: float) -> int:
        """How many lids were still followed and free then."""
        return int((self.months >= month).sum())


def _courses(lids: TimedLids, least: int) -> tuple[Course, Course]:
    grafted, advanced = (_course(lids, cohort, least) for cohort in COHORTS)
    return grafted, advanced


def _course(lids: TimedLids, cohort: str, least: int) -> Course:
    here, cause = lids.side(cohort), lids.frame.get_column("cause").to_numpy()
    months, patient = lids.months("days")[here], lids.patient[here]
    weighted, worth = None, 0.0
    if lids.weight is not None and lids.weight[here].sum() > 0:
        worth = effective_size(lids.weight[here])
        weighted = aalen_johansen(time=months, cause=cause[here], patient=patient, weight=lids.weight[here])
    longest = np.sort(months)[::-1]
    reach = float(longest[least - 1]) if months.size >= least else float("-inf")
    return Course(
        cohort,
        months,
        cause[here],
        lids.months("due_days")[here],
        aalen_johansen(time=months, cause=cause[here], patient=patient),
        weighted,
        worth,
        reach,
    )


Courses = tuple[Course, Course]


def _draft(
    series: CaseSeries,
    choice: CoverChoice,
    timed: Timed,
    of: tuple[Courses, Courses | None, Contrast | None],
    month: int,
) -> TimedDraft:
    courses, planned, test = of
    rules = series.protocol.rules
    crude, adjusted = (_difference(courses, month, rules.confidence_level, weighted=flag) for flag in (False, True))
    short = [course.cohort for course in courses if course.known_by(month) < rules.at_risk_minimum]
    shares = [NOT_ESTIMABLE if short else course.estimate.at(month) for course in courses]
    grafted, advanced = (
        timed_share(course.months.size, course.events_by(month), course.at_risk(month), share)
        for course, share in zip(courses, shares, strict=True)
    )
    notes = [Note("few_followed", rules.at_risk_minimum, " and ".join(short))] if short else []
    if series.protocol.captured_by(timed.kind) == "reviews":
        notes.append(Note("lower_bound"))
    finding = TimedFinding(
        timed.id,
        METHOD,
        clock_of(timed),
        month,
        grafted,
        advanced,
        Contrast(KIND, None, None, None) if short else timed_contrast(KIND, crude),
        None
        if short or choice.weight is None
        else timed_adjusted(KIND, adjusted, (courses[0].worth, courses[1].worth)),
        p_curve=test,
        notes=tuple(notes),
    )
    if not short:
        losses = tuple(event_loss(each.months, each.cause, each.due, month) for each in courses)
        by_plan = None
        if planned is not None:
            found = _difference(planned, month, rules.confidence_level, weighted=False)
            by_plan = timed_contrast(KIND, found)
        finding = with_losses(finding, (losses[0], losses[1]), by_plan)
    judged = None if short else (adjusted if choice.weight is not None else crude)
    return timed_draft(series, choice, timed, finding, judged)


def _difference(courses: Courses, month: int, level: float, *, weighted: bool) -> TestedEstimate:
    """The difference at a month, weighted or not, with the p value of the same interval."""
    curves = [course.weighted if weighted else course.estimate for course in courses]

    def shares(confidence_level: float) -> tuple[Interval, Interval]:
        first, second = (
            NOT_ESTIMABLE if curve is None else replace(curve, confidence_level=confidence_level).at(month)
            for curve in curves
        )
        return first, second

    return inverted_difference(shares, level)


def _test(lids: TimedLids) -> Contrast | None:
    if lids.second.all() or not lids.second.any():
        return None
    test = gray_test(
        time=lids.months("days"),
        cause=lids.frame.get_column("cause").to_numpy(),
        second=lids.second,
        patient=lids.patient,
    )
    drawn = test.p == test.permutation_p and not test.exact
    return Contrast(
        KIND,
        None,
        None,
        None,
        estimable(test.p),
        exact=not drawn,
        monte_carlo_error=test.monte_carlo_error if drawn else None,
    )


def _curve(timed: Timed, course: Course) -> Curve:
    last = min(course.reach, float(max(timed.months)))
    if last < 0:
        return Curve(timed.id, course.cohort, (), (), None)
    points = _points(course.estimate, last)
    return Curve(
        timed.id,
        course.cohort,
        points,
        tuple((month, course.at_risk(month)) for month in at_risk_months(timed.months)),
        last,
    )


def _points(curve: IncidenceCurve, last: float) -> tuple[CurvePoint, ...]:
    """The curve at 0, at each of its steps, and at the last month that is shown."""
    shown = curve.time <= last
    shown[0] = False
    lows, highs = curve.limits()
    steps = zip(curve.time[shown], curve.incidence[0][shown], lows[shown], highs[shown], strict=True)
    points = [CurvePoint(0.0, *_known(curve.at(0.0)))]
    points += [CurvePoint(float(t), float(share), estimable(low), estimable(high)) for t, share, low, high in steps]
    end = CurvePoint(last, *_known(curve.at(last)))
    return tuple({point.months: point for point in (*points, end)}.values())


def _known(share: Interval) -> tuple[float, float | None, float | None]:
    return share.estimate, estimable(share.low), estimable(share.high)
