"""The tables of case order, of each surgeon's own difference, and of calendar time; all of them explore."""

from __future__ import annotations

from outcomes.findings.results import Comparison, Finding, LearningCourse
from outcomes.protocol import COHORTS, Protocol
from outcomes.report import formats
from outcomes.report.finding_index import main_outcomes
from outcomes.report.finding_words import COVERS
from outcomes.report.formats import Written
from outcomes.report.sentences import measure_with_unit, signed_change
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import ABSENT_CELL, Phrase, Place, say

LEARNING_WORDS = (
    "Mean of the lids measured at the main review, smoothed over the order of operation among the lids of each cover, with its interval "
    "at each place (a natural cubic spline with three knots). It explores and gives no verdict: it is not adjusted, and a mean that "
    "changes with the order may be due to learning, to other patients, or to chance."
)
SURGEONS_WORDS = (
    "The adjusted difference, advanced minus grafted, among the lids of each surgeon who did both covers often enough, from one model that "
    "adjusts for the characteristics of the main analysis. It explores and gives no verdict: with so few lids each, surgeons differ by "
    "chance alone."
)
CALENDAR_WORDS = (
    "By how much the adjusted difference, advanced minus grafted, changed with each later year of operation. It explores and gives no "
    "verdict: an interval that holds zero does not show that the difference stayed the same, and none of the p values is corrected."
)


def learning_table(comparison: Comparison, protocol: Protocol) -> Table:
    """The smoothed mean of each main measure at the first, the middle and the last place in the order of each cover."""
    columns = (
        Column("cover", "Cover"),
        Column("lids", "Lids", "right"),
        *(
            Column(f"{name}_{part}", label, "right", f"{name.capitalize()} lid measured")
            for name in ("first", "middle", "last")
            for part, label in (("place", "Place"), ("mean", "Smoothed mean (interval)"))
        ),
    )
    findings = _findings(comparison, protocol)
    rows = tuple(
        _course_row(Place(f"learning.{at}", course), findings[course.measure], protocol)
        for at, course in enumerate(comparison.learning)
    )
    return Table("learning", "Main measures over the order of cases", columns, rows, ((LEARNING_WORDS,),))


def _findings(comparison: Comparison, protocol: Protocol) -> dict[str, Finding]:
    return {each.measure: each for each in main_outcomes(comparison, protocol)}


def _course_row(place: Place, finding: Finding, protocol: Protocol) -> Row:
    course: LearningCourse = place.held
    field = protocol.value_field(protocol.measure(finding.measure))
    written = formats.percent if finding.is_share else formats.mean_of(field)
    cells: list[Phrase] = [
        (COVERS[course.cohort],),
        (place.figure("n", formats.count),),
    ]
    for at in (0, len(course.points) // 2, len(course.points) - 1):
        point = Place(f"{place.id}.points.{at}", course.points[at])
        cells += [(point.figure("case", formats.count),), _estimate(point, written)]
    return Row(tuple(cells), band=measure_with_unit(finding, protocol))


def _estimate(place: Place, written: Written) -> Phrase:
    return say("{} ({} to {})", *(place.figure(name, written) for name in ("estimate", "low", "high")))


def surgeons_table(comparison: Comparison, protocol: Protocol) -> Table:
    """The adjusted difference of each main measure among the lids of each surgeon who did both covers."""
    findings = _findings(comparison, protocol)
    columns = (
        Column("surgeon", "Surgeon"),
        *(Column(f"{cohort}_lids", COVERS[cohort], "right", "Lids measured") for cohort in COHORTS),
        Column("difference", "Adjusted difference (interval)", "right"),
    )
    rows = tuple(
        _surgeon_row(Place(f"surgeons.{at}", each), findings[each.measure], protocol)
        for at, each in enumerate(comparison.surgeons)
    )
    return Table("surgeons", "The difference of each surgeon", columns, rows, ((SURGEONS_WORDS,),))


def _surgeon_row(place: Place, finding: Finding, protocol: Protocol) -> Row:
    counts = ((place.figure(cohort, formats.count),) for cohort in COHORTS)
    difference = _estimate(place, signed_change(finding, protocol))
    return Row(((place.held.surgeon,), *counts, difference), band=measure_with_unit(finding, protocol))


def calendar_table(comparison: Comparison, protocol: Protocol) -> Table:
    """The change of each main difference with a year of operation."""
    columns = (
        Column("measure", "Measure"),
        Column("change", "Change of the difference a year (interval)", "right"),
        Column("p", "p", "right"),
    )
    findings = _findings(comparison, protocol)
    rows = tuple(
        _trend_row(Place(f"calendar.{at}", each), findings[each.measure], protocol)
        for at, each in enumerate(comparison.calendar)
    )
    return Table("calendar", "The differences over calendar time", columns, rows, ((CALENDAR_WORDS,),))


def _trend_row(place: Place, finding: Finding, protocol: Protocol) -> Row:
    p = (place.figure("p", formats.p_value),) if place.holds("p") else (ABSENT_CELL,)
    return Row(((measure_with_unit(finding, protocol),), _estimate(place, signed_change(finding, protocol)), p))
