"""What of a comparison may leave the clinic?

Everything that points at a person, or from which it could be worked back, is left out:

- a finding goes whole when, in either cohort, the lids seen or not seen, or those with or without a poor result, number from
  1 to one less than the protocol's threshold. Where only the poor results are so few, the middle value of the same lids
  stays, without anything that is made from each single value (difference, interval, p value);
- why lids were not seen is never told (missing, not yet due, not applicable), nor how many patients they belong to, so that
  no count can be had by taking one from another across measures and windows; the bounds for the missing go with them;
- checks, which are contrasts over other sets of lids, go, and so does what the unseen could change;
- means and standard deviations go, and differences of means are rounded to hundredths: from all their digits sums could be had;
- values lid by lid, curves, mean times and the follow-up of single cases go, and with them every picture of single lids;
- moments and steps between which fewer than the threshold differ are thinned out; levels with few lids are put together;
- p values are rounded up to hundredths and times to whole months; surgeons and assessors get numbers.

Not covered: two public outputs of different selections, or of different days, taken together.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import groupby

from outcomes.cohort import Choice
from outcomes.errors import DataRefused
from outcomes.findings.disclosure.counts import (
    public_balance,
    public_flow,
    public_moments,
    safe,
    safe_events,
    safe_middle,
    safe_part,
    safe_quartiles,
    safe_seen,
)
from outcomes.findings.results import (
    Adjusted,
    BalanceLine,
    Caution,
    Comparison,
    Contrast,
    Finding,
    FlowStep,
    Group,
    Note,
    Share,
    Stamp,
    TimedFinding,
    TimedShare,
    Values,
)
from outcomes.protocol import Protocol

PUBLIC = "public"
SHARES = {"difference of proportions", "difference of cumulative incidence", "difference of cumulative share"}
_CODES = {"sites", "surgeons"}
_GENERAL = {
    "too_few": "Too few lids of a cover were seen in the primary window for some measures. Nothing can be said of these.",
    "follow_up_differs": "The covers were not followed alike, so a difference may be due to who came back.",
    "single_assessor": "One person made most of the reviews: how far another would agree is not known.",
    "missing_could_reverse": "Lids that were due and not measured could reverse the difference in some measures.",
    "clock_matters": "Counting from the operation instead of from division changes what is seen in some measures: the covers are "
    "divided at different times.",
    "clustered": "Some patients have two lids in the series: these are not independent, and every interval allows for it.",
    "converted": "In some lids the cover was not the one planned; the cohorts go by what was done.",
}


def public(comparison: Comparison, protocol: Protocol) -> Comparison:
    """The comparison without anything that points at a person. Raises DataRefused when a cohort itself is too small."""
    threshold = protocol.rules.public_threshold
    cases = (comparison.grafted.cases, comparison.advanced.cases)
    if not all(safe(count, threshold) for count in cases):
        raise DataRefused(
            f"a cohort has fewer than {threshold} lids, so nothing of this comparison can be made public", []
        )
    findings = _findings(comparison.findings, cases, threshold)
    timing = _timing(comparison.timing, cases, threshold)
    flow = public_flow(comparison.flow, cases, threshold)
    return Comparison(  # made anew from what is named here, so that nothing else can ever slip through
        stamp=_stamp(comparison.stamp, threshold),
        grafted=_group(comparison.grafted, threshold),
        advanced=_group(comparison.advanced, threshold),
        flow=tuple(_step_without_codes(step) for step in flow),
        balance=_coded(public_balance(comparison.balance, cases, threshold), protocol),
        adjustment=comparison.adjustment,
        findings=findings,
        timing=timing,
        curves=(),
        means=(),
        followed=(),
        followed_by_window=(),
        level="public",
        families=comparison.families,
        warnings=(_told(comparison, findings, timing, threshold), *map(_general, comparison.warnings)),
    )


def _findings(found: tuple[Finding, ...], cases: tuple[int, int], threshold: int) -> tuple[Finding, ...]:
    seen = [each for each in found if safe_seen(each, cases, threshold)]
    few = {_lids(each) for each in seen if not safe_events(each, threshold)}
    kept = [each for each in seen if _lids(each) not in few or _middle_stays(each, threshold)]
    kept = [each for each in kept if each.is_share or _middle_stays(each, threshold)]
    return tuple(_finding(each, threshold, whole=_lids(each) not in few) for each in kept)


def _lids(finding: Finding) -> tuple[str, str, str]:
    """Which lids a finding is about: its poor results and its values are of the same ones."""
    return finding.measure, finding.window, finding.clock


def _middle_stays(finding: Finding, threshold: int) -> bool:
    return not finding.is_share and all(safe_middle(side, threshold) for side in (finding.grafted, finding.advanced))


def _finding(finding: Finding, threshold: int, *, whole: bool) -> Finding:
    """The finding made anew: with its contrasts where its counts are given, else its middle values alone."""
    public_finding = Finding(
        finding.measure,
        finding.window,
        finding.outcome,
        finding.clock,
        _side(finding.grafted, threshold),
        _side(finding.advanced, threshold),
        Contrast(finding.contrast.kind, None, None, None),
        None,
        family=finding.family,
        withheld="public",
        notes=(Note("public"),),
    )
    if not whole:
        return public_finding
    return replace(
        public_finding,
        contrast=_rounded(finding.contrast),
        adjusted=_rounded_adjusted(finding.adjusted),
        verdict=finding.verdict,
        q=_up(finding.q),
        important_difference=finding.important_difference,
        could_find=_hundredth(finding.could_find),
        withheld=finding.withheld,
        notes=tuple(note for note in finding.notes if note.number is None and not note.label),
    )


def _side(side: Share | Values, threshold: int) -> Share | Values:
    if isinstance(side, Share):
        return replace(side, missing=None, not_due=None, not_applicable=None, patients=None)
    bare = replace(side, missing=None, not_due=None, not_applicable=None, patients=None, mean=None, sd=None, counts=())
    return bare if safe_quartiles(side, threshold) else replace(bare, q1=None, q3=None)


def _rounded(contrast: Contrast) -> Contrast:
    """P values rounded up to hundredths: from all its digits, an exact one could be turned back into counts."""
    ends = (contrast.estimate, contrast.low, contrast.high)
    estimate, low, high = ends if contrast.kind in SHARES else (_hundredth(end) for end in ends)
    p, permutation_p, p_corrected = (_up(p) for p in (contrast.p, contrast.permutation_p, contrast.p_corrected))
    return Contrast(contrast.kind, estimate, low, high, p, permutation_p, p_corrected)


def _rounded_adjusted(adjusted: Adjusted | None) -> Adjusted | None:
    """The adjusted difference in hundredths, and its p values as those of the crude one."""
    if adjusted is None:
        return None
    estimate, low, high = (_hundredth(end) for end in (adjusted.estimate, adjusted.low, adjusted.high))
    return Adjusted(adjusted.kind, adjusted.method, estimate, low, high, _up(adjusted.p), _up(adjusted.p_corrected))


def _hundredth(number: float | None) -> float | None:
    return None if number is None else round(number, 2)


def _up(p: float | None) -> float | None:
    return None if p is None else min(1.0, max(1, math.ceil(round(100 * p, 6))) / 100)


def _timing(timed: tuple[TimedFinding, ...], cases: tuple[int, int], threshold: int) -> tuple[TimedFinding, ...]:
    told: list[TimedFinding] = []
    for _, of_one in groupby(timed, key=lambda finding: (finding.event, finding.method)):
        told.extend(public_moments(list(of_one), cases, threshold))
    return tuple(map(_moment, told))


def _moment(finding: TimedFinding) -> TimedFinding:
    return TimedFinding(
        finding.event,
        finding.method,
        finding.clock,
        finding.at_months,
        _timed_side(finding.grafted),
        _timed_side(finding.advanced),
        _rounded(finding.contrast),
        _rounded_adjusted(finding.adjusted),
        p_curve=None if finding.p_curve is None else _rounded(finding.p_curve),
        q=_up(finding.q),
        verdict=finding.verdict,
        withheld=finding.withheld,
        notes=tuple(note for note in finding.notes if note.number is None and not note.label),
    )


def _timed_side(side: TimedShare) -> TimedShare:
    return TimedShare(side.n, side.events, side.estimate, side.low, side.high, due=None, lost=None)


def _group(group: Group, threshold: int) -> Group:
    """One cohort: counts that point at nobody, times in whole months, assessors by number."""
    reviews, masked = group.reviews or 0, group.masked_reviews or 0
    by_each = [count for _, count in group.assessors]
    told = all(safe(count, threshold) for count in by_each) and safe_part(sum(by_each), reviews, threshold)
    return replace(
        group,
        patients=_if_safe(group.patients, group.cases, threshold),
        divided=_if_safe(group.divided, group.cases, threshold),
        median_followup_months=_whole(group.median_followup_months),
        followup_low=_whole(group.followup_low),
        followup_high=_whole(group.followup_high),
        followup_completeness=None if group.followup_completeness is None else round(group.followup_completeness, 2),
        assessors=tuple((f"assessor {place}", count) for place, count in enumerate(by_each, 1)) if told else (),
        masked_reviews=masked if safe_part(masked, reviews, threshold) else None,
    )


def _if_safe(part: int | None, whole: int, threshold: int) -> int | None:
    return part if part is not None and safe_part(part, whole, threshold) else None


def _whole(months: float | None) -> float | None:
    return None if months is None else float(round(months))


def _coded(lines: tuple[BalanceLine, ...], protocol: Protocol) -> tuple[BalanceLine, ...]:
    """Levels that are codes of persons or places by number, the largest first."""
    coded = {
        each.id: each.label
        for each in protocol.characteristics
        if each.levels_of and _is_code(each.levels_of, protocol)
    }
    told: list[BalanceLine] = []
    for name, group in groupby(lines, key=lambda line: line.field):
        of_field = list(group)
        if name in coded:
            of_field.sort(key=lambda line: (bool(line.note), -(line.grafted or 0) - (line.advanced or 0), line.level))
            of_field = [
                line if line.note else replace(line, level=f"{coded[name].lower()} {place}")
                for place, line in enumerate(of_field, 1)
            ]
        told.extend(of_field)
    return tuple(told)


def _is_code(name: str, protocol: Protocol) -> bool:
    return any(field.id == name and field.kind == "code" for field in protocol.fields)


def _stamp(stamp: Stamp, threshold: int) -> Stamp:
    return replace(stamp, selection=tuple(map(_without_codes, stamp.selection)), suppressed_below=threshold)


def _without_codes(choice: Choice) -> Choice:
    """What was chosen, without the codes of surgeons and sites."""
    return replace(choice, values=(f"{len(choice.values)} chosen",)) if choice.id in _CODES else choice


def _step_without_codes(step: FlowStep) -> FlowStep:
    return replace(step, label=f"{step.label.count(',') + 1} chosen") if step.id in _CODES else step


def _general(caution: Caution) -> Caution:
    """A caution without the counts and shares from which others could be worked back."""
    text = _GENERAL.get(caution.code, caution.text)
    return replace(caution, text=text if caution.code in _GENERAL or not re.search(r"\d", text) else _OTHERWISE)


_OTHERWISE = "There is more to know before believing a figure; the clinic's own report tells it."


def _told(
    comparison: Comparison, findings: tuple[Finding, ...], timing: tuple[TimedFinding, ...], threshold: int
) -> Caution:
    gone = len(comparison.findings) - len(findings) + len(comparison.timing) - len(timing)
    return Caution(
        PUBLIC,
        f"Made for the public: counts from 1 to {threshold - 1} are left out, and with them {gone} results from which such a count "
        "could be worked back. What is left out is not nought. How many lids were missing, and what they could have "
        "changed, is told in the clinic's own report only.",
    )
