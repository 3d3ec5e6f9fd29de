"""The tables of checks: the main differences again with one thing done differently, and what the lids not seen could change."""

from __future__ import annotations

from outcomes.findings.results import CheckId, Comparison, Finding, UncheckedReason
from outcomes.protocol import COHORTS, Protocol
from outcomes.report import formats
from outcomes.report.finding_index import finding_place, main_outcomes, other_differences
from outcomes.report.finding_words import CHECKS
from outcomes.report.sentences import (
    check_place,
    from_to,
    judged_part,
    measure_with_unit,
    signed_change,
    size_of,
    unit_words,
    with_interval,
)
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import ABSENT_CELL, Phrase, say

CHECKS_NOTE = (
    "Each is the adjusted difference again, advanced minus grafted, with its interval and one thing done differently. "
    "A revised lid that counts as poor is given a value no better than the limit of a poor result. Within surgeons, among those who did "
    "both covers, is left out where all did and the surgeon is adjusted for: that is the main analysis itself. Weighted for being "
    "measured: by the inverse chance of being measured."
)
UNCHECKED: dict[UncheckedReason, str] = {
    "none_masked": "no masked grading",
    "all_masked": "all gradings are masked",
    "few_masked": "too few masked gradings",
    "no_overlap": "the covers do not overlap",
}
UNSEEN_NOTE = (
    "To reach zero: how many of the lids not measured with the cover that had the better result would have to have a poor result, or by "
    "how much they would have to be worse on average than those measured, for the interval to reach zero. To reach what matters: of an "
    "interval that lies within the smallest difference that matters, by how much the difference would have to be off, and by how much "
    "the lids not measured with the cover named would have to be worse than those measured. If all unseen were worst or "
    "best: the ends of the crude difference if every lid not measured had the worst result with one cover and the best with the other."
)


def checked(comparison: Comparison, protocol: Protocol) -> tuple[Finding, ...]:
    """The findings whose checks are shown: the main measures, and further planned ones with a difference."""
    findings = (*main_outcomes(comparison, protocol), *other_differences(comparison, protocol))
    return tuple(each for each in findings if each.judged.estimate is not None)


def checks_shown(findings: tuple[Finding, ...]) -> tuple[CheckId, ...]:
    """The checks that were made of any of the findings, or of which it is known why they were not, in their order."""
    left_out = {each.id for finding in findings for each in finding.unchecked}
    return tuple(name for name in CHECKS if name in left_out or any(each.check(name) for each in findings))


def checks_made(findings: tuple[Finding, ...]) -> tuple[CheckId, ...]:
    """The checks that were made of any of the findings, in their order."""
    return tuple(name for name in CHECKS if any(each.check(name) for each in findings))


def sensitivity_table(comparison: Comparison, protocol: Protocol) -> Table:
    """The adjusted differences again, one check a row and one measure a column."""
    findings = checked(comparison, protocol)
    columns = (
        Column("check", "Analysis"),
        *(Column(each.measure, protocol.measure(each.measure).label, "right") for each in findings),
    )
    units = Row((("Unit",), *((unit_words(each, protocol),) for each in findings)))
    main = Row((("Main analysis",), *(_main(each, protocol) for each in findings)))
    rows = tuple(
        Row(((CHECKS[name],), *(_check(each, name, protocol) for each in findings))) for name in checks_shown(findings)
    )
    held = (units, main, *rows) if findings else ()
    return Table("checks", "The differences checked in other ways", columns, held, ((CHECKS_NOTE,),))


def _main(finding: Finding, protocol: Protocol) -> Phrase:
    return with_interval(finding_place(finding), judged_part(finding), signed_change(finding, protocol))


def _check(finding: Finding, name: CheckId, protocol: Protocol) -> Phrase:
    place, change = check_place(finding, name), signed_change(finding, protocol)
    if not place.holds("estimate"):
        return (next((UNCHECKED[each.reason] for each in finding.unchecked if each.id == name), ABSENT_CELL),)
    ends = [place.figure(end, change) if place.holds(end) else "" for end in ("low", "high")]
    between = (" (", ends[0], " to ", ends[1], ")") if all(ends) else (" (no interval)",)
    return (place.figure("estimate", change), *between)


def unseen_table(comparison: Comparison, protocol: Protocol) -> Table:
    """What the lids that were due and not measured could change of each main difference."""
    columns = (
        Column("measure", "Measure"),
        *(Column(f"{cohort}_missing", cohort.capitalize(), "right", "Due, not measured") for cohort in COHORTS),
        Column("adjusted", "Adjusted difference (interval)", "right"),
        Column("tipping", "To reach zero", "right"),
        Column("margin", "To reach what matters", "right"),
        Column("worst", "If all unseen were worst or best", "right"),
        Column("e_value", "E-value (limit)", "right"),
    )
    rows = tuple(
        Row(_unseen_cells(each, protocol))
        for each in checked(comparison, protocol)
        if each.grafted.missing is not None and each.advanced.missing is not None
    )
    return Table("unseen", "What the lids not measured could change", columns, rows, ((UNSEEN_NOTE,), (E_VALUE_NOTE,)))


E_VALUE_NOTE = (
    "E-value: how strongly something unrecorded would have to be associated both with the choice of cover and with the result, as a risk "
    "ratio, to explain the difference away; in brackets the same for the end of the interval nearest to zero (VanderWeele & Ding 2017)."
)


def _unseen_cells(finding: Finding, protocol: Protocol) -> tuple[Phrase, ...]:
    place, change = finding_place(finding), signed_change(finding, protocol)
    missing = ((place.figure(f"{cohort}.missing", formats.count),) for cohort in COHORTS)
    worst = from_to(place, "unseen.worst_case", change) if place.holds("unseen.worst_case.low") else (ABSENT_CELL,)
    return (
        (measure_with_unit(finding, protocol),),
        *missing,
        _main(finding, protocol),
        _tipping(finding, protocol),
        _margin(finding, protocol),
        worst,
        _e_value(finding),
    )


def _tipping(finding: Finding, protocol: Protocol) -> Phrase:
    place = finding_place(finding)
    if place.holds("unseen.tipping_shift"):
        return (place.figure("unseen.tipping_shift", size_of(finding, protocol)), " worse")
    if place.holds("unseen.tipping_lids"):
        return (place.figure("unseen.tipping_lids", formats.count), " lids poor")
    return (ABSENT_CELL,)


def _margin(finding: Finding, protocol: Protocol) -> Phrase:
    place, written = finding_place(finding), size_of(finding, protocol)
    if not place.holds("unseen.margin_bias"):
        return (ABSENT_CELL,)
    bias = say("{} off", place.figure("unseen.margin_bias", written))
    if not place.holds("unseen.margin_shift"):
        return bias
    return say(
        "{}, or {} {} worse", bias, finding.unseen.margin_cohort or "", place.figure("unseen.margin_shift", written)
    )


def _e_value(finding: Finding) -> Phrase:
    place = finding_place(finding)
    if not place.holds("adjusted.e_value"):
        return (ABSENT_CELL,)
    value = place.figure("adjusted.e_value", formats.decimal)
    if not place.holds("adjusted.e_value_limit"):
        return (value,)
    return (value, " (", place.figure("adjusted.e_value_limit", formats.decimal), ")")
