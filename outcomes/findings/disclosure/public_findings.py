"""The findings of a comparison as the public sees them: made anew from named fields, each small count as fewer than the threshold.

A finding is never left out for a small count. Where lids seen or not seen are few, it keeps its verdict alone. Where lids with a
poor result are few, a share keeps its lids and its verdict; values keep their mean and the adjusted difference, without the
interval of the crude one; where the mean itself would single a count out, they keep the middle values and the verdict.
Left out altogether: findings by the clock of operation, why lids were not seen, how many patients they belong to, what the
unseen could change, checks over other sets of lids, values lid by lid and their standard deviations.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Literal

from outcomes.findings.disclosure.counts import (
    public_count,
    public_events,
    safe,
    safe_events,
    safe_middle,
    safe_part,
    safe_quartiles,
)
from outcomes.findings.disclosure.rounding import (
    DECIMALS,
    TENTHS,
    hundredths,
    rounded,
    rounded_adjusted,
    rounded_contrast,
    share_contrast,
    share_limits,
    upwards,
    without_numbers,
)
from outcomes.findings.results import Contrast, Finding, Note, NoteId, Share, Values, Verdict, exact
from outcomes.protocol import Protocol

SMALL = Note("public")
STEPS = 4
Risk = Literal["none", "few_poor", "mean"]
PUBLIC_NOTES: frozenset[NoteId] = frozenset(
    (
        "no_interval",
        "not_adjusted",
        "no_overlap",
        "unseen",
        "masked",
        "masked_elsewhere",
        "within_important",
        "no_important_difference",
        "win_probability_disagrees",
        "lower_bound",
        "not_followed_for_mean",
        "nothing_happened",
    )
)


@dataclass(frozen=True)
class Rules:
    """What decides what is safe: the protocol, and in both cohorts the lids and how many of them are second lids.

    Where second lids are fewer than the threshold they count as one less than it, so that they show in no interval.
    """

    protocol: Protocol
    cases: tuple[int, int]
    second_lids: tuple[int, int]

    @property
    def threshold(self) -> int:
        """The count from which on a count points at nobody."""
        return self.protocol.rules.public_threshold

    def decimals(self, measure: str) -> int:
        """With how many decimals a mean of the measure is printed."""
        return TENTHS if self.protocol.value_field(self.protocol.measure(measure)).unit == "%" else DECIMALS

    @property
    def level(self) -> float:
        """The confidence level of every interval."""
        return self.protocol.rules.confidence_level


def public_findings(findings: Iterable[Finding], rules: Rules) -> tuple[Finding, ...]:
    """The findings by time since division, without anything that points at a person."""
    by_division = (each for each in findings if each.clock == "division")
    shown: list[Finding] = []
    for _, group in groupby(by_division, key=lambda each: (each.measure, each.window)):
        of_lids = list(group)
        risk = risk_of(of_lids, rules)
        shown.extend(public_finding(each, rules, risk) for each in of_lids)
    return tuple(shown)


def risk_of(same: list[Finding], rules: Rules) -> Risk:
    """What of the values of these lids would give a small count away: nothing, what is near it, or the mean already."""
    sides = [side for each in same for side in sides_of(each)]
    if any(_tells(side, same[0].measure, rules) for side in sides if isinstance(side, Values)):
        return "mean"
    shares = [side for side in sides if isinstance(side, Share)]
    return "none" if all(_safe_events(side, rules.threshold) for side in shares) else "few_poor"


def _safe_events(side: Share, threshold: int) -> bool:
    return safe_events(exact(side.events), exact(side.n), threshold)


def _tells(side: Values, measure: str, rules: Rules) -> bool:
    """Tell whether a mean would give counts away: few values differ, or all lie few steps from one end of the scale.

    From a sum of few steps it can be told how many lids are one, two or three steps away from the end.
    """
    n = exact(side.n)
    if not n:
        return False
    of_measure = rules.protocol.measure(measure)
    limits, step = rules.protocol.limits(of_measure), rules.protocol.value_field(of_measure).step or 1.0
    away = min(sum(lids * abs(value - end) for value, lids in side.counts) / step for end in limits)
    most = max(lids for _, lids in side.counts)
    return n - most < rules.threshold or away < STEPS * rules.threshold


def sides_of(finding: Finding) -> tuple[Share | Values, Share | Values]:
    """Both cohorts of a finding."""
    return finding.grafted, finding.advanced


def public_finding(finding: Finding, rules: Rules, risk: Risk) -> Finding:
    """One finding, with what its numbers would give away."""
    both = list(zip(sides_of(finding), rules.cases, rules.second_lids, strict=True))
    grafted, advanced = (_side(finding.measure, side, (whole, pairs), rules, risk) for side, whole, pairs in both)
    seen = all(safe_part(exact(side.n), whole, rules.threshold) for side, whole, _ in both)
    estimated = seen and (_whole_shares(finding, rules) if finding.is_share else risk != "mean")
    complete = estimated and (finding.is_share or risk == "none")
    notes = tuple(Note(each.id) for each in finding.notes if each.id in PUBLIC_NOTES)
    return Finding(
        finding.measure,
        finding.window,
        finding.outcome,
        finding.clock,
        grafted,
        advanced,
        _contrast(finding, rules, complete=complete) if estimated else without_numbers(finding.contrast),
        rounded_adjusted(finding.adjusted, decimals_of(finding, rules)) if estimated else None,
        verdict=finding.verdict if estimated else _verdict(finding),
        family=finding.family,
        q=upwards(finding.q) if estimated else None,
        important_difference=finding.important_difference,
        could_find=rounded(finding.could_find, decimals_of(finding, rules)) if estimated else None,
        withheld=finding.withheld if estimated else "public",
        notes=notes if complete else (*notes, SMALL),
    )


def _whole_shares(finding: Finding, rules: Rules) -> bool:
    return all(_safe_events(side, rules.threshold) for side in sides_of(finding) if isinstance(side, Share))


def decimals_of(finding: Finding, rules: Rules) -> int:
    """With how many decimals a difference is printed."""
    return rules.decimals(finding.measure) if finding.contrast.kind == "difference of means" else DECIMALS


def _side(measure: str, side: Share | Values, of: tuple[int, int], rules: Rules, risk: Risk) -> Share | Values:
    """One cohort of a finding, `of` so many lids with so many second ones."""
    whole, pairs = of
    n = public_count(exact(side.n), whole, rules.threshold)
    if isinstance(side, Share):
        return public_share(side, whole, pairs, rules)
    if not isinstance(n, int):
        return Values(n, None, None, None, None, None, None, None, None, None, ())
    middle = side.median if safe_middle(n, rules.threshold) else None
    quartiles = (side.q1, side.q3) if safe_quartiles(n, rules.threshold) else (None, None)
    mean = None if risk == "mean" else rounded(side.mean, rules.decimals(measure))
    return Values(n, None, None, None, None, mean, None, middle, *quartiles, ())


def public_share(side: Share, whole: int, pairs: int, rules: Rules) -> Share:
    """One cohort's share: of the lids seen, how many had a poor result, with limits that follow from these counts."""
    n = public_count(exact(side.n), whole, rules.threshold)
    if not isinstance(n, int):
        return Share(n, None, None, None, None, None, None, None, None)
    events = public_events(exact(side.events), n, rules.threshold)
    if not isinstance(events, int) or not n:
        return Share(n, None, None, None, None, events, None, None, None)
    found = share_limits(events / n, n, pairs, rules.level)
    shown = (hundredths(each) for each in (found.estimate, found.low, found.high))
    return Share(n, None, None, None, None, events, *shown)


def _contrast(finding: Finding, rules: Rules, *, complete: bool) -> Contrast:
    """The crude difference; where few had a poor result, only that of means, without interval and p."""
    shares = [side for side in sides_of(finding) if isinstance(side, Share)]
    if shares:
        grafted, advanced = ((exact(side.events) / (exact(side.n) or 1), exact(side.n)) for side in shares)
        return share_contrast(finding.contrast, (grafted, advanced), rules.second_lids, rules.level)
    decimals = decimals_of(finding, rules)
    if complete:
        return rounded_contrast(finding.contrast, decimals)
    bare = without_numbers(finding.contrast)
    return replace(bare, estimate=rounded(finding.contrast.estimate, decimals)) if finding.outcome == "main" else bare


def _verdict(finding: Finding) -> Verdict | None:
    """The verdict stays, unless it is about crude shares: then whoever tries each small count learns which ones agree with it."""
    return None if finding.is_share and finding.adjusted is None else finding.verdict


def second_lids(cases: int, patients: int, threshold: int) -> int:
    """How many lids are a patient's second ones, as far as an interval may show it."""
    second = cases - patients
    return second if safe(second, threshold) else threshold - 1
