"""The table of sensitivity analyses."""

from __future__ import annotations

from outcomes.findings.results import Comparison, Finding
from outcomes.protocol import Protocol
from outcomes.report import formats
from outcomes.report.finding_index import finding_place, main_findings
from outcomes.report.sentences import measure_words, signed_change, unit_words, with_interval
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import Phrase

WAYS = (
    ("contrast", "Main analysis"),
    ("last_known", "Last known value"),
    ("since_operation", "Same time since operation"),
    ("as_planned", "By the cover planned"),
    ("masked", "Assessor did not know"),
    ("unmasked", "Assessor knew"),
)

WAYS_NOTE = (
    "Advanced minus grafted, with intervals. Last known value: a lid not seen in the window keeps what it had when last seen. "
    "Same time since operation: the review nearest to the same day after operation, because the covers are divided at different "
    "times. By the cover planned: lids counted where they were meant to be."
)
E_VALUE_NOTE = (
    "E-value: how strongly something unrecorded would have to be tied both to the choice of cover and to the result, as a risk "
    "ratio, to explain the weighted difference away; in brackets the same for the end of the interval nearest to no difference "
    "(VanderWeele & Ding 2017)."
)


def sensitivity_table(comparison: Comparison, protocol: Protocol) -> Table:
    """The main differences again: with the last known value, on the other clock, and by whether the cover was known."""
    findings = [each for each in main_findings(comparison, protocol) if each.contrast.estimate is not None]
    ways = [
        (part, label) for part, label in WAYS if any(finding_place(each).holds(f"{part}.estimate") for each in findings)
    ]
    columns = (
        Column("measure", "Measure"),
        Column("unit", "Unit"),
        *(Column(part, label, "right") for part, label in ways),
        Column("e_value", "E-value (limit)", "right"),
    )
    rows = tuple(Row(_cells(finding, [part for part, _ in ways], protocol)) for finding in findings)
    return Table(
        "sensitivity", "The main differences, looked at in other ways", columns, rows, ((WAYS_NOTE,), (E_VALUE_NOTE,))
    )


def _cells(finding: Finding, ways: list[str], protocol: Protocol) -> tuple[Phrase, ...]:
    place, change = finding_place(finding), signed_change(finding, protocol)
    others = (with_interval(place, part, change) if place.holds(f"{part}.estimate") else ("–",) for part in ways)
    return ((measure_words(finding, protocol),), (unit_words(finding, protocol),), *others, _e_value(finding))


def _e_value(finding: Finding) -> Phrase:
    place = finding_place(finding)
    if not place.holds("adjusted.e_value"):
        return ("–",)
    value = place.figure("adjusted.e_value", formats.decimal)
    if not place.holds("adjusted.e_value_limit"):
        return (value,)
    return (value, " (", place.figure("adjusted.e_value_limit", formats.decimal), ")")
