"""The table of sensitivity analyses."""

from __future__ import annotations

from outcomes.findings.results import CheckId, Comparison, Finding
from outcomes.protocol import Protocol
from outcomes.report import formats
from outcomes.report.finding_index import finding_place, main_findings
from outcomes.report.sentences import measure_words, signed_change, unit_words, with_interval
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import Phrase, Place, say

WAYS: dict[CheckId, str] = {
    "as_planned": "By the cover planned",
    "masked_only": "Masked assessors only",
    "operation_clock": "Same time since operation",
    "revision_poor": "Revised lids count as poor",
    "revision_as_seen": "Revised lids as they were seen",
    "without_first_twenty": "Without the first 20 of each cover",
    "within_surgeon": "Within surgeons",
    "inverse_measured": "Weighted by the inverse chance of being measured",
    "overlap_weighted": "Overlap-weighted",
}

WAYS_NOTE = "Each is the adjusted difference again, advanced minus grafted, with its interval, and with one thing done differently."
E_VALUE_NOTE = (
    "E-value: how strongly something unrecorded would have to be tied both to the choice of cover and to the result, as a risk "
    "ratio, to explain the adjusted difference away; in brackets the same for the end of the interval nearest to no difference "
    "(VanderWeele & Ding 2017)."
)


def sensitivity_table(comparison: Comparison, protocol: Protocol) -> Table:
    """The main differences again: with the last known value, on the other clock, and by whether the cover was known."""
    findings = [
        each for each in main_findings(comparison, protocol) if each.is_planned and each.contrast.estimate is not None
    ]
    ways = [(part, label) for part, label in WAYS.items() if any(each.check(part) for each in findings)]
    columns = (
        Column("measure", "Measure"),
        Column("unit", "Unit"),
        Column("main", "Main analysis", "right"),
        *(Column(part, label, "right") for part, label in ways),
        Column("e_value", "E-value (limit)", "right"),
    )
    rows = tuple(Row(_cells(finding, [part for part, _ in ways], protocol)) for finding in findings)
    return Table(
        "sensitivity", "The main differences, looked at in other ways", columns, rows, ((WAYS_NOTE,), (E_VALUE_NOTE,))
    )


def _cells(finding: Finding, ways: list[CheckId], protocol: Protocol) -> tuple[Phrase, ...]:
    place, change = finding_place(finding), signed_change(finding, protocol)
    main = with_interval(place, "adjusted" if finding.adjusted else "contrast", change)
    others = (_again(finding, part, protocol) for part in ways)
    return ((measure_words(finding, protocol),), (unit_words(finding, protocol),), main, *others, _e_value(finding))


def _again(finding: Finding, part: CheckId, protocol: Protocol) -> Phrase:
    check = finding.check(part)
    if check is None or check.estimate is None:
        return ("–",)
    place, change = Place(f"{finding_place(finding).id}.checks.{part}", check), signed_change(finding, protocol)
    ends = say("{} to {}", *(place.figure(end, change) for end in ("low", "high"))) if check.low is not None else ()
    return say("{} ({})", place.figure("estimate", change), ends or ("no interval",))


def _e_value(finding: Finding) -> Phrase:
    place = finding_place(finding)
    if not place.holds("adjusted.e_value"):
        return ("–",)
    value = place.figure("adjusted.e_value", formats.decimal)
    if not place.holds("adjusted.e_value_limit"):
        return (value,)
    return (value, " (", place.figure("adjusted.e_value_limit", formats.decimal), ")")
