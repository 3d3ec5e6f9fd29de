"""The tables of the pack."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from outcomes.findings.results import Comparison
from outcomes.findings.study_facts import Congress, EventCounts
from outcomes.protocol import COHORTS, Protocol
from outcomes.report import formats
from outcomes.report.finding_index import is_public
from outcomes.report.finding_words import COVERS
from outcomes.report.flow_words import reason_words, step_words
from outcomes.report.pack.target_trial import target_trial_table
from outcomes.report.tables.baseline import baseline_table
from outcomes.report.tables.definitions import definitions_table, timed_table
from outcomes.report.tables.flow import followed_table, groups_table
from outcomes.report.tables.measures import further_table, main_table, planned_table
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.tables.sensitivity import sensitivity_table, unseen_table
from outcomes.report.tables.timing import means_table, timing_table
from outcomes.report.traced_text import ABSENT_CELL, NOT_ESTIMATED, NOT_TOLD, Figure, Phrase, Place, joined, say


def pack_tables(comparison: Comparison, facts: Congress, protocol: Protocol) -> tuple[Table, ...]:
    """Every table of the pack, numbered in the order of a paper; those with a column for each cohort say how many lids it has."""
    tables = (
        flow_of_cases_table(facts),
        baseline_table(comparison, protocol),
        main_table(comparison, protocol),
        planned_table(comparison, protocol),
        further_table(comparison, protocol),
        timing_table(comparison, protocol),
        means_table(comparison, protocol),
        happened_table(facts, protocol, public=is_public(comparison)),
        groups_table(comparison),
        followed_table(comparison, protocol),
        sensitivity_table(comparison, protocol),
        unseen_table(comparison, protocol),
        target_trial_table(comparison, protocol),
        definitions_table(protocol),
        timed_table(protocol),
    )
    shown = [_told(with_lids(table, comparison)) for table in tables if table.rows]
    return tuple(replace(table, number=number) for number, table in enumerate(shown, start=1))


def _told(table: Table) -> Table:
    """The same table, saying of a count that is left out that it is not told, rather than that it was not estimated."""
    return replace(table, rows=tuple(Row(tuple(_as_told(cell) for cell in row.cells), row.band) for row in table.rows))


def _as_told(cell: Phrase) -> Phrase:
    return tuple(
        replace(piece, text=NOT_TOLD)
        if isinstance(piece, Figure) and piece.text == NOT_ESTIMATED and piece.id.split(".")[0] in COUNTED
        else piece
        for piece in cell
    )


COUNTED = {"grafted", "advanced", "congress"}


def with_lids(table: Table, comparison: Comparison) -> Table:
    """The same table with the number of lids in the headings of the cohorts."""
    return replace(table, columns=tuple(_with_lids(column, comparison) for column in table.columns))


def _with_lids(column: Column, comparison: Comparison) -> Column:
    cohort = column.id.split("_")[0]
    if cohort not in COHORTS:
        return column
    name = f"{COVERS[cohort]} (n\u00a0=\u00a0{formats.count(getattr(comparison, cohort).cases)})"
    return replace(column, label=name) if column.id == cohort else replace(column, spanner=name)


def flow_of_cases_table(facts: Congress) -> Table:
    """Each step, the lids that remain in each cohort, and those that left, with the reason."""
    rows = [row for number in range(len(facts.stages)) for row in step_rows(facts, number)]
    rows.extend(
        pair_row(f"analysed: {formats.uncapitalised(stage.label)}", Place(f"congress.analysed.{number}", stage))
        for number, stage in enumerate(facts.analysed)
    )
    columns = (
        Column("step", "Step"),
        Column("grafted", COVERS["grafted"], "right"),
        Column("advanced", COVERS["advanced"], "right"),
    )
    return Table("flow", "Patient flow", columns, tuple(rows), (_register_note(facts), (FLOW_NOTE,)))


FLOW_NOTE = (
    "The lids not counted at a review are due and not seen, not yet due, or can have no such review; each review is counted from "
    "all lids."
)


def step_rows(facts: Congress, number: int) -> Iterator[Row]:
    """Give a row with the lids that remain at a step, and one for each reason for which lids left on the way to it."""
    stage, name = facts.stages[number], f"congress.stages.{number}"
    yield pair_row(step_words(stage), Place(name, stage))
    for at, loss in enumerate(stage.lost):
        yield pair_row(f"\u2003not counted: {reason_words(loss)}", Place(f"{name}.lost.{at}", loss))


def pair_row(words: str, place: Place) -> Row:
    """Give a row with the number of lids of each cohort at this place."""
    return Row(((words,), *((place.figure(cohort, formats.count),) for cohort in COHORTS)))


def _register_note(facts: Congress) -> Phrase:
    others = [
        say("{} {}", Place(f"congress.other_covers.{number}", each).figure("lids", formats.count), each.cover.lower())
        for number, each in enumerate(facts.other_covers)
    ]
    if facts.operated is None:
        return ("How many lids had another cover is not told.",)
    operated = Place("congress", facts).figure("operated", formats.count)
    if not others:
        return say("{} lids were operated by the as-of date, all with one of the two covers.", operated)
    return say(
        "{} lids were operated by the as-of date; with another cover, so in neither cohort: {}.",
        operated,
        joined(others, "; "),
    )


def happened_table(facts: Congress, protocol: Protocol, *, public: bool) -> Table:
    """Each kind of event: lids that had it, and how many of these were revised; then what was done."""
    rows = [Row(_happened_cells(each, protocol), "Events") for each in facts.happened]
    for number, each in enumerate(facts.treated):
        place = Place(f"congress.treated.{number}", each)
        cells: list[Phrase] = [(each.what,)]
        for cohort in COHORTS:
            cells.extend(((place.figure(f"lids.{cohort}", formats.count),), (ABSENT_CELL,)))
        rows.append(Row(tuple(cells), "Revisions, by what was done"))
    columns = (
        Column("event", "Event"),
        *(
            Column(f"{cohort}_{part}", label, "right", COVERS[cohort])
            for cohort in COHORTS
            for part, label in (("lids", "Lids"), ("revised", "Of these revised"))
        ),
    )
    notes: tuple[Phrase, ...] = ((NO_RATES,), (REVISED,), *(((FEW_LEFT_OUT,),) if public else ()))
    return Table("events", "Events and how they were treated", columns, tuple(rows), notes)


NO_RATES = (
    "Lids with at least one such event at any time after the operation. Follow-up differs between lids, so these counts are not rates; "
    "the table of timed events allows for it."
)
FEW_LEFT_OUT = (
    "Kinds of event with counts so small that they could point to a person are left out; what is left out is not zero."
)
REVISED = "Of these revised: lids with a revision on the day of the event or later, for whatever reason."


def _happened_cells(each: EventCounts, protocol: Protocol) -> tuple[Phrase, ...]:
    place = Place(f"congress.happened.{each.kind.replace(' ', '_')}", each)
    cells: list[Phrase] = [(each.kind,)]
    for cohort in COHORTS:
        cells.append((place.figure(f"lids.{cohort}", formats.count),))
        cells.append(
            (ABSENT_CELL,)
            if each.kind in {"revision", *protocol.ends_follow_up}
            else (place.figure(f"revised.{cohort}", formats.count),)
        )
    return tuple(cells)
