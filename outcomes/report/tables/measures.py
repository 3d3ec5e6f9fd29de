"""The tables of measures, both cohorts side by side."""

from __future__ import annotations

from dataclasses import replace

from outcomes.findings.results import Clock, Comparison, Finding
from outcomes.protocol import Protocol
from outcomes.report import formats
from outcomes.report.finding_index import bounded, by_clock, finding_place, left_out, main_findings, seen
from outcomes.report.sentences import (
    bare_result,
    chance,
    from_to,
    measure_words,
    short_result,
    signed_change,
    unit_words,
    with_interval,
)
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import Phrase, Place

P_NOTE = (
    "p is from dealing the covers anew among patients. Corrected: by Holm's method, over the main results, which are the shares "
    "of poor results and the values of main measures that have no rule for a poor one; for all else over every further comparison."
)
STEPS_NOTE = (
    "Values recorded in steps have the ends of their intervals moved out by half a step: an interval may hold no difference "
    "though p is small."
)
NOT_BOUNDED = "What the lids that were due and not seen could have changed is not told here."
FINDINGS_NOTE = (
    "Primary: one of the main results. n: lids seen. Differences are advanced minus grafted. p, ±: the standard error that chance "
    "leaves in a p from random re-deals of the covers; exact where every re-deal was made."
)
OUTCOMES = {"poor": "Lids with a poor result", "value": "The value itself"}


def main_table(comparison: Comparison, protocol: Protocol) -> Table:
    """The main measures in the primary window: both cohorts, the differences, what the missing could do, the reading."""
    findings = main_findings(comparison, protocol)
    window = protocol.window(protocol.primary_window)
    rows = tuple(
        Row(_main_cells(finding, protocol), OUTCOMES[outcome])
        for outcome in OUTCOMES
        for finding in findings
        if finding.outcome == outcome and seen(finding)
    )
    title = f"The main measures, {window.label} after division"
    return without_bounds(Table("main", title, _main_columns(), rows, _main_notes(findings, protocol)), comparison)


def without_bounds(table: Table, comparison: Comparison) -> Table:
    """The same table, without its column of bounds where nothing is said of the missing, which is then noted."""
    if not table.rows or bounded(comparison):
        return table
    cut = table.only(lambda column: column.id != "if_missing")
    return replace(cut, notes=(*cut.notes, (NOT_BOUNDED,)))


def summary_table(comparison: Comparison, protocol: Protocol) -> Table:
    """The main measures in few columns, for a terminal."""
    window = protocol.window(protocol.primary_window)
    columns = (
        Column("measure", "Measure"),
        Column("grafted", "Grafted", "right"),
        Column("advanced", "Advanced", "right"),
        Column("crude", "Advanced minus grafted", "right"),
        Column("weighted", "Weighted", "right"),
        Column("reading", "Reading"),
    )
    rows = tuple(Row(_summary_cells(each, protocol)) for each in main_findings(comparison, protocol) if seen(each))
    notes: tuple[Phrase, ...] = (("Shares differ in points of 100. Past cases of this register; not advice.",),)
    return Table("summary", f"The main measures, {window.label} after division", columns, rows, notes)


def _summary_cells(finding: Finding, protocol: Protocol) -> tuple[Phrase, ...]:
    place, change = finding_place(finding), signed_change(finding, protocol)
    unit = "" if finding.outcome == "poor" else f", {unit_words(finding, protocol)}"
    return (
        (f"{measure_words(finding, protocol)}{unit}",),
        short_result(finding, "grafted", protocol),
        short_result(finding, "advanced", protocol),
        with_interval(place, "contrast", change),
        with_interval(place, "adjusted", change),
        (finding.reading,),
    )


def _main_columns() -> tuple[Column, ...]:
    return (
        Column("measure", "Measure"),
        Column("grafted", "Grafted", "right"),
        Column("advanced", "Advanced", "right"),
        Column("unit", "Unit"),
        Column("crude", "Crude", "right", "Advanced minus grafted (interval)"),
        Column("weighted", "Weighted", "right", "Advanced minus grafted (interval)"),
        Column("if_missing", "Bounds for the missing", "right", "Advanced minus grafted (interval)"),
        Column("p", "p", "right"),
        Column("p_adjusted", "p, corrected", "right"),
        Column("reading", "Reading"),
    )


def _main_cells(finding: Finding, protocol: Protocol) -> tuple[Phrase, ...]:
    place, change = finding_place(finding), signed_change(finding, protocol)
    return (
        (measure_words(finding, protocol),),
        short_result(finding, "grafted", protocol),
        short_result(finding, "advanced", protocol),
        (unit_words(finding, protocol),),
        with_interval(place, "contrast", change),
        with_interval(place, "adjusted", change),
        _bounds(finding, place, protocol),
        chance(place, "p"),
        chance(place, "p_adjusted"),
        (reading_words(finding),),
    )


def reading_words(finding: Finding) -> str:
    """The reading, or that it is left out together with what it would be of."""
    return "left out" if left_out(finding) else finding.reading


