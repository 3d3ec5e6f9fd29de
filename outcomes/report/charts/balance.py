"""How alike are the cohorts, before and after weighting for the choice of cover?"""

from __future__ import annotations

from typing import Any

import altair as alt

from outcomes.findings.results import BalanceLine, Comparison
from outcomes.protocol import Protocol
from outcomes.report import formats
from outcomes.report.charts.rendering import Drawing, Picture
from outcomes.report.charts.theme import INK, QUIET, Panel

WIDTH, ROW_HEIGHT = 290, 19
WAYS = ["before weighting", "after weighting"]


def balance_picture(comparison: Comparison, protocol: Protocol) -> Picture | None:
    """Draw the standardised difference of each characteristic before and after weighting; None when there is none."""
    held = [line for line in comparison.balance if line.smd is not None and not line.consequence]
    if not held:
        return None
    drawing = Drawing("balance")
    title = "How alike the cohorts are, before and after weighting"
    bound = protocol.rules.imbalance_smd
    subtitle = [f"Between the dotted lines (±{bound:g}) the cohorts count as alike."]
    labels = [_label(line) for line in held]
    points = [row for line, label in zip(held, labels, strict=True) for row in _rows(line, label)]
    chart = _chart(drawing, points, labels, bound).properties(
        width=WIDTH,
        height=ROW_HEIGHT * len(labels),
        title=alt.TitleParams(title, subtitle=subtitle),
    )
    return drawing.picture(chart, title=title, description="; ".join(_described(row) for row in points) + ".")


def _label(line: BalanceLine) -> str:
    return line.label if line.level in {"", "yes"} else f"{line.label}: {line.level}"


def _described(row: dict[str, Any]) -> str:
    return f"{row['label']} {row['way']} {formats.standardised(row['smd'])}"


def _rows(line: BalanceLine, label: str) -> list[dict[str, Any]]:
    both = zip(WAYS, (line.smd, line.smd_adjusted), strict=True)
    return [{"label": label, "way": way, "smd": smd} for way, smd in both if smd is not None]


def _chart(drawing: Drawing, points: list[dict[str, Any]], labels: list[str], bound: float) -> Panel:
    names = alt.Y(
        "label:N",
        sort=labels,
        title=None,
        axis=alt.Axis(domain=False, ticks=False, labelPadding=8, grid=True),
    )
    across = alt.X(
        "smd:Q",
        title="standardised difference, advanced minus grafted",
        scale=alt.Scale(padding=12),
        axis=alt.Axis(tickCount=7, grid=False),
    )
    limits = drawing.chart([{"at": -bound}, {"at": bound}]).mark_rule(strokeDash=[1, 3], color=QUIET, strokeWidth=1.4)
    nought = drawing.chart([{"at": 0}]).mark_rule(color=INK, strokeWidth=1)
    dots = (
        drawing.chart(points)
        .mark_point(size=52, strokeWidth=1.6, stroke=INK, opacity=1)
        .encode(
            x=across,
            y=names,
            shape=alt.Shape(
                "way:N", scale=alt.Scale(domain=WAYS, range=["square", "triangle-up"]), legend=alt.Legend(title=None)
            ),
            fill=alt.Fill("way:N", scale=alt.Scale(domain=WAYS, range=["#ffffff", INK]), legend=alt.Legend(title=None)),
        )
    )
    return alt.layer(limits.encode(x="at:Q"), nought.encode(x="at:Q"), dots)
