"""The evidence for the verdict of a timed event, at its main month only."""

from __future__ import annotations

from outcomes.cohort import CaseSeries
from outcomes.findings.decision_rule import Evidence
from outcomes.findings.families import TimedDraft
from outcomes.findings.propensity import CoverChoice
from outcomes.findings.results import TimedFinding, exact
from outcomes.findings.time_to_event.sensitivity import followed_shares
from outcomes.protocol import Timed
from outcomes.statistics.result import TestedEstimate, not_estimable


def timed_draft(
    series: CaseSeries, choice: CoverChoice, timed: Timed, finding: TimedFinding, judged: TestedEstimate | None
) -> TimedDraft:
    """Put the evidence beside a finding at the main month; `judged` is None where nothing can be estimated."""
    if finding.at_months != timed.main_month:
        return TimedDraft(finding, None)
    rules = series.protocol.rules
    estimate = judged or not_estimable(rules.confidence_level)
    evidence = Evidence(
        None if choice.no_overlap else estimate,
        fewest=min(exact(finding.grafted.n), exact(finding.advanced.n)),
        too_few=rules.too_few_lids,
        more_is_worse=not timed.good,
        measured=followed_shares(finding),
        points=rules.follow_up_difference_points,
    )
    return TimedDraft(finding, evidence)
