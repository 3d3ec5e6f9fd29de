"""When did it happen? The share of each cohort who had the event, in steps, with the lids still at risk beneath."""

from __future__ import annotations

from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, Curve
from outcomes.protocol import COHORTS, Protocol, Timed
from outcomes.report import formats
from outcomes.report.charts.chart_rows import curve_band, curve_lines
from outcomes.report.charts.rendering import Drawing, Picture
from outcomes.report.charts.theme import COLOURS, SMALL, Panel, cohort_line, either

WIDTH, HEIGHT, LINE = 380, 190, 16


def curves_pictures(comparison: Comparison, protocol: Protocol) -> tuple[Picture, ...]:
    """Draw each timed event that has a curve; an event without one has no picture."""
    held = {
        timed: [curve for curve in comparison.curves if curve.event == timed.id and curve.points]
        for timed in protocol.timed
    }
    return tuple(_picture(timed, curves) for timed, curves in held.items() if curves)


def _picture(timed: Timed, curves: list[Curve]) -> Picture:
    drawing = Drawing(f"curve-{timed.id.replace('_', '-')}")
    since = "operation" if timed.clock == "operation" else "division"
    title = f"{timed.label}: share of lids, by time since {since}"
    edged = any(curve.upper for curve in curves)
    subtitle = (
        [
            "Seen only at reviews: the curve lies between the two edges.",
            "Curves stop where too few were still at risk.",
        ]
        if edged
        else ["Band: interval at each time.", "Curves stop where too few were still at risk."]
    )
    chart = alt.vconcat(_steps(drawing, curves, since), _risk(drawing, curves), spacing=4).resolve_scale(x="shared")
    chart = chart.properties(title=alt.TitleParams(title, subtitle=subtitle))
    return drawing.picture(chart, title=title, description=_described(curves))


def _described(curves: list[Curve]) -> str:
    said = []
    for curve in curves:
        last = curve.points[-1]
        risk = ", ".join(f"{number} at {month} months" for month, number in curve.at_risk)
        upper = f" to {formats.percent(curve.upper[-1].estimate)}" if curve.upper else ""
        said.append(
            f"{curve.cohort}: {formats.percent(last.estimate)}{upper} by {formats.months(last.months)} months; at risk {risk}",
        )
    return "; ".join(said) + "."


def _across(curves: list[Curve]) -> alt.Scale:
    months: list[float] = [month for curve in curves for month, _ in curve.at_risk]
    months.extend(point.months for curve in curves for point in curve.points)
    return alt.Scale(domain=[0, max(months) or 1], nice=False)


def _ticks(curves: list[Curve]) -> list[int]:
    return sorted({month for curve in curves for month, _ in curve.at_risk})


def _steps(drawing: Drawing, curves: list[Curve], since: str) -> Panel:
    axis = alt.Axis(values=_ticks(curves), grid=False)
    x = alt.X("months:Q", title=f"months since {since}", scale=_across(curves), axis=axis)
    up: dict[str, Any] = {
        "title": None,
        "scale": alt.Scale(zero=True, nice=True),
        "axis": alt.Axis(format=".0%", tickCount=5),
    }
    band = (
        drawing.chart([row for curve in curves for row in curve_band(curve)])
        .mark_area(
            interpolate="step-after",
            fillOpacity=0.16,
        )
        .encode(x=x, y=alt.Y("low:Q", **up), y2="high:Q", detail="cohort:N", fill=either("cohort", COHORTS, COLOURS))
    )
    lines = (
        drawing.chart([row for curve in curves for row in curve_lines(curve)])
        .mark_line(
            interpolate="step-after",
            strokeWidth=2,
        )
        .encode(x=x, y=alt.Y("estimate:Q", **up), detail="edge:N", **cohort_line(legend=True))
    )
    return alt.layer(band, lines).properties(width=WIDTH, height=HEIGHT)


def _risk(drawing: Drawing, curves: list[Curve]) -> Panel:
    rows = [
        {"months": month, "cohort": curve.cohort, "lids": formats.count(number)}
        for curve in curves
        for month, number in curve.at_risk
    ]
    names = alt.Y(
        "cohort:N",
        sort=list(COHORTS),
        title=None,
        axis=alt.Axis(domain=False, ticks=False, labelPadding=22, labelFontSize=SMALL),
    )
    x = alt.X("months:Q", title=None, scale=_across(curves), axis=None)
    numbers = drawing.chart(rows).mark_text(fontSize=SMALL).encode(x=x, y=names, text="lids:N")
    heading = (
        drawing.chart([{"words": "lids still at risk"}])
        .mark_text(align="left", fontSize=SMALL, dy=-9)
        .encode(
            x=alt.value(0),
            y=alt.value(0),
            text="words:N",
        )
    )
    return alt.layer(numbers, heading).properties(width=WIDTH, height=LINE * len({curve.cohort for curve in curves}))
