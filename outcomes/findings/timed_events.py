"""To how many had a dated event happened by then, when death may come first?"""

from __future__ import annotations

import numpy as np

from outcomes.cohort import CaseSeries, event_times
from outcomes.findings.cover_choice import CoverChoice
from outcomes.findings.estimable import estimable
from outcomes.findings.lids import Flags
from outcomes.findings.results import Adjusted, Clock, Contrast, Curve, CurvePoint, TimedFinding, TimedShare
from outcomes.findings.timed_answer import Answer, Table, at_risk_months, table
from outcomes.protocol import COHORTS, Timed
from outcomes.statistics.aalen_johansen import aalen_johansen
from outcomes.statistics.difference import square_and_add
from outcomes.statistics.gray import gray_test
from outcomes.statistics.overlap import effective_size
from outcomes.statistics.result import Interval

METHOD = "Aalen-Johansen"
KIND = "difference of cumulative incidence"
ADJUSTED_KIND = "overlap-weighted difference of cumulative incidence"


def event_answers(series: CaseSeries, choice: CoverChoice, timed: Timed) -> Answer:
    """Answer one dated event: shares by each month as far as both cohorts reach, curves, and Gray's test by permutation."""
    lids = table(event_times(series, timed), series.cases, choice)
    reach = {cohort: _reach(lids, cohort, series.protocol.rules.at_risk_minimum) for cohort in COHORTS}
    findings = tuple(_at(series, lids, timed, month, reach) for month in timed.months)
    return Answer(findings, tuple(_curve(lids, timed, cohort, reach[cohort]) for cohort in COHORTS), (), _test(lids))


def _reach(lids: Table, cohort: str, least: int) -> float:
    """The last month at which at least that many lids of the cohort were still followed."""
    months = np.sort(lids.months("days")[lids.side(cohort)])[::-1]
    return float(months[least - 1]) if months.size >= least else float("-inf")


def _share(lids: Table, here: Flags, month: float, weight: np.ndarray | None = None) -> Interval:  # type: ignore[type-arg]
    curve = aalen_johansen(time=lids.months("days")[here], cause=lids.frame.get_column("cause").to_numpy()[here], patient=lids.patient[here], weight=weight)
    return curve.at(month)


def _at(series: CaseSeries, lids: Table, timed: Timed, month: int, reach: dict[str, float]) -> TimedFinding:
    least = series.protocol.rules.at_risk_minimum
    short = [cohort for cohort in COHORTS if reach[cohort] < month]
    if short:
        nothing = [TimedShare(int(lids.side(cohort).sum()), _events(lids, cohort, month), None, None, None) for cohort in COHORTS]
        note = f"fewer than {least} {' and '.join(short)} lids were followed for {month} months"
        return TimedFinding(timed.id, METHOD, _clock(timed), month, *nothing, Contrast(KIND, None, None, None), "too few to say", note=note)
    shares = [_share(lids, lids.side(cohort), month) for cohort in COHORTS]
    told = [
        TimedShare(int(lids.side(cohort).sum()), _events(lids, cohort, month), *(estimable(x) for x in (share.estimate, share.low, share.high)))
        for cohort, share in zip(COHORTS, shares, strict=True)
    ]
    apart = square_and_add(*shares)
    contrast = Contrast(KIND, estimable(apart.estimate), estimable(apart.low), estimable(apart.high))
    return TimedFinding(timed.id, METHOD, _clock(timed), month, *told, contrast, "too few to say", _adjusted(lids, month))


def _clock(timed: Timed) -> Clock:
    return "operation" if timed.clock == "operation" else "division"


def _events(lids: Table, cohort: str, month: int) -> int:
    happened = (lids.frame.get_column("cause").to_numpy() == 1) & (lids.months("days") <= month)
    return int((happened & lids.side(cohort)).sum())


def _adjusted(lids: Table, month: int) -> Adjusted | None:
    """The same difference among lids that could have had either cover: weights scaled to the number they are worth."""
    if lids.weight is None:
        return None
    sizes, shares = [], []
    for cohort in COHORTS:
        here = lids.side(cohort)
        size = effective_size(lids.weight[here])
        sizes.append(size)
        shares.append(_share(lids, here, month, lids.weight[here] * size / lids.weight[here].sum()))
    apart = square_and_add(*shares)
    return Adjusted(ADJUSTED_KIND, estimable(apart.estimate), estimable(apart.low), estimable(apart.high), *sizes)


def _test(lids: Table) -> Contrast | None:
    if lids.second.all() or not lids.second.any():
        return None
    test = gray_test(time=lids.months("days"), cause=lids.frame.get_column("cause").to_numpy(), second=lids.second, patient=lids.patient)
    return Contrast("Gray's test by permutation of patients", None, None, None, estimable(test.p), None, test.exact, None if test.exact else test.monte_carlo_error)


def _curve(lids: Table, timed: Timed, cohort: str, reach: float) -> Curve:
    here = lids.side(cohort)
    months, last = lids.months("days")[here], min(reach, float(max(timed.months)))
    if not here.any() or last < 0:
        return Curve(timed.id, cohort, (), (), None)
    curve = aalen_johansen(time=months, cause=lids.frame.get_column("cause").to_numpy()[here], patient=lids.patient[here])
    steps = [0.0, *(float(t) for t, grew in zip(curve.time[1:], np.diff(curve.incidence[0]) > 0, strict=True) if grew and t <= last), last]
    points = tuple(_point(month, curve.at(month)) for month in dict.fromkeys(steps))
    return Curve(timed.id, cohort, points, tuple((month, int((months >= month).sum())) for month in at_risk_months(timed.months)), last)


def _point(month: float, share: Interval) -> CurvePoint:
    return CurvePoint(month, share.estimate, estimable(share.low), estimable(share.high))
