"""The tables of definitions of measures and of timed events."""

from __future__ import annotations

from outcomes.protocol import Measure, Protocol, Timed
from outcomes.report import formats
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import Phrase


def definitions_table(protocol: Protocol) -> Table:
    """Each measure: what it is, its unit or grades, what counts as poor, and from where its scale comes."""
    columns = (
        Column("measure", "Measure"),
        Column("definition", "What it is"),
        Column("takes", "Recorded as"),
        Column("poor", "Poor result"),
        Column("source", "Scale from"),
    )
    rows = tuple(
        Row(_cells(measure, protocol), "Main measures" if main else "Further measures")
        for main in (True, False)
        for measure in protocol.measures
        if measure.main is main
    )
    notes: tuple[Phrase, ...] = (
        (
            '"Own scale" marks a grading that this project defines itself, as no published one fits. A blank always means not recorded.',
        ),
    )
    return Table("definitions", "What was measured, and what counts as poor", columns, rows, notes)


def _cells(measure: Measure, protocol: Protocol) -> tuple[Phrase, ...]:
    field = protocol.value_field(measure)
    definition = field.definition
    if measure.operated and not measure.field:
        fellow = protocol.field("reviews", measure.fellow)
        definition = f"{field.label} minus {formats.uncapitalised(fellow.label)}."
    poor = protocol.poor_words(measure)
    since = f", from {protocol.window(measure.poor_from).label} on" if measure.poor_from else ""
    return (
        (measure.label,),
        (definition,),
        (field.says(),),
        (
            f"{poor}{since}" + (f". {measure.poor_note}" if measure.poor_note else "")
            if poor
            else "none: compared by its mean",
        ),
        (field.source or "–",),
    )


def timed_table(protocol: Protocol) -> Table:
    """Each timed event: from where it is known, on which clock it runs, and what competes with it."""
    columns = (
        Column("event", "Event"),
        Column("known", "Known from"),
        Column("clock", "Counted from"),
        Column("competing", "Competing"),
    )
    rows = tuple(Row(_timed_cells(timed, protocol)) for timed in protocol.timed)
    return Table("timed_definitions", "What was timed", columns, rows)


def _timed_cells(timed: Timed, protocol: Protocol) -> tuple[Phrase, ...]:
    known = "its date"
    if timed.when is not None:
        measure = protocol.measure(timed.measure)
        bound = timed.when.says(protocol.value_field(measure).unit)
        known = (
            f"reviews: {formats.uncapitalised(measure.label)} {bound} at two reviews in a row; it began between the first of "
            "these and the review before"
        )
    return ((timed.label,), (known,), (timed.clock,), (", ".join(timed.competing) or "–",))
