"""The forest plot of the main differences, crude and adjusted."""

from __future__ import annotations

from functools import partial
from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, Finding
from outcomes.protocol import Protocol
from outcomes.report import formats
from outcomes.report.charts.chart_rows import CONTRASTS, difference_rows, reach
from outcomes.report.charts.drawing import NOMINAL, Canvas, Chart, Figure, addressed
from outcomes.report.charts.theme import INK, Panel, Size, level_intervals
from outcomes.report.finding_index import finding_place, main_findings, rule_place, who_phrase
from outcomes.report.sentences import measure_words, signed_change, unit_words, with_interval
from outcomes.report.traced_text import plain, say

ENDS = {True: ("fewer with advanced", "more"), False: ("less with advanced", "more")}
SHAPES = ["square", "triangle-up"]


def differences_figures(comparison: Comparison, protocol: Protocol) -> tuple[Figure, ...]:
    """The main differences, one panel for each unit; nothing when none could be estimated."""
    estimated = [
        each
        for each in main_findings(comparison, protocol)
        if each.outcome == "main" and each.contrast.estimate is not None
    ]
    if not estimated:
        return ()
    window = protocol.window(protocol.primary_window).label
    words = (
        "Square: as measured, with its {} interval. Triangle: adjusted for the characteristics recorded. "
        "Left of zero means less with advanced skin."
    )
    level = rule_place(protocol).figure("confidence_level", formats.percent)
    return (
        Figure(
            "differences",
            f"Advanced minus grafted on the main measures, {window} after division",
            (say(words, level), who_phrase(comparison)),
            "; ".join(_described(each, protocol) for each in estimated) + ".",
            partial(_chart, estimated, protocol),
            around=18,
        ),
    )


def _described(finding: Finding, protocol: Protocol) -> str:
    place, change = finding_place(finding), signed_change(finding, protocol)
    crude = plain(with_interval(place, "contrast", change))
    adjusted = plain(with_interval(place, "adjusted", change)) if place.holds("adjusted") else "not estimated"
    name = measure_words(finding, protocol)
    return (
        f"{name}: crude {crude} {unit_words(finding, protocol)}, adjusted {adjusted}, {finding.verdict or 'no verdict'}"
    )


def _chart(findings: list[Finding], protocol: Protocol, canvas: Canvas, size: Size) -> Chart:
    kinds: dict[tuple[bool, str], list[Finding]] = {}
    for each in findings:
        kinds.setdefault((each.is_share, unit_words(each, protocol)), []).append(each)
    panels = (_panel(of_kind, protocol, canvas, size) for of_kind in kinds.values())
    drawn: Chart = alt.vconcat(*panels, spacing=size.em(1.6))
    return drawn


def _panel(findings: list[Finding], protocol: Protocol, canvas: Canvas, size: Size) -> Panel:
    is_share, unit = findings[0].is_share, unit_words(findings[0], protocol)
    by = 100 if is_share else 1
    labels = [measure_words(each, protocol) for each in findings]
    broken = alt.Axis(
        labelExpr="split(datum.label, ': ')", domain=False, ticks=False, labelLimit=size.em(21), grid=False
    )
    names = alt.Y("measure:N", sort=labels, title=None, axis=broken)
    left, right = ENDS[is_share]
    words = [
        f"← {left}" + "\u00a0" * 5 + f"{right} →",
        f"difference {unit} lids" if by > 1 else f"difference in {unit}",
    ]
    across = alt.X("low:Q", title=words, scale=reach(findings, by), axis=alt.Axis(tickCount=5, grid=False))
    rows = difference_rows(findings, labels, by)
    offset = alt.YOffset("way:N", sort=CONTRASTS, scale=alt.Scale(paddingOuter=0.35))
    base = canvas.chart(rows)
    legend = alt.Legend(title=None, columns=2 if size.columns > 1 else 1)
    points = base.mark_point(size=size.point, strokeWidth=size.line, stroke=INK, opacity=1).encode(
        x=alt.X("estimate:Q"),
        y=names,
        yOffset=offset,
        shape=alt.Shape("way:N", scale=alt.Scale(domain=CONTRASTS, range=SHAPES), legend=legend),
        fill=alt.Fill("way:N", scale=alt.Scale(domain=CONTRASTS, range=[INK, "#ffffff"]), legend=legend),
        tooltip=[
            "measure:N",
            "way:N",
            *(alt.Tooltip(f"{name}:Q", format=".2f") for name in ("estimate", "low", "high")),
        ],
    )
    zero = canvas.chart([{"at": 0}]).mark_rule(color=INK, strokeWidth=size.em(0.08)).encode(x="at:Q")
    lines = level_intervals(base, across, size, y=names, yOffset=offset)
    beside = [_beside(findings, labels, protocol, canvas, size).encode(y=names)] if size.columns > 1 else []
    return alt.layer(zero, *lines, points, *beside).properties(width=NOMINAL, height=size.em(3.6) * len(findings))


def _beside(findings: list[Finding], labels: list[str], protocol: Protocol, canvas: Canvas, size: Size) -> alt.Chart:
    """The numbers of the intervals, to their right."""
    rows: list[dict[str, Any]] = []
    for finding, label in zip(findings, labels, strict=True):
        place, change = finding_place(finding), signed_change(finding, protocol)
        for way, part in zip(CONTRASTS, ("contrast", "adjusted"), strict=True):
            if place.holds(f"{part}.estimate"):
                text = plain(with_interval(place, part, change))
                rows.append({"measure": label, "way": way, "text": text, "address": addressed(f"{place.id}.{part}")})
    offset = alt.YOffset("way:N", sort=CONTRASTS, scale=alt.Scale(paddingOuter=0.35))
    written: alt.Chart = (
        canvas.chart(rows)
        .mark_text(align="left", baseline="middle", fontSize=size.small, color=INK)
        .encode(x=alt.value(alt.expr(f"width + {size.em(1)}")), yOffset=offset, text="text:N", description="address:N")
    )
    return written
