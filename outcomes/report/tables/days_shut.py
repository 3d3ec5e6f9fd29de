"""The table of days with the eye shut."""

from __future__ import annotations

from outcomes.findings.days_shut import CohortDaysShut, DaysShut
from outcomes.protocol import COHORTS
from outcomes.report import formats
from outcomes.report.finding_words import COVERS
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import Figure, Phrase, Place, joined, say

NOTE = (
    "From operation to division, of the lids that were divided. The covers are planned to be divided at different times, so "
    "this describes each cover and is no comparison of them."
)


def days_shut_table(days: DaysShut | None) -> Table:
    """Days from operation to division as done and as planned, and the divisions before and after the day planned; empty for None."""
    columns = (
        Column("days", "Days with the eye shut"),
        *(Column(cohort, COVERS[cohort], "right") for cohort in COHORTS),
    )
    notes = ((NOTE,),)
    rows = tuple(Row(((label,), *(cell(days, cohort) for cohort in COHORTS))) for label, cell in _LINES) if days else ()
    return Table("days_shut", "Days with the eye shut, from operation to division", columns, rows, notes)


def _place(days: DaysShut, cohort: str) -> Place:
    return Place(f"days_shut.{cohort}", _of(days, cohort))


def _of(days: DaysShut, cohort: str) -> CohortDaysShut:
    return days.grafted if cohort == "grafted" else days.advanced


def _lids(days: DaysShut, cohort: str) -> Phrase:
    return (_place(days, cohort).figure("n", formats.count),)


def _done(days: DaysShut, cohort: str) -> Phrase:
    place = _place(days, cohort)
    if not place.holds("median"):
        return (place.figure("median", formats.months),)
    return say("{} ({} to {})", *(place.figure(name, formats.months) for name in ("median", "q1", "q3")))


def _planned(days: DaysShut, cohort: str) -> Phrase:
    place = _place(days, cohort)
    if not place.holds("planned"):
        return (place.figure("planned", formats.months),)
    return say("{} (n {})", place.figure("planned", formats.months), place.figure("planned_n", formats.count))


def _early(days: DaysShut, cohort: str) -> Phrase:
    return (_place(days, cohort).figure("early", formats.count),)


def _late(days: DaysShut, cohort: str) -> Phrase:
    return (_place(days, cohort).figure("late", formats.count),)


def _reasons(days: DaysShut, cohort: str) -> Phrase:
    phrases: list[Phrase] = [
        say(f"{reason} {{}}", Figure(formats.count(number), f"days_shut.{cohort}.reasons.{reason}"))
        for reason, number in _of(days, cohort).reasons
    ]
    return joined(phrases, "; ") if phrases else ("–",)


_LINES = (
    ("Lids divided", _lids),
    ("Median (quartiles)", _done),
    ("Median planned", _planned),
    ("Divided before the day planned", _early),
    ("Divided after it", _late),
    ("Reasons for early division", _reasons),
)
