"""The analysis of every timed event.

Dated events (recurrence, revision) are estimated by Aalen-Johansen with death competing; states that are seen only at reviews
by Turnbull's estimate for interval-censored times.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from outcomes.cohort import CaseSeries
from outcomes.findings.families import TimedDraft
from outcomes.findings.propensity import CoverChoice
from outcomes.findings.results import Curve, Mean
from outcomes.findings.time_to_event.dated_events import analyse_event
from outcomes.findings.time_to_event.interval_censored import analyse_state
from outcomes.findings.time_to_event.result import EventAnalysis


@dataclass(frozen=True)
class Timing:
    """The analysis of all timed events, before the verdicts."""

    drafts: tuple[TimedDraft, ...]
    curves: tuple[Curve, ...]
    means: tuple[Mean, ...]


def analyses_of_timed(series: CaseSeries, choice: CoverChoice) -> Iterator[Callable[[], EventAnalysis]]:
    """The analysis of each timed event of the protocol, still to be made, with no more of the series than it needs."""
    for timed in series.protocol.timed:
        if timed.origin == "events":
            yield partial(analyse_event, series.for_dated_events(), choice, timed)
        else:
            yield partial(analyse_state, series.for_measures((timed.measure,)), choice, timed)


def timing(analyses: Sequence[EventAnalysis]) -> Timing:
    """Put the analyses of the timed events together, in their order."""
    return Timing(
        tuple(draft for each in analyses for draft in each.drafts),
        tuple(curve for each in analyses for curve in each.curves),
        tuple(mean for each in analyses for mean in each.means),
    )