def _bounds(finding: Finding, place: Place, protocol: Protocol) -> Phrase:
    if not place.holds("if_missing.low") or not place.holds("if_missing.high"):
        return ("not bounded",)
    return from_to(place, "if_missing", signed_change(finding, protocol))


def _main_notes(findings: tuple[Finding, ...], protocol: Protocol) -> tuple[Phrase, ...]:
    level = formats.percent(protocol.rules.confidence_level)
    return (
        (
            f"Intervals are {level} intervals that respect patients with two lids. Weighted: allowing for how the covers were chosen.",
        ),
        (
            "The value itself is the median (quartiles); its difference is the typical one between an advanced and a grafted lid.",
        ),
        (P_NOTE,),
        (STEPS_NOTE,),
        *left_out_note(findings, protocol),
    )


def left_out_note(findings: tuple[Finding, ...], protocol: Protocol) -> tuple[Phrase, ...]:
    """Say of which main measures a result is left out of public output."""
    told = {each.measure for each in findings if each.primary and not left_out(each)}
    names = [each.label.lower() for each in protocol.main_measures if each.id not in told]
    if not names or not any(left_out(each) for each in findings):
        return ()
    return ((f"Left out, as a count so small could point to a person, or not seen: {formats.in_list(names)}.",),)


def findings_table(comparison: Comparison, protocol: Protocol, *, clock: Clock) -> Table:
    """Every finding on one clock, one a row and one number a cell, band by measure."""
    labels = {window.id: window.label for window in protocol.windows}
    held = by_clock(comparison, clock)
    rows = tuple(
        Row(_cells(finding, labels[finding.window], protocol), measure.label)
        for measure in protocol.measures
        for finding in held
        if finding.measure == measure.id and seen(finding)
    )
    title = f"Every finding, counted from {'division' if clock == 'division' else 'the operation'}"
    name = "findings" if clock == "division" else "findings-since-operation"
    return Table(name, title, _columns(), rows, _findings_notes(held, labels, protocol))


def _findings_notes(held: tuple[Finding, ...], labels: dict[str, str], protocol: Protocol) -> tuple[Phrase, ...]:
    named = [(each, f"{protocol.measure(each.measure).label}, {labels[each.window]}") for each in held]
    unseen = dict.fromkeys(name for each, name in named if not seen(each))
    notes: list[Phrase] = [(FINDINGS_NOTE,)]
    if unseen:
        notes.append(("Nobody was seen, so no row is printed: " + "; ".join(unseen) + ".",))
    for words in dict.fromkeys(each.note for each, _ in named if each.note and seen(each)):
        having = dict.fromkeys(name for each, name in named if each.note == words and seen(each))
        notes.append((f"{words[0].upper()}{words[1:]}: {'; '.join(having)}.",))
    return tuple(notes)


def _columns() -> tuple[Column, ...]:
    cohorts = (
        Column(f"{cohort}_{part}", label, "right", cohort.capitalize())
        for cohort in ("grafted", "advanced")
        for part, label in (("n", "n"), ("missing", "Missing"), ("result", "Result"))
    )
    contrasts = (
        Column(f"{part}_{end}", label, "right", spanner)
        for part, spanner in (("crude", "Crude"), ("weighted", "Weighted"))
        for end, label in (("estimate", "Difference"), ("low", "Low"), ("high", "High"))
    )
    return (
        Column("window", "Review"),
        Column("told_as", "Told as"),
        *cohorts,
        Column("unit", "Unit"),
        *contrasts,
        Column("missing_low", "Low", "right", "If missing"),
        Column("missing_high", "High", "right", "If missing"),
        Column("p", "p", "right"),
        Column("p_error", "p, ±", "right"),
        Column("p_adjusted", "p, corrected", "right"),
        Column("reading", "Reading"),
    )


def _cells(finding: Finding, label: str, protocol: Protocol) -> tuple[Phrase, ...]:
    place, change = finding_place(finding), signed_change(finding, protocol)
    cohorts: list[Phrase] = []
    for cohort in ("grafted", "advanced"):
        cohorts.extend(_one(place, f"{cohort}.{part}", formats.count) for part in ("n", "missing"))
        cohorts.append(bare_result(finding, cohort, protocol))
    contrasts = [
        _one(place, f"{part}.{end}", change) for part in ("contrast", "adjusted") for end in ("estimate", "low", "high")
    ]
    told = f"{finding.outcome}, primary" if finding.primary else finding.outcome
    return (
        (label,),
        (told,),
        *cohorts,
        (unit_words(finding, protocol),),
        *contrasts,
        _one(place, "if_missing.low", change),
        _one(place, "if_missing.high", change),
        chance(place, "p"),
        _chance_error(finding),
        chance(place, "p_adjusted"),
        (finding.reading,),
    )


def _chance_error(finding: Finding) -> Phrase:
    if finding.contrast.p is None or finding.contrast.estimate is None:
        return ("–",)
    return (
        ("exact",)
        if finding.contrast.exact
        else _one(finding_place(finding), "contrast.monte_carlo_error", formats.small)
    )


def _one(place: Place, path: str, written: formats.Written) -> Phrase:
    return (place.figure(path, written),) if place.holds(path) else ("–",)
