"""Tables of the flow of cases, of both cohorts as a whole, and of who was reviewed."""

from __future__ import annotations

from collections.abc import Callable

from outcomes.findings.results import Comparison, Group, WindowFollowed
from outcomes.protocol import COHORTS, Protocol
from outcomes.report import formats
from outcomes.report.finding_index import is_public
from outcomes.report.finding_words import COVERS
from outcomes.report.flow_words import loss_words, step_words
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import NOT_SHOWN, Figure, Phrase, Place, joined, say

FOLLOW_UP_NOTE = (
    "Median follow-up is from the follow-up times with the status reversed (Schemper & Smith 1996). Completeness is the time "
    "observed as a share of the time that could have been observed (Clark, Altman & De Stavola 2002)."
)


def flow_table(comparison: Comparison) -> Table:
    """Each step from the register to the comparison, with the lids that remain in each cohort and why others left."""
    rows = tuple(
        Row(
            (
                (step_words(step),),
                *(_count(Place(f"flow.{number}", step), cohort) for cohort in COHORTS),
                (loss_words(step) or "–",),
            )
        )
        for number, step in enumerate(comparison.flow)
    )
    columns = (
        Column("step", "Step"),
        Column("grafted", COVERS["grafted"], "right"),
        Column("advanced", COVERS["advanced"], "right"),
        Column("why", "Why the others are not counted"),
    )
    return Table("flow", "Patient flow: lids that remain at each step", columns, rows)


def _count(place: Place, path: str) -> Phrase:
    return (place.figure(path, formats.count),)


def groups_table(comparison: Comparison) -> Table:
    """Both cohorts as a whole: lids, patients, divided, length and completeness of follow-up, who graded."""
    rows = tuple(Row(((label,), *(says(comparison, cohort) for cohort in COHORTS))) for label, says in _GROUP_LINES)
    columns = (
        Column("what", "Cohort"),
        Column("grafted", COVERS["grafted"], "right"),
        Column("advanced", COVERS["advanced"], "right"),
    )
    return Table("cohorts", "The two cohorts", columns, rows, ((FOLLOW_UP_NOTE,),))


def _place(comparison: Comparison, cohort: str) -> Place:
    return Place(cohort, getattr(comparison, cohort))


def _plain_count(path: str) -> Callable[[Comparison, str], Phrase]:
    return lambda comparison, cohort: _count(_place(comparison, cohort), path)


def _followed(comparison: Comparison, cohort: str) -> Phrase:
    place = _place(comparison, cohort)
    if not place.holds("median_followup_months"):
        return ("not estimated",)
    median = place.figure("median_followup_months", formats.months)
    ends = [
        place.figure(path, formats.months) if place.holds(path) else "not reached"
        for path in ("followup_low", "followup_high")
    ]
    return say("{} ({} to {})", median, *ends)


def _completeness(comparison: Comparison, cohort: str) -> Phrase:
    return (_place(comparison, cohort).figure("followup_completeness", formats.percent),)


def _assessors(comparison: Comparison, cohort: str) -> Phrase:
    group: Group = getattr(comparison, cohort)
    counts = [
        (f"{name} ", Figure(formats.count(number), f"{cohort}.assessors.{name}")) for name, number in group.assessors
    ]
    if counts:
        return joined(list[Phrase](counts), "; ")
    return (NOT_SHOWN,) if is_public(comparison) and group.reviews else ("nobody recorded",)


_GROUP_LINES = (
    ("Lids", _plain_count("cases")),
    ("Patients", _plain_count("patients")),
    ("Divided", _plain_count("divided")),
    ("Median follow-up in months (interval)", _followed),
    ("Completeness of follow-up", _completeness),
    ("Reviews", _plain_count("reviews")),
    ("Reviews by an assessor who did not know the cover", _plain_count("masked_reviews")),
    ("Reviews by each assessor", _assessors),
)


def followed_table(comparison: Comparison, protocol: Protocol) -> Table:
    """For each window and cohort: lids seen, missing, not yet due, not applicable."""
    held = {(each.window, each.cohort): each for each in comparison.followed_by_window}
    columns = (
        Column("window", "Review"),
        *(Column(f"{cohort}_{part}", label, "right", COVERS[cohort]) for cohort in COHORTS for part, label in _STATES),
    )
    rows = tuple(
        Row(((window.label,), *(cell for cohort in COHORTS for cell in _followed_cells(held.get((window.id, cohort))))))
        for window in protocol.windows
        if any((window.id, cohort) in held for cohort in COHORTS)
    )
    notes: tuple[Phrase, ...] = (
        (
            "Not applicable: the lid could have no such review, because it was never divided or the patient died before.",
        ),
    )
    return Table("followed", "Lids seen at each review", columns, rows, notes)


_STATES = (
    ("seen", "Seen"),
    ("missing", "Due, not seen"),
    ("not_due", "Not yet due"),
    ("not_applicable", "Not applicable"),
)


def _followed_cells(each: WindowFollowed | None) -> tuple[Phrase, ...]:
    if each is None:
        return tuple(("–",) for _ in _STATES)
    place = Place(f"followed_by_window.{each.window}.{each.cohort}", each)
    return tuple(_count(place, part) for part, _ in _STATES)
