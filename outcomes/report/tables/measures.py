"""The tables of measures, both cohorts side by side: the main ones, all planned and further ones, and every finding."""

from __future__ import annotations

from outcomes.findings.results import Clock, Comparison, Finding, Values
from outcomes.protocol import COHORTS, Protocol
from outcomes.report import formats
from outcomes.report.finding_index import (
    by_clock,
    finding_place,
    main_outcomes,
    of_family,
    other_differences,
    seen,
)
from outcomes.report.finding_words import COVERS, note_words
from outcomes.report.headline import left_out_sentences
from outcomes.report.sentences import (
    bare_result,
    chance,
    judged_part,
    measure_with_unit,
    short_result,
    signed_change,
    size_of,
    unit_words,
    verdict_words,
    with_interval,
)
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import ABSENT_CELL, Phrase, Place

MAIN, OTHERS = "Main measures", "Further measures with a difference"
RESULTS_NOTE = "Means with standard deviations, or lids with a poor result of lids measured."
MEDIANS_NOTE = "Means, medians where a mean is left out of public output, or lids with a poor result of lids measured."
GRADES_NOTE = "Grades are ordered, not measured: comparing their means takes the steps between grades as equal."
P_NOTE = (
    "p is that of the adjusted difference, or of the crude one where nothing could be adjusted for. Corrected: by Holm's method with "
    "the weights of the protocol, over the planned comparisons."
)
Q_NOTE = (
    "q: the share of false differences to be expected among those with a q at most as large (Benjamini and Hochberg)."
)
FINDINGS_NOTE = (
    "Planned: the main outcome in the primary window. Differences are advanced minus grafted. Exploratory rows carry no verdict. "
    "Permutation: the check of the crude difference by permuting patients; its error is exact where every permutation was made."
)


def main_table(comparison: Comparison, protocol: Protocol) -> Table:
    """The main measures in the primary window, and each further planned measure with a difference: adjusted, with its verdict."""
    window = protocol.window(protocol.primary_window).label
    others = other_differences(comparison, protocol)
    bands = ((MAIN, main_outcomes(comparison, protocol)), (OTHERS, others))
    shown = tuple(each for _, findings in bands for each in findings if seen(each))
    rows = tuple(
        Row(_main_cells(finding, protocol), band if len(others) else "")
        for band, findings in bands
        for finding in findings
        if seen(finding)
    )
    columns = (
        Column("measure", "Measure"),
        *(Column(cohort, COVERS[cohort], "right") for cohort in COHORTS),
        Column("adjusted", "Adjusted difference (interval)", "right"),
        Column("verdict", "Verdict"),
    )
    return Table(
        "main", f"Main measures {window} after division", columns, rows, _main_notes(comparison, shown, protocol)
    )


def _main_cells(finding: Finding, protocol: Protocol) -> tuple[Phrase, ...]:
    place, change = finding_place(finding), signed_change(finding, protocol)
    return (
        (measure_with_unit(finding, protocol),),
        *(short_result(finding, cohort, protocol) for cohort in COHORTS),
        with_interval(place, judged_part(finding), change),
        (verdict_words(finding),),
    )


def _main_notes(comparison: Comparison, findings: tuple[Finding, ...], protocol: Protocol) -> tuple[Phrase, ...]:
    level = formats.percent(protocol.rules.confidence_level)
    graded = any(protocol.value_field(protocol.measure(each.measure)).levels for each in findings)
    return (
        (f"Differences are advanced minus grafted, with {level} intervals that allow for patients with two lids.",),
        (MEDIANS_NOTE if any(_median(each) for each in findings) else RESULTS_NOTE,),
        *(((GRADES_NOTE,),) if graded else ()),
        *left_out_sentences(comparison, protocol),
    )


def _median(finding: Finding) -> bool:
    return isinstance(finding.grafted, Values) and finding.grafted.centre == "median" and seen(finding)


def planned_table(comparison: Comparison, protocol: Protocol) -> Table:
    """Every planned comparison with its p, the smallest difference that matters and the one that could be found."""
    columns = (
        *_family_columns(()),
        Column("p", "p", "right"),
        Column("p_corrected", "p, corrected", "right"),
        Column("important", "Smallest that matters", "right"),
        Column("could_find", "Could be found", "right"),
        Column("verdict", "Verdict"),
    )
    rows = tuple(
        Row(
            (
                *_family_cells(each, protocol, ()),
                chance(finding_place(each), "p"),
                chance(finding_place(each), "p_corrected"),
                *(_size(each, part, protocol) for part in ("important_difference", "could_find")),
                (verdict_words(each),),
            )
        )
        for each in of_family(comparison, "planned")
        if seen(each)
    )
    window = protocol.window(protocol.primary_window).label
    notes: tuple[Phrase, ...] = ((P_NOTE,), *_family_notes(of_family(comparison, "planned"), protocol))
    return Table("planned", f"Every planned comparison, {window} after division", columns, rows, notes)


def further_table(comparison: Comparison, protocol: Protocol) -> Table:
    """The main outcome of every measure in every other window, with its q."""
    columns = (*_family_columns((Column("window", "Review"),)), Column("q", "q", "right"), Column("verdict", "Verdict"))
    findings = of_family(comparison, "further")
    rows = tuple(
        Row(
            (
                *_family_cells(each, protocol, ((protocol.window(each.window).label,),)),
                _one(finding_place(each), "q", formats.p_value),
                (verdict_words(each),),
            ),
            measure.label,
        )
        for measure in protocol.measures
        for each in findings
        if each.measure == measure.id and seen(each)
    )
    return Table("further", "The other reviews", columns, rows, ((Q_NOTE,), *_family_notes(findings, protocol)))


