"""How are events in time drawn for a paper: curves with the lids still at risk, and shares at fixed moments?"""

from __future__ import annotations

from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, Curve, TimedFinding, TimedShare
from outcomes.protocol import COHORTS, Protocol, Timed
from outcomes.report import formats
from outcomes.report.charts.chart_rows import curve_band, curve_lines
from outcomes.report.charts.theme import COLOURS, DASHES, Panel, cohort_point, either, of_cohorts
from outcomes.report.pack.sizing import NOMINAL, SMALL, Canvas, Chart, addressed


def curves_of(comparison: Comparison, timed: Timed) -> list[Curve]:
    """The curves of one timed event that have any point."""
    return [curve for curve in comparison.curves if curve.event == timed.id and curve.points]


def curve_chart(curves: list[Curve], timed: Timed, canvas: Canvas) -> Chart:
    """Draw the share of each cohort who had the event, in steps, with the lids still at risk beneath."""
    since = "operation" if timed.clock == "operation" else "division"
    months: list[float] = [month for curve in curves for month, _ in curve.at_risk]
    months.extend(point.months for curve in curves for point in curve.points)
    across = alt.Scale(domain=[0, max(months) or 1], nice=False)
    ticks = sorted({month for curve in curves for month, _ in curve.at_risk})
    x = alt.X("months:Q", title=f"months since {since}", scale=across, axis=alt.Axis(values=ticks, grid=False))
    up: dict[str, Any] = {
        "title": None,
        "scale": alt.Scale(zero=True, nice=True),
        "axis": alt.Axis(format=".0%", tickCount=5),
    }
    band = (
        canvas.chart([row for curve in curves for row in curve_band(curve)])
        .mark_area(interpolate="step-after", opacity=0.16, clip=True)
        .encode(x=x, y=alt.Y("low:Q", **up), y2="high:Q", detail="cohort:N", fill=either("cohort", COHORTS, COLOURS))
    )
    legend = alt.Legend(title=None, symbolType="stroke", symbolSize=200)
    lines = (
        canvas.chart([row for curve in curves for row in curve_lines(curve)])
        .mark_line(interpolate="step-after", strokeWidth=1.2, clip=True)
        .encode(
            x=x,
            y=alt.Y("estimate:Q", **up),
            detail="edge:N",
            stroke=alt.Stroke("cohort:N", scale=of_cohorts(COLOURS), legend=legend),
            strokeDash=alt.StrokeDash("cohort:N", scale=of_cohorts([[1, 0], [4, 2]]), legend=legend),
        )
    )
    steps = alt.layer(band, lines).properties(width=NOMINAL, height=110)
    drawn: Chart = alt.vconcat(steps, _risk(curves, canvas, across), spacing=2).resolve_scale(x="shared")
    return drawn


def _risk(curves: list[Curve], canvas: Canvas, across: alt.Scale) -> Panel:
    rows = [
        {
            "months": month,
            "cohort": curve.cohort,
            "lids": formats.count(number),
            "address": addressed(f"curves.{curve.event}.{curve.cohort}.at_risk.{month}"),
        }
        for curve in curves
        for month, number in curve.at_risk
    ]
    names = alt.Y(
        "cohort:N", sort=list(COHORTS), title=None, axis=alt.Axis(domain=False, ticks=False, labelPadding=9, grid=False)
    )
    x = alt.X("months:Q", title=None, scale=across, axis=None)
    numbers = canvas.chart(rows).mark_text(fontSize=SMALL).encode(x=x, y=names, text="lids:N", description="address:N")
    heading = canvas.chart([{"words": "lids still at risk"}]).mark_text(align="left", fontSize=SMALL, dy=-6)
    heading = heading.encode(x=alt.value(0), y=alt.value(0), text="words:N")
    return alt.layer(numbers, heading).properties(width=NOMINAL, height=10 * len({curve.cohort for curve in curves}))


def timing_events(comparison: Comparison, protocol: Protocol) -> list[Timed]:
    """The timed events of which anything could be estimated."""
    told = {
        each.event
        for each in comparison.timing
        if each.grafted.estimate is not None or each.advanced.estimate is not None
    }
    return [timed for timed in protocol.timed if timed.id in told]


def timing_chart(comparison: Comparison, protocol: Protocol, canvas: Canvas) -> Chart:
    """Draw small panels, one a timed event: the share of each cohort who had it by each moment, with its interval."""
    panels = [
        _moments([each for each in comparison.timing if each.event == timed.id], timed, canvas)
        for timed in timing_events(comparison, protocol)
    ]
    spacing: dict[str, Any] = {"row": 8, "column": 8}
    drawn: Chart = alt.concat(*panels, columns=1, spacing=spacing).resolve_scale(
        shape="shared", fill="shared", stroke="shared"
    )
    return drawn


def _moments(findings: list[TimedFinding], timed: Timed, canvas: Canvas) -> Panel:
    rows = [
        {
            "cohort": cohort,
            "months": each.at_months + 0.02 * max(timed.months) * (1 if number else -1),
            **_share_by(getattr(each, cohort)),
        }
        for each in findings
        for number, cohort in enumerate(COHORTS)
        if getattr(each, cohort).estimate is not None
    ]
    since = "operation" if timed.clock == "operation" else "division"
    axis = alt.Axis(values=[each.at_months for each in findings], grid=False)
    scale = alt.Scale(domain=[0, 1.08 * max(timed.months)], nice=False)
    base = canvas.chart(rows).encode(x=alt.X("months:Q", title=f"months since {since}", scale=scale, axis=axis))
    up: dict[str, Any] = {
        "title": None,
        "scale": alt.Scale(zero=True, nice=True),
        "axis": alt.Axis(format=".0%", tickCount=4),
    }
    return alt.layer(
        base.mark_rule(strokeWidth=1).encode(
            y=alt.Y("low:Q", **up),
            y2="high:Q",
            stroke=either("cohort", COHORTS, COLOURS),
            strokeDash=either("cohort", COHORTS, DASHES),
        ),
        base.mark_point(size=16, strokeWidth=0.9, opacity=1).encode(
            y=alt.Y("middle:Q", **up), **cohort_point(legend=True)
        ),
    ).properties(width=NOMINAL, height=62, title=timed.label)


def _share_by(held: TimedShare) -> dict[str, float | None]:
    return {
        "middle": held.estimate,
        "low": held.estimate if held.low is None else held.low,
        "high": held.estimate if held.high is None else held.high,
    }
