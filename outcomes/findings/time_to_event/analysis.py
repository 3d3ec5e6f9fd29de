"""The analysis of every timed event.

Dated events (recurrence, revision) are told by the Aalen-Johansen estimate with death competing; states that are seen
only at reviews (oedema settled, onset of retraction or of a notch) by Turnbull's estimate for interval-censored times.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from outcomes.cohort import CaseSeries
from outcomes.findings.decision_rule import Evidence, read
from outcomes.findings.propensity import CoverChoice
from outcomes.findings.results import Contrast, Curve, Mean, TimedFinding
from outcomes.findings.time_to_event.dated_events import event_answers
from outcomes.findings.time_to_event.interval_censored import state_answers
from outcomes.findings.time_to_event.sensitivity import followed_apart
from outcomes.protocol import Timed


@dataclass(frozen=True)
class Timing:
    """All timed answers, before the correction for many looks: `tests` holds one test an event, over its whole course."""

    findings: tuple[TimedFinding, ...]
    curves: tuple[Curve, ...]
    means: tuple[Mean, ...]
    tests: dict[str, Contrast]

    def read(
        self, series: CaseSeries, choice: CoverChoice, tests: dict[str, Contrast], masking_tells: frozenset[str]
    ) -> tuple[TimedFinding, ...]:
        """Put the corrected test of each event beside its contrasts, and read them by the one rule.

        A state that is seen at reviews is as good as the reviews: where masked assessors saw another difference in its
        measure, in `masking_tells`, it is not read.
        """
        events = {timed.id: timed for timed in series.protocol.timed}
        return tuple(
            _read(
                series,
                choice,
                finding,
                (events[finding.event], tests.get(finding.event)),
                masking_tells=events[finding.event].measure in masking_tells,
            )
            for finding in self.findings
        )


def timing(series: CaseSeries, choice: CoverChoice) -> Timing:
    """Answer every timed event of the protocol."""
    answers = [
        (event_answers if timed.origin == "events" else state_answers)(series, choice, timed)
        for timed in series.protocol.timed
    ]
    return Timing(
        tuple(finding for answer in answers for finding in answer.findings),
        tuple(curve for answer in answers for curve in answer.curves),
        tuple(mean for answer in answers for mean in answer.means),
        {
            timed.id: answer.test
            for timed, answer in zip(series.protocol.timed, answers, strict=True)
            if answer.test is not None
        },
    )


def _read(
    series: CaseSeries,
    choice: CoverChoice,
    finding: TimedFinding,
    of: tuple[Timed, Contrast | None],
    *,
    masking_tells: bool,
) -> TimedFinding:
    timed, test = of
    contrast = finding.contrast
    if test is not None and contrast.estimate is not None:
        contrast = replace(
            contrast, p=test.p, p_adjusted=test.p_adjusted, exact=test.exact, monte_carlo_error=test.monte_carlo_error
        )
    rules = series.protocol.rules
    evidence = Evidence(
        contrast,
        finding.adjusted,
        finding.if_missing,
        fewest=min(finding.grafted.n, finding.advanced.n),
        too_few=rules.too_few_lids,
        more_is_worse=not timed.good,
        reviewed_apart=followed_apart(finding, rules.follow_up_difference_points),
        no_overlap=choice.no_overlap,
        as_planned=finding.as_planned,
        masking_tells=masking_tells,
        alpha=1 - rules.confidence_level,
    )
    reading, reasons = read(evidence)
    return replace(finding, contrast=contrast, reading=reading, reasons=reasons)
