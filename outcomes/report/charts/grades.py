"""Grades as stacked shares of the lids measured, review by review, one panel a cohort."""

from __future__ import annotations

from functools import partial
from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, Finding
from outcomes.protocol import COHORTS, Measure, Protocol
from outcomes.report import formats
from outcomes.report.charts.drawing import NOMINAL, Canvas, Chart, Figure, addressed
from outcomes.report.charts.theme import Panel, Size, shades
from outcomes.report.finding_index import finding_place, findings_of, lid_by_lid, who_phrase

Graded = tuple[tuple[str, ...], alt.Fill, formats.WrittenCount]  # the levels, their shades, and the form of the counts
MOST_SHADES = 6
WORDS = "Shares of the lids measured at each review, by grade, the worse the darker; n: lids{}. w weeks, m months, y years since division."


def grades_figures(comparison: Comparison, protocol: Protocol) -> tuple[Figure, ...]:
    """One figure a graded measure; a measure that nobody graded has none."""
    graded = {
        measure: [each for each in findings_of(comparison, measure, "value") if lid_by_lid(each)]
        for measure in protocol.measures
        if protocol.value_field(measure).levels
    }
    return tuple(_figure(measure, each, comparison, protocol) for measure, each in graded.items() if each)


def _figure(measure: Measure, findings: list[Finding], comparison: Comparison, protocol: Protocol) -> Figure:
    return Figure(
        f"grades-{measure.id.replace('_', '-')}",
        f"{measure.label}: grades at each review",
        ((WORDS.format(", in thousands" if formats.in_thousands(_lids(findings)) else ""),), who_phrase(comparison)),
        _described(measure, findings, protocol),
        partial(_chart, findings, measure, protocol),
        further=not measure.main,
    )


def _described(measure: Measure, findings: list[Finding], protocol: Protocol) -> str:
    levels, parts = protocol.value_field(measure).levels, []
    for finding in findings:
        for cohort in COHORTS:
            counts = getattr(finding, cohort).counts
            shared = ", ".join(f"{levels[round(level)]} {number}" for level, number in counts)
            parts.append(f"{protocol.window(finding.window).label} {cohort} {shared or 'nobody'}")
    return f"{'; '.join(parts)}."


def _chart(findings: list[Finding], measure: Measure, protocol: Protocol, canvas: Canvas, size: Size) -> Chart:
    levels = protocol.value_field(measure).levels
    shaded = list(dict.fromkeys(_shaded_as(levels)))
    greys = shades(len(shaded))
    scale = alt.Scale(domain=shaded, range=greys if measure.worse == "higher" else greys[::-1])
    legend = alt.Legend(title=None, symbolType="square", columns=_legend_columns(shaded, size))
    fill = alt.Fill("shade:N", scale=scale, legend=legend)
    named = {formats.short_time(protocol.window(each.window).nominal_days): each for each in findings}
    below = formats.short_counts(_lids(findings))
    panels = (_panel(cohort, named, (levels, fill, below), canvas, size) for cohort in COHORTS)
    columns = min(size.columns, len(COHORTS))
    spacing: dict[str, Any] = {"row": size.em(1.2), "column": size.em(1.6)}
    chart: Chart = alt.concat(*panels, columns=columns, spacing=spacing).resolve_scale(fill="shared", x="shared")
    return chart


def _lids(findings: list[Finding]) -> list[formats.Count]:
    return [getattr(each, cohort).n for each in findings for cohort in COHORTS]


def _panel(cohort: str, named: dict[str, Finding], graded: Graded, canvas: Canvas, size: Size) -> Panel:
    levels, fill, below_bar = graded
    x = alt.X("window:N", sort=list(named), title=None, axis=alt.Axis(labelAngle=0, ticks=False, domain=False))
    bars = [row for name, each in named.items() for row in _bars(each, cohort, name, levels)]
    height = size.em(9)
    shared = (
        canvas.chart(bars)
        .mark_bar(stroke="#6b6b6b", strokeWidth=size.em(0.05))
        .encode(
            x=x,
            y=alt.Y("lids:Q", stack="normalize", title=None, axis=alt.Axis(format=".0%", values=[0, 0.5, 1])),
            order="level:Q",
            fill=fill,
            tooltip=["window:N", "grade:N", "lids:Q"],
        )
    )
    counts = [_count(each, cohort, name, below_bar) for name, each in named.items()]
    below: dict[str, Any] = {"fontSize": size.small, "baseline": "top", "y": height + size.em(1.7)}
    numbers = canvas.chart(counts).mark_text(**below).encode(x=x, text="n:N", description="address:N")
    head = (
        canvas.chart([{"name": "n"}])
        .mark_text(align="right", **below)
        .encode(x=alt.value(-size.em(0.5)), text="name:N")
    )
    return alt.layer(shared, numbers, head).properties(width=NOMINAL, height=height, title=cohort.capitalize())


def _bars(finding: Finding, cohort: str, window: str, levels: tuple[str, ...]) -> list[dict[str, Any]]:
    named = _shaded_as(levels)
    return [
        {"window": window, "grade": levels[round(level)], "shade": named[round(level)], "level": level, "lids": number}
        for level, number in getattr(finding, cohort).counts
    ]


def _shaded_as(levels: tuple[str, ...]) -> list[str]:
    """The words of the shade of each level: its own, or those of two neighbours where eyes could not tell so many shades apart."""
    if len(levels) <= MOST_SHADES:
        return list(levels)
    first = 2 + len(levels) % 2  # the lowest shade takes what is left over
    parts = [levels[:first], *(levels[at : at + 2] for at in range(first, len(levels), 2))]
    return [f"{part[0]} to {part[-1]}" for part in parts for _ in part]


def _count(finding: Finding, cohort: str, window: str, written: formats.WrittenCount) -> dict[str, Any]:
    place = finding_place(finding)
    number = place.figure(f"{cohort}.n", written).text
    return {"window": window, "n": number, "address": addressed(f"{place.id}.{cohort}.n")}


def _legend_columns(levels: list[str], size: Size) -> int:
    longest = max(len(level) for level in levels)
    letters = size.width / (0.5 * size.small)
    return max(1, min(len(levels), int(letters // (longest + 6))))
