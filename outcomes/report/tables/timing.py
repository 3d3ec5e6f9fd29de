"""The tables of timed events."""

from __future__ import annotations

from outcomes.findings.results import Comparison, Mean, TimedFinding
from outcomes.protocol import COHORTS, Protocol
from outcomes.report import formats
from outcomes.report.finding_index import timed_place
from outcomes.report.finding_words import COVERS, note_words
from outcomes.report.sentences import chance, from_to, with_interval
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import ABSENT_CELL, NOT_SHOWN, Phrase, Place, say

AT_RISK_WORDS = (
    "Events so far are counts; the share allows for lids no longer followed. Still at risk: lids followed to the month without the event; "
    "where they are few, later events may be missed and the share rests on few."
)


def timing_table(comparison: Comparison, protocol: Protocol) -> Table:
    """Each timed event at each moment: events, the share with its interval, the difference, the reading."""
    labels = {timed.id: timed.label for timed in protocol.timed}
    rows = tuple(
        Row(_cells(each), f"{labels[each.event]}, months since {each.clock} ({each.method})")
        for each in comparison.timing
    )
    columns = (
        Column("months", "Months"),
        *(
            Column(f"{cohort}_{part}", label, "right", COVERS[cohort])
            for cohort in COHORTS
            for part, label in (
                ("events", "Events so far"),
                ("at_risk", "Still at risk"),
                ("share", "Share (interval)"),
            )
        ),
        Column("difference", "Crude", "right", "Difference in percentage points (interval)"),
        Column("adjusted", "Adjusted", "right", "Difference in percentage points (interval)"),
        Column("p", "p", "right"),
        Column("verdict", "Verdict"),
    )
    notes = [
        (
            "p is that of the adjusted difference at the month, of the crude one where nothing could be adjusted for; it is not corrected.",
        ),
        (AT_RISK_WORDS,),
    ]
    notes.extend(
        (f"{labels[each.event]}, {each.at_months} months: {note_words(each.notes)}",)
        for each in comparison.timing
        if each.notes
    )
    return Table("timing", "Recurrence, revision and time course", columns, rows, tuple(dict.fromkeys(notes)))


def _cells(finding: TimedFinding) -> tuple[Phrase, ...]:
    place = timed_place(finding)
    cohorts: list[Phrase] = []
    for cohort in COHORTS:
        cohorts.append(
            say(
                "{} of {}",
                place.figure(f"{cohort}.events", formats.count) if place.holds(f"{cohort}.events") else NOT_SHOWN,
                place.figure(f"{cohort}.n", formats.count),
            )
        )
        cohorts.append(
            (place.figure(f"{cohort}.at_risk", formats.count) if place.holds(f"{cohort}.at_risk") else ABSENT_CELL,)
        )
        cohorts.append(_share(place, cohort))
    return (
        (place.figure("at_months", formats.count),),
        *cohorts,
        with_interval(place, "contrast", formats.points),
        with_interval(place, "adjusted", formats.points),
        chance(place, "p"),
        (finding.verdict or ABSENT_CELL,),
    )


def _share(place: Place, cohort: str) -> Phrase:
    if not place.holds(f"{cohort}.estimate"):
        return (NOT_SHOWN,) if place.held.withheld == "public" else ("not estimated",)
    return say("{} ({})", place.figure(f"{cohort}.estimate", formats.percent), from_to(place, cohort, formats.percent))


def means_table(comparison: Comparison, protocol: Protocol) -> Table:
    """The restricted mean time to each event in both cohorts."""
    labels = {timed.id: timed.label for timed in protocol.timed}
    rows = tuple(Row(_mean_cells(each, labels[each.event])) for each in comparison.means)
    columns = (
        Column("event", "Event"),
        Column("until", "Up to month", "right"),
        Column("grafted", COVERS["grafted"], "right"),
        Column("advanced", COVERS["advanced"], "right"),
        Column("difference", "Advanced minus grafted (interval)", "right"),
    )
    notes = [
        (
            "The mean number of months free of the event, counted only up to the month given; the difference is crude, not adjusted.",
        )
    ]
    notes.extend((f"{labels[each.event]}: {note_words(each.notes)}",) for each in comparison.means if each.notes)
    return Table("means", "Mean time to each event, in months", columns, rows, tuple(notes))


def _mean_cells(each: Mean, label: str) -> tuple[Phrase, ...]:
    place = Place(f"means.{each.event}", each)
    times = ((place.figure(path, formats.months),) for path in ("until", *COHORTS))
    return ((label,), *times, with_interval(place, "contrast", formats.months_change))
