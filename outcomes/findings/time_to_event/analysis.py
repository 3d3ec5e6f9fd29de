"""The analysis of every timed event.

Dated events (recurrence, revision) are estimated by Aalen-Johansen with death competing; states that are seen only at reviews
by Turnbull's estimate for interval-censored times.
"""

from __future__ import annotations

from dataclasses import dataclass

from outcomes.cohort import CaseSeries
from outcomes.findings.families import TimedDraft
from outcomes.findings.propensity import CoverChoice
from outcomes.findings.results import Curve, Mean
from outcomes.findings.time_to_event.dated_events import analyse_event
from outcomes.findings.time_to_event.interval_censored import analyse_state


@dataclass(frozen=True)
class Timing:
    """The analysis of all timed events, before the verdicts."""

    drafts: tuple[TimedDraft, ...]
    curves: tuple[Curve, ...]
    means: tuple[Mean, ...]


def timing(series: CaseSeries, choice: CoverChoice) -> Timing:
    """Analyse every timed event of the protocol."""
    analyses = [
        (analyse_event if timed.origin == "events" else analyse_state)(series, choice, timed)
        for timed in series.protocol.timed
    ]
    return Timing(
        tuple(draft for each in analyses for draft in each.drafts),
        tuple(curve for each in analyses for curve in each.curves),
        tuple(mean for each in analyses for mean in each.means),
    )
