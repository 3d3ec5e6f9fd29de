"""The short tables of slides and poster."""

from __future__ import annotations

from dataclasses import dataclass, replace

from outcomes.findings.results import DECIDED, Comparison, Finding, Verdict
from outcomes.findings.study_facts import Congress
from outcomes.protocol import Protocol
from outcomes.report import formats
from outcomes.report.finding_index import finding_place, is_public, left_out
from outcomes.report.finding_words import COVERS
from outcomes.report.pack.manuscript import told_results
from outcomes.report.pack.tables import happened_table, pair_row, step_rows, with_lids
from outcomes.report.sentences import (
    judged_part,
    measure_with_unit,
    middle_result,
    signed_change,
    verdict_words,
    with_interval,
)
from outcomes.report.tables.baseline import baseline_table
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.tables.sensitivity import unseen_table
from outcomes.report.traced_text import ABSENT_CELL, Phrase, Place

FEWEST_SHOWN = 2  # one kind of event alone, where the others are left out, would look as if nothing else had happened
FEW_RESULTS = 3  # so few have no slide of their own
TO_READ = (
    "Means, or lids with a poor result, with the number of lids measured (n). Differences are advanced minus grafted, adjusted, with "
    "{} intervals."
)
TOGETHER: tuple[tuple[Verdict | None, ...], ...] = (
    DECIDED,
    ("no difference that matters",),
    ("cannot tell", "too few to say", None),
)
"""Verdicts that stand on one slide."""
UNSEEN_COLUMNS = {"measure", "grafted_missing", "advanced_missing", "adjusted", "tipping"}


@dataclass(frozen=True)
class ResultGroup:
    """Results that are shown together: their verdicts with the measures, as a title, and their table."""

    title: str
    table: Table
    findings: tuple[Finding, ...]


def talk_flow_table(facts: Congress, protocol: Protocol) -> Table:
    """Each step up to the main review with those that left; where no review is told, the lids analysed for each measure."""
    rows = [
        row
        for at, each in enumerate(facts.stages)
        if each.window in {"", protocol.primary_window}
        for row in step_rows(facts, at)
    ]
    if not any(each.window == protocol.primary_window for each in facts.stages):
        rows.extend(
            pair_row(f"analysed: {each.label.lower()}", Place(f"congress.analysed.{at}", each))
            for at, each in enumerate(facts.analysed)
        )
    columns = (Column("step", "Step"), *(Column(cohort, words, "right") for cohort, words in COVERS.items()))
    return Table("talk-flow", "Lids at each step, and those that left", columns, tuple(rows))


def talk_main_table(comparison: Comparison, protocol: Protocol) -> Table:
    """The main results and each further planned difference with their verdicts, for a poster."""
    findings = told_results(comparison, protocol)
    rows = tuple(Row((*_cells(each, protocol), (verdict_words(each),))) for each in findings)
    window = protocol.window(protocol.primary_window).label
    columns = (*_columns(), Column("verdict", "Verdict"))
    return with_lids(Table("talk-main", f"Main results, {window} after division", columns, rows), comparison)


def talk_result_tables(comparison: Comparison, protocol: Protocol) -> tuple[ResultGroup, ...]:
    """The same results without a column of verdicts: a table for those that belong together, with its verdicts as title."""
    findings = told_results(comparison, protocol)
    groups: list[list[Finding]] = []
    for together in TOGETHER:
        held = [each for verdict in together for each in findings if each.verdict == verdict]
        if held and groups and min(len(held), len(groups[-1])) < FEW_RESULTS:
            groups[-1].extend(held)
        elif held:
            groups.append(held)
    return tuple(
        ResultGroup(_said(held, protocol), _result_table(number, held, protocol), tuple(held))
        for number, held in enumerate(groups)
    )


def _said(findings: list[Finding], protocol: Protocol) -> str:
    """The verdicts with their measures, in one line."""
    held: dict[str, list[str]] = {}
    for each in findings:
        held.setdefault(each.verdict or "no verdict", []).append(protocol.measure(each.measure).label.lower())
    return formats.capitalised("; ".join(f"{verdict}: {formats.in_list(names)}" for verdict, names in held.items()))


def _result_table(number: int, findings: list[Finding], protocol: Protocol) -> Table:
    alike = len({each.verdict for each in findings}) == 1
    rows = tuple(
        Row(_cells(each, protocol), "" if alike or not each.verdict else formats.capitalised(each.verdict))
        for each in findings
    )
    window = protocol.window(protocol.primary_window).label
    return Table(f"talk-results-{number}", f"Results, {window} after division", _columns(), rows)


def _columns() -> tuple[Column, ...]:
    return (
        Column("measure", "Measure"),
        *(Column(cohort, words, "right") for cohort, words in COVERS.items()),
        Column("adjusted", "Adjusted difference (interval)", "right"),
    )


def _cells(finding: Finding, protocol: Protocol) -> tuple[Phrase, ...]:
    place, change = finding_place(finding), signed_change(finding, protocol)
    difference = with_interval(place, judged_part(finding), change)
    return (
        (measure_with_unit(finding, protocol),),
        *(middle_result(finding, cohort, protocol) for cohort in COVERS),
        ("not shown",) if left_out(finding) else difference,
    )


def talk_baseline_table(comparison: Comparison, protocol: Protocol) -> Table:
    """Only what was adjusted for, for a slide."""
    whole = baseline_table(comparison, protocol)
    chosen = [
        row
        for row, line in zip(whole.rows, comparison.balance, strict=True)
        if line.label in comparison.adjustment.covariates and line.level in {"", "yes"}
    ]
    cut = replace(whole, id="talk-baseline", rows=tuple(replace(row, band="") for row in chosen), notes=())
    return with_lids(
        cut.only(lambda column: column.id != "adjusted_for" and not column.id.endswith("missing")), comparison
    )


def talk_happened_table(comparison: Comparison, facts: Congress, protocol: Protocol) -> Table:
    """The complications and revisions without what was done for each, for a slide."""
    cut = replace(
        facts, happened=tuple(each for each in facts.happened if each.kind not in protocol.ends_follow_up), treated=()
    )
    whole = happened_table(cut, protocol, public=is_public(comparison))
    rows = tuple(replace(row, band="") for row in whole.rows)
    if len(rows) < FEWEST_SHOWN:
        rows = ()
    return with_lids(replace(whole, id="talk-events", rows=rows, notes=()), comparison)


def talk_unseen_table(comparison: Comparison, protocol: Protocol) -> Table:
    """What the lids not measured would have to be for the differences that were found to vanish, for a slide."""
    whole = unseen_table(comparison, protocol).only(lambda column: column.id in UNSEEN_COLUMNS)
    tipping = next(number for number, column in enumerate(whole.columns) if column.id == "tipping")
    rows = tuple(row for row in whole.rows if row.cells[tipping] != (ABSENT_CELL,))
    return replace(whole, id="talk-unseen", rows=rows, notes=())
