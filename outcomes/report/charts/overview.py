"""The overview: the main differences on one axis, in multiples of the smallest difference that matters."""

from __future__ import annotations

from functools import partial
from typing import Any

import altair as alt

from outcomes.findings.results import DECIDED, Comparison, Finding
from outcomes.protocol import Protocol
from outcomes.report import formats
from outcomes.report.charts.drawing import NOMINAL, Canvas, Chart, Figure, addressed
from outcomes.report.charts.theme import INK, PALE, Size, level_intervals
from outcomes.report.finding_index import (
    finding_place,
    main_outcomes,
    other_differences,
    rule_place,
    who_phrase,
)
from outcomes.report.headline import message
from outcomes.report.sentences import judged_part, measure_with_unit, signed_change, size_of, with_interval
from outcomes.report.traced_text import plain, say

WORDS = (
    "Adjusted differences with {} intervals, each divided by the smallest difference that matters, which the protocol sets. "
    "Pale band: smaller than that. Filled: better, or may be better, with one cover. Where more is better, the sign is turned in the "
    "drawing, so that left favours advanced skin. The numbers are advanced minus grafted, in the "
    "unit of the measure."
)


def overview_figures(comparison: Comparison, protocol: Protocol) -> tuple[Figure, ...]:
    """The main measures, and further planned ones with a difference; nothing when no difference can be drawn."""
    findings = [
        each
        for each in (*main_outcomes(comparison, protocol), *other_differences(comparison, protocol))
        if each.judged.low is not None and each.judged.high is not None and each.important_difference
    ]
    if not findings:
        return ()
    rows = [_row(each, protocol) for each in findings]
    level = rule_place(protocol).figure("confidence_level", formats.percent)
    return (
        Figure(
            "overview",
            message(comparison, protocol),
            (say(WORDS, level), who_phrase(comparison)),
            "; ".join(f"{row['measure']}: {row['text']}, {row['verdict']}" for row in rows) + ".",
            partial(_chart, rows),
            around=20.5,
        ),
    )


def _row(finding: Finding, protocol: Protocol) -> dict[str, Any]:
    judged, place = finding.judged, finding_place(finding)
    part = judged_part(finding)
    worse = protocol.measure(finding.measure).worse == "higher" or finding.is_share
    return {
        "measure": measure_with_unit(finding, protocol),
        "estimate": judged.estimate,
        "low": judged.low,
        "high": judged.high,
        "matters": finding.important_difference,
        "toward": 1 if worse else -1,
        "verdict": finding.verdict or "",
        "decided": finding.verdict in DECIDED,
        "text": plain(with_interval(place, part, signed_change(finding, protocol))),
        "smallest": plain((place.figure("important_difference", size_of(finding, protocol)),)),
        "address": addressed(f"{place.id}.{part}"),
    }


def _chart(rows: list[dict[str, Any]], canvas: Canvas, size: Size) -> Chart:
    labels = [row["measure"] for row in rows]
    name = "split(datum.label, ', ')[0]" if size.terse else "split(datum.label, ', ')"
    axis = alt.Axis(domain=False, ticks=False, grid=False, labelLimit=size.em(24), labelExpr=name)
    names = alt.Y("measure:N", sort=labels, title=None, axis=axis)
    words = [
        "← favours advanced skin" + "\u00a0" * 3 + "favours skin graft →",
        "in multiples of the smallest that matters",
    ]
    base = canvas.chart(rows).transform_calculate(
        at="datum.estimate / datum.matters * datum.toward",
        low="datum.low / datum.matters * datum.toward",
        high="datum.high / datum.matters * datum.toward",
    )
    across = alt.X(
        "low:Q", title=words, scale=alt.Scale(nice=False, padding=size.em(0.6)), axis=alt.Axis(tickCount=7, grid=False)
    )
    band = canvas.chart([{"from": -1, "to": 1}]).mark_rect(color=PALE, opacity=0.8).encode(x="from:Q", x2="to:Q")
    zero = canvas.chart([{"at": 0}]).mark_rule(color=INK, strokeWidth=size.em(0.08)).encode(x="at:Q")
    tooltip = ["measure:N", "text:N", "verdict:N", alt.Tooltip("smallest:N", title="smallest that matters")]
    points = base.mark_point(
        size=size.point * 1.2, strokeWidth=size.line, stroke=INK, shape="square", opacity=1
    ).encode(
        x=alt.X("at:Q"), y=names, fill=alt.value(alt.expr(f"datum.decided ? '{INK}' : '#ffffff'")), tooltip=tooltip
    )
    beside = canvas.chart(rows).mark_text(align="left", baseline="middle", fontSize=size.small, dy=-size.em(0.6))
    verdicts = canvas.chart(rows).mark_text(align="left", baseline="middle", fontSize=size.small, dy=size.em(0.6))
    at = alt.value(alt.expr(f"width + {size.em(0.8)}"))
    told = [
        beside.encode(x=at, y=names, text="text:N", description="address:N"),
        verdicts.encode(x=at, y=names, text="verdict:N"),
    ]
    if size.terse:
        alone = canvas.chart(rows).mark_text(align="left", baseline="middle", fontSize=size.small)
        told = [alone.encode(x=at, y=names, text="verdict:N")]
    drawn: Chart = alt.layer(band, zero, *level_intervals(base, across, size, y=names), points, *told).properties(
        width=NOMINAL, height=size.em(1.6 if size.terse else 3.1) * len(rows)
    )
    return drawn
