"""The findings of a comparison as the public sees them: made anew from named fields, each small count as fewer than the threshold.

A finding is never left out for a small count. Where lids seen or not seen are few, it keeps its verdict alone. Where lids with a
poor result are few, or the interval of the crude difference would leave one way only in which the values can lie, a share keeps its
lids and its verdict; values keep their mean and the adjusted difference. Where the mean itself would single a count out, they keep
the middle values and the verdict.
Left out altogether: findings by the clock of operation, why lids were not seen, how many patients they belong to, what the
unseen could change, checks over other sets of lids, values lid by lid and their standard deviations.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Literal

from outcomes.findings.disclosure.alternatives import Scale, alternatives, leave_open
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
ContrastShown = Literal["all", "interval", "estimate", "nothing"]
Risk = Literal["none", "counts", "few_poor", "mean"]
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
OF_THE_DESIGN: frozenset[NoteId] = frozenset(
    ("not_adjusted", "no_overlap", "unseen", "masked", "no_important_difference")
)


def notes_beside_nothing(notes: Iterable[Note]) -> tuple[Note, ...]:
    """The notes that may stand where no number is shown: others follow from values, such as that all are equal."""
    return (*(Note(each.id) for each in notes if each.id in OF_THE_DESIGN), SMALL)


def public_notes(notes: Iterable[Note]) -> tuple[Note, ...]:
    """The notes that may leave, without the numbers they carry."""
    return tuple(Note(each.id) for each in notes if each.id in PUBLIC_NOTES)


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
    """What of these lids would give a small count away: nothing, all at once, the crude interval, or the mean already."""
    sides = [side for each in same for side in sides_of(each)]
    if any(_tells(side, same[0].measure, rules) for side in sides if isinstance(side, Values)):
        return "mean"
    shares = [side for side in sides if isinstance(side, Share)]
    few = not all(_safe_events(side, rules.threshold) for side in shares)
    of_means = next((each for each in same if each.outcome == "main" and not each.is_share), None)
    return (
        ("few_poor" if few else "none")
        if of_means is None
        else _risk_of_means(of_means, rules, judged=bool(shares), few=few)
    )


def _risk_of_means(finding: Finding, rules: Rules, *, judged: bool, few: bool) -> Risk:
    """What other values would print alike: with the interval too, without it, or none, so that the mean tells a count."""
    scale = scale_in(rules.protocol, finding.measure, judged=judged)
    counts = [side.counts for side in sides_of(finding) if isinstance(side, Values)]
    if not all(counts):
        return "few_poor" if few else "none"
    sides = alternatives(counts[0], scale), alternatives(counts[1], scale)
    if not any(each.has_small for each in sides):
        return "few_poor" if few else "none"
    if not few and leave_open(sides, finding.contrast, decimals_of(finding, rules)):
        return "counts"
    return "few_poor" if leave_open(sides, None, 0) else "mean"


def scale_in(protocol: Protocol, name: str, *, judged: bool) -> Scale:
    """What the values of a measure can be; where they are judged, which are poor."""
    measure = protocol.measure(name)
    step = protocol.value_field(measure).step or 1.0
    return Scale(*protocol.limits(measure), step, measure.poor if judged else None, protocol.rules.public_threshold)


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
    shown = _shown(finding, risk)
    judged = estimated and (shown == "all" or finding.adjusted is not None)
    return Finding(
        finding.measure,
        finding.window,
        finding.outcome,
        finding.clock,
        grafted,
        advanced,
        _contrast(finding, rules, shown) if estimated else without_numbers(finding.contrast),
        rounded_adjusted(finding.adjusted, decimals_of(finding, rules)) if estimated else None,
        verdict=finding.verdict if estimated else _verdict(finding),
        family=finding.family,
        q=upwards(finding.q) if judged else None,
        important_difference=finding.important_difference,
        could_find=rounded(finding.could_find, decimals_of(finding, rules)) if judged else None,
        withheld=finding.withheld if estimated else "public",
        notes=_notes(finding, shown) if estimated else notes_beside_nothing(finding.notes),
    )


def _shown(finding: Finding, risk: Risk) -> ContrastShown:
    """How much of the crude difference is printed, where anything is."""
    if finding.is_share or risk == "none":
        return "all"
    if finding.outcome != "main":
        return "nothing"
    return "interval" if risk == "counts" else "estimate"


def _notes(finding: Finding, shown: ContrastShown) -> tuple[Note, ...]:
    return (*public_notes(finding.notes), *(() if shown == "all" else (SMALL,)))


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


def _contrast(finding: Finding, rules: Rules, shown: ContrastShown) -> Contrast:
    """The crude difference, with as much of it as may be shown."""
    shares = [side for side in sides_of(finding) if isinstance(side, Share)]
    if shares:
        grafted, advanced = ((exact(side.events) / (exact(side.n) or 1), exact(side.n)) for side in shares)
        return share_contrast(finding.contrast, (grafted, advanced), rules.second_lids, rules.level)
    whole = rounded_contrast(finding.contrast, decimals_of(finding, rules))
    if shown == "all":
        return whole
    bare = without_numbers(finding.contrast)
    if shown == "nothing":
        return bare
    bare = replace(bare, estimate=whole.estimate)
    return bare if shown == "estimate" else replace(bare, low=whole.low, high=whole.high)


def _verdict(finding: Finding) -> Verdict | None:
    """The verdict stays, unless counts follow from it.

    Of crude shares whoever tries each small count learns which ones agree with it; and that there is no interval, though there
    are lids enough, says that all values are equal.
    """
    tells = (finding.is_share and finding.adjusted is None) or Note("no_interval") in finding.notes
    return None if tells else finding.verdict


def second_lids(cases: int, patients: int, threshold: int) -> int:
    """How many lids are a patient's second ones, as far as an interval may show it."""
    second = cases - patients
    return second if safe(second, threshold) else threshold - 1
