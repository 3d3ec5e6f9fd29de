"""What of a comparison is shown at each level: to the clinic's own eyes, in a journal, to the public."""

from __future__ import annotations

from dataclasses import replace

from outcomes.findings.disclosure.microdata import SharedData
from outcomes.findings.disclosure.rounding import DECIMALS, without_numbers
from outcomes.findings.disclosure.study_facts import public_congress
from outcomes.findings.disclosure.suppression import (
    choice_without_codes,
    code_numbers,
    coded_levels,
    public,
    step_without_codes,
)
from outcomes.findings.results import (
    Comparison,
    Finding,
    Group,
    LearningCourse,
    LearningPoint,
    Level,
    Note,
    Share,
    SurgeonDifference,
    Unseen,
    Values,
    exact,
)
from outcomes.findings.study_facts import Congress, stages
from outcomes.protocol import Protocol

LEAST_SUMMARISED = 3  # a mean of two tells each of them the other's value: common practice, no source
LEAST_ON_A_COURSE = 20


def at_level(comparison: Comparison, protocol: Protocol, level: Level) -> Comparison:
    """The comparison as it is shown at the level. Raises DataRefused when a cohort is too small to be made public."""
    if level == "public":
        return public(comparison, protocol)
    return journal(comparison, protocol) if level == "journal" else comparison


def facts_at(level: Level, facts: Congress, comparison: Comparison, protocol: Protocol) -> Congress:
    """What a paper says beside the comparison at the level; the comparison is that of the level already."""
    if level == "public":
        return public_congress(facts, comparison, protocol)
    return replace(facts, stages=stages(comparison)) if level == "journal" else facts


def journal(comparison: Comparison, protocol: Protocol) -> Comparison:
    """The comparison with counts of any size, without anything of single lids and without codes of persons and places."""
    return replace(
        comparison,
        grafted=_without_codes(comparison.grafted),
        advanced=_without_codes(comparison.advanced),
        stamp=replace(comparison.stamp, selection=tuple(map(choice_without_codes, comparison.stamp.selection))),
        flow=tuple(map(step_without_codes, comparison.flow)),
        balance=coded_levels(comparison.balance, protocol),
        findings=tuple(_without_single_values(each, protocol) for each in comparison.findings),
        surgeons=_surgeons_by_number(comparison, protocol),
        learning=tuple(_as_printed(each) for each in comparison.learning if each.n >= LEAST_ON_A_COURSE),
        followed=(),
        courses=(),
        queries=(),
        level="journal",
    )


def _without_codes(group: Group) -> Group:
    numbered = ((f"assessor {at}", reviews) for at, (_, reviews) in enumerate(group.assessors, start=1))
    return replace(group, assessors=tuple(numbered))


def _surgeons_by_number(comparison: Comparison, protocol: Protocol) -> tuple[SurgeonDifference, ...]:
    """The differences of the surgeons, each by the number that the surgeon has in the baseline table; without one, left out."""
    adjusted = {each.id for each in protocol.characteristics if each.adjust}
    numbers = {
        code: number
        for (field, code), number in code_numbers(comparison.balance, protocol).items()
        if field in adjusted
    }
    return tuple(
        replace(each, surgeon=numbers[each.surgeon]) for each in comparison.surgeons if each.surgeon in numbers
    )


def _without_single_values(finding: Finding, protocol: Protocol) -> Finding:
    """Grades are counted in any table; of measured values only what summarises them is kept, where they are enough for that."""
    if protocol.value_field(protocol.measure(finding.measure)).levels:
        return finding
    sides = finding.grafted, finding.advanced
    if any(isinstance(side, Values) and 0 < exact(side.n) < LEAST_SUMMARISED for side in sides):
        finding = replace(
            finding,
            contrast=without_numbers(finding.contrast),
            adjusted=None,
            unseen=Unseen(),
            checks=(),
            could_find=None,
            notes=tuple(dict.fromkeys((*finding.notes, Note("few_lids", LEAST_SUMMARISED)))),
        )
    return replace(finding, grafted=_summarised(finding.grafted), advanced=_summarised(finding.advanced))


def _summarised(side: Share | Values) -> Share | Values:
    if isinstance(side, Share):
        return side
    if 0 < exact(side.n) < LEAST_SUMMARISED:
        side = replace(side, mean=None, sd=None, median=None, q1=None, q3=None)
    return replace(side, counts=())


def _as_printed(course: LearningCourse) -> LearningCourse:
    """The course of two decimals: from all digits the value of each lid in its order could be worked back."""
    points = (
        LearningPoint(each.case, *(round(number, DECIMALS) for number in (each.estimate, each.low, each.high)))
        for each in course.points
    )
    return replace(course, points=tuple(points))


def shared_at(level: Level, shared: SharedData) -> SharedData:
    """The rows for other researchers at the level: none beside a journal's counts, from which lids could be told apart."""
    return SharedData(shared.k_required, "journal") if level == "journal" and shared.tables else shared
