"""How far apart are the covers on the main measures, before and after weighting, and whatever the missing were?"""

from __future__ import annotations

from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, Finding
from outcomes.protocol import Protocol
from outcomes.report.charts.chart_rows import CONTRASTS, difference_lines, missing_bars, reach
from outcomes.report.charts.rendering import Drawing, Picture
from outcomes.report.charts.theme import DASHES, INK, PALE, QUIET, SMALL, Panel, either
from outcomes.report.finding_index import finding_place, main_findings, shown_as
from outcomes.report.sentences import measure_words, short_result, signed_change, unit_words, with_interval
from outcomes.report.traced_text import plain

WIDTH, ROW_HEIGHT = 250, 54
ENDS = {"poor": ("fewer poor results with advanced", "more"), "value": ("less with advanced", "more")}


def differences_picture(comparison: Comparison, protocol: Protocol) -> Picture | None:
    """Draw all main differences, one panel for each unit; None when none could be estimated."""
    held = [each for each in main_findings(comparison, protocol) if each.contrast.estimate is not None]
    if not held:
        return None
    drawing = Drawing("main-differences")
    kinds = dict.fromkeys((shown_as(each), unit_words(each, protocol)) for each in sorted(held, key=_order))
    panels = [
        _panel(drawing, [each for each in held if (shown_as(each), unit_words(each, protocol)) == kind], protocol)
        for kind in kinds
    ]
    window = protocol.window(protocol.primary_window).label
    title = f"Advanced minus grafted on the main measures, {window} after division"
    subtitle = [
        "Wide pale bar: what the missing lids alone could make of the crude difference. Line: interval.",
        "Left of zero means less with advanced skin, right of zero more.",
    ]
    chart = alt.vconcat(*panels, spacing=34).properties(title=alt.TitleParams(title, subtitle=subtitle))
    described = "; ".join(_described(each, protocol) for each in held)
    return drawing.picture(chart, title=title, description=f"{described}.")


def _order(finding: Finding) -> bool:
    return not finding.is_share


def _described(finding: Finding, protocol: Protocol) -> str:
    place, change = finding_place(finding), signed_change(finding, protocol)
    crude = plain(with_interval(place, "contrast", change))
    weighted = plain(with_interval(place, "adjusted", change)) if place.holds("adjusted") else "not estimated"
    return f"{measure_words(finding, protocol)}: crude {crude} {unit_words(finding, protocol)}, weighted {weighted}, {finding.verdict}"


def _panel(drawing: Drawing, findings: list[Finding], protocol: Protocol) -> Panel:
    outcome, unit = shown_as(findings[0]), unit_words(findings[0], protocol)
    by = 100 if outcome == "poor" else 1
    labels = [measure_words(each, protocol) for each in findings]
    names = alt.Y(
        "measure:N", sort=labels, title=None, axis=alt.Axis(labelLimit=230, domain=False, ticks=False, labelPadding=8)
    )
    left, right = ENDS[outcome]
    words = [
        f"← {left}" + "\u00a0" * 8 + f"{right} →",
        f"difference {unit} lids" if by > 1 else f"difference in {unit}",
    ]
    across = alt.X("low:Q", title=words, scale=reach(findings, by), axis=alt.Axis(tickCount=6))
    bounds = (
        drawing.chart(missing_bars(findings, labels, by))
        .mark_bar(height=40, color=PALE, stroke=PALE, strokeWidth=2)
        .encode(x=across, x2="high:Q", y=names)
    )
    ends = drawing.chart(difference_lines(findings, labels, by))
    offset = alt.YOffset("way:N", sort=CONTRASTS, scale=alt.Scale(paddingOuter=0.3))
    # The dashes tell the two ways apart where the shape is hidden by the line.
    lines = ends.mark_rule(strokeWidth=1.8).encode(
        x=across,
        x2="high:Q",
        y=names,
        yOffset=offset,
        strokeDash=either("way", CONTRASTS, DASHES),
    )
    points = ends.mark_point(size=70, strokeWidth=1.6, stroke=INK, opacity=1).encode(
        x=alt.X("estimate:Q"),
        y=names,
        yOffset=offset,
        shape=alt.Shape(
            "way:N", scale=alt.Scale(domain=CONTRASTS, range=["square", "triangle-up"]), legend=alt.Legend(title=None)
        ),
        fill=alt.Fill(
            "way:N", scale=alt.Scale(domain=CONTRASTS, range=[INK, "#ffffff"]), legend=alt.Legend(title=None)
        ),
    )
    nought = drawing.chart([{"nought": 0}]).mark_rule(color=INK, strokeWidth=1).encode(x="nought:Q")
    said = (
        drawing.chart(_said(findings, labels, protocol))
        .mark_text(
            align="left",
            lineBreak="\n",
            lineHeight=14,
            baseline="middle",
            fontSize=SMALL,
            color=QUIET,
            dy=-14,
        )
        .encode(x=alt.value(WIDTH + 12), y=names, text="said:N")
    )
    return alt.layer(bounds, nought, lines, points, said).properties(width=WIDTH, height=ROW_HEIGHT * len(findings))


def _said(findings: list[Finding], labels: list[str], protocol: Protocol) -> list[dict[str, Any]]:
    return [
        {
            "measure": label,
            "said": "\n".join(
                (
                    "grafted " + plain(short_result(each, "grafted", protocol)),
                    "advanced " + plain(short_result(each, "advanced", protocol)),
                    each.verdict or "",
                )
            ),
        }
        for each, label in zip(findings, labels, strict=True)
    ]
