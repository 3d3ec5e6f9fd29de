"""Cumulative incidence of dated events with death as a competing risk."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from outcomes.cohort import CaseSeries, event_times
from outcomes.findings.arrays import Numbers
from outcomes.findings.estimable import estimable
from outcomes.findings.propensity import CoverChoice
from outcomes.findings.results import Adjusted, Contrast, Curve, CurvePoint, TimedFinding, TimedShare
from outcomes.findings.time_to_event.result import Answer, Table, at_risk_months, clock_of, said, table
from outcomes.findings.time_to_event.sensitivity import event_loss, with_doubts
from outcomes.protocol import COHORTS, Timed
from outcomes.statistics.aalen_johansen import IncidenceCurve, aalen_johansen
from outcomes.statistics.difference import square_and_add
from outcomes.statistics.gray import gray_test
from outcomes.statistics.overlap import effective_size
from outcomes.statistics.proportion import NOT_ESTIMABLE
from outcomes.statistics.result import Interval

METHOD = "Aalen-Johansen"
KIND = "difference of cumulative incidence"
ADJUSTED_KIND = "overlap-weighted difference of cumulative incidence"


def event_answers(series: CaseSeries, choice: CoverChoice, timed: Timed) -> Answer:
    """Answer one dated event: shares by each month as far as both cohorts reach, curves, and Gray's test by permutation."""
    lids = table(event_times(series, timed), series, choice)
    least = series.protocol.rules.at_risk_minimum
    courses = _courses(lids, least)
    planned = _courses(lids.as_planned(), least) if lids.converted else None
    findings = tuple(_beside(_at(courses, timed, (month, least)), courses, planned) for month in timed.months)
    return Answer(findings, tuple(_curve(timed, course) for course in courses), (), _test(lids))


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


def _courses(lids: Table, least: int) -> tuple[Course, Course]:
    grafted, advanced = (_course(lids, cohort, least) for cohort in COHORTS)
    return grafted, advanced


def _course(lids: Table, cohort: str, least: int) -> Course:
    here, cause = lids.side(cohort), lids.frame.get_column("cause").to_numpy()
    months, patient = lids.months("days")[here], lids.patient[here]
    weighted, worth = None, 0.0
    if lids.weight is not None:
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


def _at(courses: tuple[Course, ...], timed: Timed, when: tuple[int, int]) -> TimedFinding:
    month, least = when
    short = [course.cohort for course in courses if course.known_by(month) < least]
    shares = [NOT_ESTIMABLE if short else course.estimate.at(month) for course in courses]
    grafted, advanced = (
        TimedShare(course.months.size, int(((course.cause == 1) & (course.months <= month)).sum()), *said(share))
        for course, share in zip(courses, shares, strict=True)
    )
    contrast = Contrast(KIND, *said(square_and_add(*shares)))
    note = (
        f"fewer than {least} {' and '.join(short)} lids were followed for {month} months, or until it was known"
        if short
        else ""
    )
    return TimedFinding(
        timed.id,
        METHOD,
        clock_of(timed),
        month,
        grafted,
        advanced,
        contrast,
        "too few to say",
        None if short else _adjusted(courses, month),
        note=note,
    )


def _beside(found: TimedFinding, done: tuple[Course, Course], planned: tuple[Course, Course] | None) -> TimedFinding:
    """Put beside a finding what the lost could have made of it, and what it is by the covers that were planned."""
    if found.contrast.estimate is None:
        return found
    grafted, advanced = (event_loss(each.months, each.cause, each.due, found.at_months) for each in done)
    shares = None if planned is None else [each.estimate.at(found.at_months) for each in planned]
    return with_doubts(
        found, (grafted, advanced), None if shares is None else Contrast(KIND, *said(square_and_add(*shares)))
    )


def _adjusted(courses: tuple[Course, ...], month: int) -> Adjusted | None:
    """The same difference among lids that could have had either cover."""
    shares = [course.weighted.at(month) for course in courses if course.weighted is not None]
    if len(shares) < len(courses):
        return None
    return Adjusted(ADJUSTED_KIND, *said(square_and_add(*shares)), *(course.worth for course in courses))


def _test(lids: Table) -> Contrast | None:
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
        "Gray's test, by permutation of patients and given who was at risk",
        None,
        None,
        None,
        estimable(test.p),
        None,
        not drawn,
        test.monte_carlo_error if drawn else None,
    )


def _curve(timed: Timed, course: Course) -> Curve:
    last = min(course.reach, float(max(timed.months)))
    if last < 0:
        return Curve(timed.id, course.cohort, (), (), None)
    steps = [0.0, *(float(t) for t in course.estimate.time[1:] if t <= last), last]
    points = tuple(CurvePoint(month, *_known(course.estimate.at(month))) for month in dict.fromkeys(steps))
    return Curve(
        timed.id,
        course.cohort,
        points,
        tuple((month, int((course.months >= month).sum())) for month in at_risk_months(timed.months)),
        last,
    )


def _known(share: Interval) -> tuple[float, float | None, float | None]:
    return share.estimate, estimable(share.low), estimable(share.high)
