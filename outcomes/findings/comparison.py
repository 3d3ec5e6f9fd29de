"""The whole comparison of grafted with advanced lids for one case series."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future
from dataclasses import dataclass
from functools import partial

from outcomes.cohort import CaseSeries, Loss, LossReason
from outcomes.findings.balance import balance
from outcomes.findings.covariates import Covariates, covariates
from outcomes.findings.days_shut import days_shut
from outcomes.findings.families import summaries, with_verdicts
from outcomes.findings.follow_up import followed_by_window, followed_cases, group
from outcomes.findings.learning import exploration
from outcomes.findings.lid_courses import lid_courses
from outcomes.findings.measure_findings import drafts_of_both_clocks
from outcomes.findings.propensity import CoverChoice, choose_covers
from outcomes.findings.results import Comparison, FlowStep, Stamp, WindowFollowed
from outcomes.findings.time_to_event.analysis import analyses_of_timed, timing
from outcomes.findings.time_to_event.result import EventAnalysis
from outcomes.findings.warnings import cautions
from outcomes.parallel import OneByOne, shared
from outcomes.protocol import COHORTS

Progress = Callable[[str], None]
PARTS, LARGE = 6, 10_000  # lids; what the measures of a part share is worked out once a part
NOT_REVIEWED: tuple[LossReason, ...] = ("missing", "not_due", "not_applicable")


@dataclass(frozen=True)
class BegunComparison:
    """How the covers were chosen, and the timed events, which other processes analyse meanwhile."""

    adjusting: Covariates
    choice: CoverChoice
    timed: tuple[Future[EventAnalysis], ...]


def begin_comparison(series: CaseSeries, elsewhere: Executor) -> BegunComparison:
    """Give other processes what they can do before this one is ready."""
    adjusting = covariates(series)
    choice = choose_covers(series, adjusting)
    analyses = analyses_of_timed(series, choice)
    return BegunComparison(adjusting, choice, tuple(elsewhere.submit(analysis) for analysis in analyses))


def compare(
    series: CaseSeries,
    stamp: Stamp,
    *,
    progress: Progress | None = None,
    elsewhere: Executor | None = None,
    begun: BegunComparison | None = None,
) -> Comparison:
    """Compute the whole comparison for one case series; the same series and software give the same numbers.

    Half of the work is given to `elsewhere`, if given: other processes, which give the same numbers sooner. `begun` is what was
    begun before there was a stamp.
    """
    report, others = progress or _silent, elsewhere or OneByOne()
    report("how the covers were chosen")
    begun = begun or begin_comparison(series, others)
    adjusting, choice = begun.adjusting, begun.choice
    report("who was followed")
    windows, groups = followed_by_window(series), (group(series, "grafted"), group(series, "advanced"))
    lines = balance(series, choice)
    followed, courses, shut = followed_cases(series), lid_courses(series), days_shut(series)
    explored = exploration(series, adjusting)
    report("lids by time since division")
    drafted = shared(others, [partial(drafts_of_both_clocks, part, adjusting) for part in _parts(series)])
    report("when things happened")
    timed_result = timing([each.result() for each in begun.timed])
    report("verdicts")
    findings, timed_findings = with_verdicts(
        series.protocol, [draft for part, _ in drafted for draft in part], timed_result.drafts
    )
    findings = (*findings, *(finding for _, part in drafted for finding in part))
    return Comparison(
        stamp=stamp,
        grafted=groups[0],
        advanced=groups[1],
        flow=_flow(series, windows),
        balance=lines,
        adjustment=choice.adjustment,
        findings=findings,
        timing=timed_findings,
        curves=timed_result.curves,
        means=timed_result.means,
        followed=followed,
        courses=courses,
        followed_by_window=windows,
        warnings=cautions(series, choice, lines, findings, groups),
        families=summaries(series.protocol, findings, timed_findings),
        learning=explored.learning,
        surgeons=explored.surgeons,
        calendar=explored.calendar,
        days_shut=shut,
    )


def _parts(series: CaseSeries) -> list[CaseSeries]:
    """The series for some of the measures each, to be shared out: of a large one for each measure, as it takes long."""
    measures = tuple(each.id for each in series.measures)
    size = 1 if series.cases.height > LARGE else -(-len(measures) // PARTS)
    parts = (measures[start : start + size] for start in range(0, len(measures), size or 1))
    return [series.for_measures(part) for part in parts]


def _silent(step: str) -> None:
    """Say nothing of the progress."""


def _flow(series: CaseSeries, windows: tuple[WindowFollowed, ...]) -> tuple[FlowStep, ...]:
    steps = list(series.flow)
    for window in series.windows:
        reviewed = {each.cohort: each for each in windows if each.window == window.id}
        counts = ((reason, sum(getattr(each, reason) for each in reviewed.values())) for reason in NOT_REVIEWED)
        lost = tuple(Loss(reason, number) for reason, number in counts if number)
        grafted, advanced = (reviewed[cohort].seen for cohort in COHORTS)
        steps.append(FlowStep("reviewed", grafted, advanced, lost, window.label, window.id))
    return tuple(steps)
