"""The balance plot: standardised differences of the characteristics before and after weighting."""

from __future__ import annotations

from functools import partial
from typing import Any

import altair as alt

from outcomes.findings.results import BalanceLine, Comparison
from outcomes.protocol import Protocol
from outcomes.report import formats
from outcomes.report.charts.drawing import NOMINAL, Canvas, Chart, Figure
from outcomes.report.charts.theme import INK, QUIET, Size
from outcomes.report.finding_index import rule_place, who_phrase
from outcomes.report.traced_text import say

WAYS = ["before weighting", "after weighting"]


def balance_figures(
    comparison: Comparison, protocol: Protocol, lines: tuple[BalanceLine, ...] | None = None
) -> tuple[Figure, ...]:
    """The balance of all characteristics, or of those given; nothing when no standardised difference is known."""
    known = [
        line
        for line in (comparison.balance if lines is None else lines)
        if line.smd is not None and not line.consequence
    ]
    if not known:
        return ()
    rows = [row for line in known for row in _rows(line)]
    bound = rule_place(protocol).figure("imbalance_smd", lambda value: f"{value:g}")
    words = (
        "Standardised differences, advanced minus grafted. Between the dotted lines (±{}) the cohorts count as alike."
    )
    return (
        Figure(
            "balance",
            "Balance of the cohorts before and after weighting",
            (say(words, bound), who_phrase(comparison)),
            "; ".join(f"{row['label']} {row['way']} {formats.standardised(row['smd'])}" for row in rows) + ".",
            partial(_chart, rows, protocol.rules.imbalance_smd),
            around=15,
        ),
    )


def _rows(line: BalanceLine) -> list[dict[str, Any]]:
    label = line.label if line.level in {"", "yes"} else f"{line.label}: {line.level}"
    both = zip(WAYS, (line.smd, line.smd_adjusted), strict=True)
    return [{"label": label, "way": way, "smd": smd} for way, smd in both if smd is not None]


def _chart(rows: list[dict[str, Any]], bound: float, canvas: Canvas, size: Size) -> Chart:
    labels = list(dict.fromkeys(row["label"] for row in rows))
    names = alt.Y(
        "label:N", sort=labels, title=None, axis=alt.Axis(domain=False, ticks=False, grid=True, labelLimit=size.em(33))
    )
    across = alt.X(
        "smd:Q",
        title=["standardised difference,", "advanced minus grafted"],
        scale=alt.Scale(padding=size.em(0.8)),
        axis=alt.Axis(tickCount=5, grid=False),
    )
    limits = canvas.chart([{"at": -bound}, {"at": bound}]).mark_rule(
        strokeDash=[1, 3], color=QUIET, strokeWidth=size.em(0.12)
    )
    zero = canvas.chart([{"at": 0}]).mark_rule(color=INK, strokeWidth=size.em(0.08))
    legend = alt.Legend(title=None, columns=2)
    dots = (
        canvas.chart(rows)
        .mark_point(size=size.point, strokeWidth=size.line, stroke=INK, opacity=1)
        .encode(
            x=across,
            y=names,
            shape=alt.Shape("way:N", scale=alt.Scale(domain=WAYS, range=["square", "triangle-up"]), legend=legend),
            fill=alt.Fill("way:N", scale=alt.Scale(domain=WAYS, range=["#ffffff", INK]), legend=legend),
            tooltip=["label:N", "way:N", alt.Tooltip("smd:Q", format=".2f")],
        )
    )
    drawn: Chart = alt.layer(limits.encode(x="at:Q"), zero.encode(x="at:Q"), dots).properties(
        width=NOMINAL, height=size.em(1.5) * len(labels)
    )
    return drawn
