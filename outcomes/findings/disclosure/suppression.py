"""The comparison as the public sees it: every part is made anew from named fields, so that no later field can slip through.

Left out is what points at a person, or from which it could be worked back: counts from 1 to one less than the protocol's
threshold (a part of a whole also where the rest is so few), whatever is of single lids, curves and mean times, effective lids of
a finding, codes of persons and places. Every number is as precise as it is printed (rounding.py).

A selection that leaves out few lids is refused, as the whole would tell of those. Not covered: two public outputs of different
selections, or of different days, taken together.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby, pairwise

from outcomes.cohort import Choice
from outcomes.errors import DataRefused
from outcomes.findings.disclosure.counts import OTHER_LEVELS, public_balance, public_flow, safe, safe_part
from outcomes.findings.disclosure.public_findings import Rules, public_findings, second_lids
from outcomes.findings.disclosure.public_timing import public_timing
from outcomes.findings.disclosure.rounding import brief, hundredths
from outcomes.findings.families import summaries
from outcomes.findings.results import (
    Adjustment,
    BalanceLine,
    Caution,
    Comparison,
    Fact,
    FlowStep,
    Group,
    Stamp,
)
from outcomes.protocol import Protocol

CODES = {"sites", "surgeons"}
FILTERS = {"operated_from", "operated_to", "diagnoses", *CODES}


def public(comparison: Comparison, protocol: Protocol) -> Comparison:
    """The comparison without anything that points at a person. Raises DataRefused when a cohort is too small, or what was left out."""
    threshold = protocol.rules.public_threshold
    groups = (comparison.grafted, comparison.advanced)
    if not all(safe(group.cases, threshold) for group in groups):
        raise DataRefused(
            f"a cohort has fewer than {threshold} lids, so nothing of this comparison can be made public", []
        )
    _refuse_small_differences(comparison.flow, threshold)
    rules = rules_of(comparison, protocol)
    findings, timing = public_findings(comparison.findings, rules), public_timing(comparison.timing, rules)
    return Comparison(
        stamp=_stamp(comparison.stamp, threshold),
        grafted=_group(comparison.grafted, threshold),
        advanced=_group(comparison.advanced, threshold),
        flow=tuple(step_without_codes(step) for step in public_flow(comparison.flow, rules.cases, threshold)),
        balance=_coded(public_balance(comparison.balance, rules.cases, threshold), protocol),
        adjustment=_adjustment(comparison.adjustment),
        findings=findings,
        timing=timing,
        curves=(),
        means=(),
        followed=(),
        followed_by_window=(),
        level="public",
        families=summaries(protocol, findings, timing),
        warnings=(_left_out(threshold), *map(_general, comparison.warnings)),
    )


def _refuse_small_differences(flow: tuple[FlowStep, ...], threshold: int) -> None:
    """Raise DataRefused where the filters leave out few lids: a report without the filters would tell what became of those."""
    at = [place for place, step in enumerate(flow) if step.id in FILTERS]
    if not at:
        return
    chain = flow[max(at[0] - 1, 0) : at[-1] + 1]
    for one, other in (*pairwise(chain), (chain[0], chain[-1])):
        if not safe(one.grafted - other.grafted, threshold) or not safe(one.advanced - other.advanced, threshold):
            raise DataRefused(
                f"these filters leave out fewer than {threshold} lids of a cohort, so that a report without them would tell what "
                "became of those; leave a filter out, or choose so that none or more are left out",
                [],
            )


def rules_of(comparison: Comparison, protocol: Protocol) -> Rules:
    """What decides what is safe in this comparison."""
    threshold = protocol.rules.public_threshold
    grafted, advanced = (
        second_lids(group.cases, group.patients or group.cases, threshold)
        for group in (comparison.grafted, comparison.advanced)
    )
    return Rules(protocol, (comparison.grafted.cases, comparison.advanced.cases), (grafted, advanced))


def _group(group: Group, threshold: int) -> Group:
    """One cohort: counts that point at nobody, times in whole months, assessors by number."""
    reviews, masked = group.reviews or 0, group.masked_reviews or 0
    by_each = [count for _, count in group.assessors]
    safe_each = all(safe(count, threshold) for count in by_each) and safe_part(sum(by_each), reviews, threshold)
    return Group(
        cases=group.cases,
        patients=_if_safe(group.patients, group.cases, threshold),
        divided=_if_safe(group.divided, group.cases, threshold),
        median_followup_months=_whole(group.median_followup_months),
        followup_low=_whole(group.followup_low),
        followup_high=_whole(group.followup_high),
        followup_completeness=hundredths(group.followup_completeness),
        assessors=tuple((f"assessor {place}", count) for place, count in enumerate(by_each, 1)) if safe_each else (),
        masked_reviews=masked if safe_part(masked, reviews, threshold) else None,
        reviews=reviews,
    )


def _if_safe(part: int | None, whole: int, threshold: int) -> int | None:
    return part if part is not None and safe_part(part, whole, threshold) else None


def _whole(number: float | None) -> float | None:
    return None if number is None else float(round(number))


def _adjustment(adjustment: Adjustment) -> Adjustment:
    return Adjustment(
        adjustment.estimable,
        adjustment.covariates,
        adjustment.left_out,
        adjustment.surgeons,
        effective_n_grafted=_whole(adjustment.effective_n_grafted),
        effective_n_advanced=_whole(adjustment.effective_n_advanced),
        why_not=adjustment.why_not,
    )


def _coded(lines: tuple[BalanceLine, ...], protocol: Protocol) -> tuple[BalanceLine, ...]:
    """The lines as precise as they are printed, without codes of persons or places."""
    return tuple(_line(each, each.level) for each in coded_levels(lines, protocol))


def coded_levels(lines: tuple[BalanceLine, ...], protocol: Protocol) -> tuple[BalanceLine, ...]:
    """The lines with levels that are codes of persons or places by number, the largest first."""
    numbers = code_numbers(lines, protocol)
    coded = {field for field, _ in numbers}
    shown: list[BalanceLine] = []
    for name, group in groupby(lines, key=lambda line: line.field):
        of_field = list(group)
        if name in coded:
            of_field.sort(key=_largest_first)
        shown.extend(replace(line, level=numbers.get((name, line.level), line.level)) for line in of_field)
    return tuple(shown)


def code_numbers(lines: tuple[BalanceLine, ...], protocol: Protocol) -> dict[tuple[str, str], str]:
    """What stands for each code of a person or a place, by its field and itself: its number, the largest first."""
    numbers: dict[tuple[str, str], str] = {}
    for each in protocol.characteristics:
        if each.levels_of and _is_code(each.levels_of, protocol):
            of_field = sorted((line for line in lines if line.field == each.id), key=_largest_first)
            codes = [line.level for line in of_field if line.level != OTHER_LEVELS]
            numbers |= {(each.id, code): f"{each.label.lower()} {place}" for place, code in enumerate(codes, 1)}
    return numbers


def _largest_first(line: BalanceLine) -> tuple[bool, float, str]:
    return line.level == OTHER_LEVELS, -(line.grafted or 0) - (line.advanced or 0), line.level


def _line(line: BalanceLine, level: str) -> BalanceLine:
    return BalanceLine(
        line.field,
        line.label,
        level,
        line.unit,
        grafted=line.grafted if level else brief(line.grafted),
        advanced=line.advanced if level else brief(line.advanced),
        grafted_spread=brief(line.grafted_spread),
        advanced_spread=brief(line.advanced_spread),
        grafted_known=line.grafted_known,
        advanced_known=line.advanced_known,
        grafted_missing=line.grafted_missing,
        advanced_missing=line.advanced_missing,
        smd=hundredths(line.smd),
        smd_adjusted=hundredths(line.smd_adjusted),
        adjusted_for=line.adjusted_for,
        consequence=line.consequence,
        note=line.note,
    )


def _is_code(name: str, protocol: Protocol) -> bool:
    return any(field.id == name and field.kind == "code" for field in protocol.fields)


def _stamp(stamp: Stamp, threshold: int) -> Stamp:
    return Stamp(
        cases=stamp.cases,
        digest=stamp.digest,
        frozen=stamp.frozen,
        as_of=stamp.as_of,
        software=stamp.software,
        protocol=stamp.protocol,
        fingerprint=stamp.fingerprint,
        selection=tuple(map(choice_without_codes, stamp.selection)),
        suppressed_below=threshold,
        protocol_lacks=stamp.protocol_lacks,
    )


def choice_without_codes(choice: Choice) -> Choice:
    """What was chosen, without the codes of surgeons and sites."""
    return Choice(choice.id, (f"{len(choice.values)} chosen",) if choice.id in CODES else choice.values)


def step_without_codes(step: FlowStep) -> FlowStep:
    """The step without the codes of surgeons and sites that were chosen."""
    label = f"{step.label.count(',') + 1} chosen" if step.id in CODES else step.label
    return FlowStep(step.id, step.grafted, step.advanced, step.lost, label, step.window)


def _general(caution: Caution) -> Caution:
    """A caution without the counts, shares and names from which others could be worked back."""
    bare = all(not fact.numbers and not fact.labels for fact in caution.facts)
    return caution if bare else Caution(caution.code, (Fact("in_general"),))


def _left_out(threshold: int) -> Caution:
    return Caution("public", (Fact("suppressed", numbers=(threshold - 1,)),))