def _family_columns(first: tuple[Column, ...]) -> tuple[Column, ...]:
    return (
        *(first or (Column("measure", "Measure"),)),
        *(Column(cohort, COVERS[cohort], "right") for cohort in COHORTS),
        Column("unit", "Unit"),
        Column("crude", "Crude", "right", "Difference (interval)"),
        Column("adjusted", "Adjusted", "right", "Difference (interval)"),
    )


def _family_cells(finding: Finding, protocol: Protocol, first: tuple[Phrase, ...]) -> tuple[Phrase, ...]:
    place, change = finding_place(finding), signed_change(finding, protocol)
    return (
        *(first or ((protocol.measure(finding.measure).label,),)),
        *(short_result(finding, cohort, protocol) for cohort in COHORTS),
        (unit_words(finding, protocol),),
        *(with_interval(place, part, change) for part in ("contrast", "adjusted")),
    )


def _family_notes(findings: tuple[Finding, ...], protocol: Protocol) -> tuple[Phrase, ...]:
    noted: dict[str, list[str]] = {}
    for each in findings:
        if each.notes and seen(each):
            name = f"{protocol.measure(each.measure).label}, {protocol.window(each.window).label}"
            noted.setdefault(note_words(each.notes), []).append(name)
    return tuple((f"{formats.capitalised(words)}: {'; '.join(names)}.",) for words, names in noted.items())


def _size(finding: Finding, part: str, protocol: Protocol) -> Phrase:
    return _one(finding_place(finding), part, size_of(finding, protocol))


def findings_table(comparison: Comparison, protocol: Protocol, *, clock: Clock) -> Table:
    """Every finding on one clock, one a row and one number a cell, band by measure."""
    labels = {window.id: window.label for window in protocol.windows}
    findings = by_clock(comparison, clock)
    rows = tuple(
        Row(_cells(finding, labels[finding.window], protocol), measure.label)
        for measure in protocol.measures
        for finding in findings
        if finding.measure == measure.id and seen(finding)
    )
    title = f"Every finding, counted from {'division' if clock == 'division' else 'the operation'}"
    name = "findings" if clock == "division" else "findings-since-operation"
    notes: tuple[Phrase, ...] = ((FINDINGS_NOTE,), *_unmeasured(findings, labels, protocol))
    return Table(name, title, _columns(), rows, (*notes, *_family_notes(findings, protocol)))


def _unmeasured(findings: tuple[Finding, ...], labels: dict[str, str], protocol: Protocol) -> tuple[Phrase, ...]:
    names = dict.fromkeys(
        f"{protocol.measure(each.measure).label}, {labels[each.window]}" for each in findings if not seen(each)
    )
    return (("Nobody was measured, so no row is printed: " + "; ".join(names) + ".",),) if names else ()


def _columns() -> tuple[Column, ...]:
    cohorts = (
        Column(f"{cohort}_{part}", label, "right", COVERS[cohort])
        for cohort in COHORTS
        for part, label in (("n", "n"), ("missing", "Missing"), ("result", "Result"))
    )
    contrasts = (
        Column(f"{part}_{end}", label, "right", spanner)
        for part, spanner in (("crude", "Crude"), ("adjusted", "Adjusted"))
        for end, label in (("estimate", "Difference"), ("low", "Low"), ("high", "High"))
    )
    return (
        Column("window", "Review"),
        Column("outcome", "Outcome"),
        *cohorts,
        Column("unit", "Unit"),
        *contrasts,
        Column("missing_low", "Low", "right", "If all unseen were worst or best"),
        Column("missing_high", "High", "right", "If all unseen were worst or best"),
        Column("p", "p", "right"),
        Column("permutation_p", "p", "right", "Permutation"),
        Column("p_error", "Error", "right", "Permutation"),
        Column("verdict", "Verdict"),
    )


OUTCOMES = {"main": "main outcome", "poor": "poor result", "value": "win probability"}


def _cells(finding: Finding, label: str, protocol: Protocol) -> tuple[Phrase, ...]:
    place, change = finding_place(finding), signed_change(finding, protocol)
    cohorts: list[Phrase] = []
    for cohort in COHORTS:
        cohorts.extend(_one(place, f"{cohort}.{part}", formats.count) for part in ("n", "missing"))
        cohorts.append(bare_result(finding, cohort, protocol))
    contrasts = [
        _one(place, f"{part}.{end}", change) for part in ("contrast", "adjusted") for end in ("estimate", "low", "high")
    ]
    planned = f"{OUTCOMES[finding.outcome]}, planned" if finding.is_planned else OUTCOMES[finding.outcome]
    return (
        (label,),
        (planned,),
        *cohorts,
        (unit_words(finding, protocol),),
        *contrasts,
        *(_one(place, f"unseen.worst_case.{end}", change) for end in ("low", "high")),
        chance(place, "p"),
        _permutation_p(finding, place),
        _permutation_error(finding),
        (finding.verdict or ABSENT_CELL,),
    )


def _permutation_p(finding: Finding, place: Place) -> Phrase:
    return (
        (ABSENT_CELL,) if finding.contrast.estimate is None else _one(place, "contrast.permutation_p", formats.p_value)
    )


def _permutation_error(finding: Finding) -> Phrase:
    if finding.contrast.permutation_p is None or finding.contrast.estimate is None:
        return (ABSENT_CELL,)
    if finding.contrast.exact:
        return ("exact",)
    return _one(finding_place(finding), "contrast.monte_carlo_error", formats.small)


def _one(place: Place, path: str, written: formats.Written) -> Phrase:
    return (place.figure(path, written),) if place.holds(path) else (ABSENT_CELL,)
