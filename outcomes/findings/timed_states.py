"""To how many had a state come by then, when it is seen only at reviews?"""

from __future__ import annotations

import numpy as np

from outcomes.cohort import CaseSeries, event_intervals
from outcomes.findings.cover_choice import CoverChoice
from outcomes.findings.estimable import estimable
from outcomes.findings.lids import Flags
from outcomes.findings.results import Adjusted, Clock, Contrast, Curve, CurvePoint, Mean, TimedFinding, TimedShare
from outcomes.findings.timed_answer import Answer, Table, at_risk_months, table
from outcomes.protocol import COHORTS, Timed
from outcomes.statistics.difference import square_and_add
from outcomes.statistics.interval_logrank import interval_logrank
from outcomes.statistics.overlap import effective_size
from outcomes.statistics.restricted_mean import turnbull_mean
from outcomes.statistics.result import Interval
from outcomes.statistics.turnbull import share_by, turnbull

METHOD = "Turnbull"
KIND = "difference of cumulative share"
ADJUSTED_KIND = "overlap-weighted difference of cumulative share"
MEAN_KIND = "difference of restricted mean months"


def state_answers(series: CaseSeries, choice: CoverChoice, timed: Timed) -> Answer:
    """Answer one state: shares by each month as far as both cohorts reach, curves between two edges, mean time, test."""
    lids = table(event_intervals(series, timed), series.cases, choice)
    reach = {cohort: _reach(lids, cohort, series.protocol.rules.at_risk_minimum) for cohort in COHORTS}
    findings = tuple(_at(series, lids, timed, month, reach) for month in timed.months)
    curves = tuple(_curve(lids, timed, cohort, reach[cohort]) for cohort in COHORTS)
    return Answer(findings, curves, _means(lids, timed, reach), _test(lids))


def _reach(lids: Table, cohort: str, least: int) -> float:
    """The last month by which at least that many lids of the cohort were still being reviewed."""
    months = np.sort(lids.months("latest")[lids.side(cohort)])[::-1]
    return float(months[least - 1]) if months.size >= least else float("-inf")
