"""How were the graded measures shared out over their grades, review by review?"""

from __future__ import annotations

from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, Finding, Values
from outcomes.protocol import COHORTS, Measure, Protocol
from outcomes.report.charts.rendering import Drawing, Picture
from outcomes.report.charts.theme import QUIET, SMALL, Panel, either, shades
from outcomes.report.finding_index import findings_of, lid_by_lid

WIDTH, BAR, STEP, GAP = 290, 13, 16, 9
FEWEST_NUMBERED = 0.06  # shares at least so wide have room for their grade's number


def grades_pictures(comparison: Comparison, protocol: Protocol) -> tuple[Picture, ...]:
    """Draw the stacked shares of every graded measure, one picture each; a measure nobody graded is left out."""
    held = {
        measure: [each for each in findings_of(comparison, measure, "value") if lid_by_lid(each)]
        for measure in protocol.measures
        if protocol.value_field(measure).levels
    }
    return tuple(_picture(measure, findings, protocol) for measure, findings in held.items() if findings)


def _picture(measure: Measure, findings: list[Finding], protocol: Protocol) -> Picture:
    drawing = Drawing(f"grades-{measure.id.replace('_', '-')}")
    title = f"{measure.label} at each review"
    subtitle = ["Each bar shares out the lids seen (n) over the grades, numbered from 0."]
    chart = _panel(drawing, findings, protocol.value_field(measure).levels, protocol).properties(
        title=alt.TitleParams(title, subtitle=subtitle),
    )
    return drawing.picture(chart, title=title, description=_described(measure, findings, protocol))


def _described(measure: Measure, findings: list[Finding], protocol: Protocol) -> str:
    levels, said = protocol.value_field(measure).levels, []
    for finding in findings:
        for cohort in COHORTS:
            held = getattr(finding, cohort)
            shared = ", ".join(f"{levels[round(level)]} {number}" for level, number in held.counts)
            said.append(f"{protocol.window(finding.window).label} {cohort} {shared or 'nobody'}")
    return f"{'; '.join(said)}."


def _panel(
    drawing: Drawing,
    findings: list[Finding],
    levels: tuple[str, ...],
    protocol: Protocol,
) -> Panel:
    rows = [row for at, finding in enumerate(findings) for row in _rows(finding, at, levels, protocol)]
    height = len(findings) * (2 * STEP + GAP)
    up: dict[str, Any] = {"scale": alt.Scale(domain=[0, height], nice=False, reverse=True), "title": None, "axis": None}
    across = alt.X(
        "lids:Q",
        stack="normalize",
        title=None,
        axis=alt.Axis(format=".0%", values=[0, 0.25, 0.5, 0.75, 1], labelFontSize=SMALL),
    )
    bars = drawing.chart([row for row in rows if "lids" in row])
    shared = bars.mark_bar(height=BAR, orient="horizontal", stroke="#6b6b6b", strokeWidth=0.5).encode(
        x=across,
        y=alt.Y("y:Q", **up),
        order="level:Q",
        fill=alt.Fill(
            "grade:N",
            sort=list(levels),
            scale=alt.Scale(domain=list(levels), range=shades(len(levels))),
            legend=alt.Legend(title=None, symbolType="square", columns=_legend_columns(levels)),
        ),
    )
    inside = (
        drawing.chart([row for row in rows if "lids" in row])
        .mark_text(fontSize=10)
        .encode(
            x=alt.X("lids:Q", stack="normalize", bandPosition=0.5),
            y=alt.Y("y:Q", **up),
            order="level:Q",
            text="number:N",
            color=either("dark", (True, False), ("#ffffff", "#222222")),
        )
    )
    names = drawing.chart([row for row in rows if "words" in row])
    words = names.mark_text(align="right", fontSize=SMALL).encode(x=alt.value(-8), y=alt.Y("y:Q", **up), text="words:N")
    windows = (
        drawing.chart([row for row in rows if "window" in row])
        .mark_text(align="right", fontSize=SMALL, color=QUIET)
        .encode(
            x=alt.value(-104),
            y=alt.Y("y:Q", **up),
            text="window:N",
        )
    )
    return alt.layer(shared, inside, words, windows).properties(width=WIDTH, height=height)


def _legend_columns(levels: tuple[str, ...]) -> int:
    longest = max(len(level) for level in levels)
    return max(2, min(len(levels), 56 // (longest + 5)))


def _rows(finding: Finding, at: int, levels: tuple[str, ...], protocol: Protocol) -> list[dict[str, Any]]:
    top = at * (2 * STEP + GAP) + GAP
    rows: list[dict[str, Any]] = [{"window": protocol.window(finding.window).label, "y": top + STEP / 2}]
    for number, cohort in enumerate(COHORTS):
        held, y = getattr(finding, cohort), top + number * STEP
        rows.append({"words": f"{cohort} (n {held.n})", "y": y})
        rows.extend(_bar(held, y, levels))
    return rows


def _bar(held: Values, y: float, levels: tuple[str, ...]) -> list[dict[str, Any]]:
    return [
        {
            "grade": levels[round(level)],
            "level": level,
            "lids": number,
            "y": y,
            "dark": 2 * level >= len(levels),
            "number": f"{level:g}" if number >= FEWEST_NUMBERED * held.n else "",
        }
        for level, number in held.counts
    ]
