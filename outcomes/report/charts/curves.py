"""Curves of events in time, in steps, with the lids still at risk beneath; and shares at fixed months where no curve is told."""

from __future__ import annotations

from functools import partial
from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, Curve, TimedFinding
from outcomes.protocol import COHORTS, Protocol, Timed
from outcomes.report import formats
from outcomes.report.charts.chart_rows import MOST_STEPS, curve_band, curve_lines, middle
from outcomes.report.charts.drawing import HOVER, NOMINAL, Canvas, Chart, Figure, addressed
from outcomes.report.charts.theme import Panel, Size, cohort_colour, cohort_line, cohort_point, upright_intervals
from outcomes.report.finding_index import who_phrase

LEAST_HEIGHT = 0.05  # of the axis: a share of none has a scale too
TOOLTIP = [
    "cohort:N",
    alt.Tooltip("months:Q", format=".1f"),
    *(alt.Tooltip(f"{name}:Q", format=".1%") for name in ("estimate", "low", "high")),
]
BAND = "Band: interval at each time."
EDGES = "Seen only at reviews: each curve lies between the two edges of its band."
FEWER = f"Of more than {MOST_STEPS} steps of a curve, the last in each {MOST_STEPS}th of its time is drawn."
STOP = "Curves stop where too few lids are still at risk."
MONTHS_WORDS = (
    "Share of lids that had it by each month, with its interval. The clock is named under each panel; the numbers are in the "
    "table of timed events."
)


def curves_figures(comparison: Comparison, protocol: Protocol) -> tuple[Figure, ...]:
    """One figure a timed event that has a curve."""
    held = {
        timed: [curve for curve in comparison.curves if curve.event == timed.id and curve.points]
        for timed in protocol.timed
    }
    return tuple(_figure(timed, curves, comparison) for timed, curves in held.items() if curves)


def _figure(timed: Timed, curves: list[Curve], comparison: Comparison) -> Figure:
    band = EDGES if any(curve.upper for curve in curves) else BAND
    many = any(max(len(curve.points), len(curve.upper)) > MOST_STEPS for curve in curves)
    return Figure(
        f"curve-{timed.id.replace('_', '-')}",
        f"{timed.label}: share of lids, by time since {since(timed)}",
        ((f"{band} {STOP} {FEWER}" if many else f"{band} {STOP}",), who_phrase(comparison)),
        _described(curves),
        partial(_chart, curves, since(timed)),
        around=6,
    )


def since(timed: Timed) -> str:
    """From which day the months of a timed event are counted."""
    return "operation" if timed.clock == "operation" else "division"


def _described(curves: list[Curve]) -> str:
    parts = []
    for curve in curves:
        last = curve.points[-1]
        risk = ", ".join(f"{number} at {month} months" for month, number in curve.at_risk)
        upper = f" to {formats.percent(curve.upper[-1].estimate)}" if curve.upper else ""
        share = f"{formats.percent(last.estimate)}{upper} by {formats.months(last.months)} months"
        parts.append(f"{curve.cohort}: {share}; at risk {risk}")
    return "; ".join(parts) + "."


def _chart(curves: list[Curve], clock: str, canvas: Canvas, size: Size) -> Chart:
    months: list[float] = [month for curve in curves for month, _ in curve.at_risk]
    months.extend(point.months for curve in curves for point in curve.points)
    across = alt.Scale(domain=[0, max(months) or 1], nice=False)
    ticks = sorted({month for curve in curves for month, _ in curve.at_risk})
    x = alt.X("months:Q", title=f"months since {clock}", scale=across, axis=alt.Axis(values=ticks, grid=False))
    chart: Chart = alt.vconcat(
        _steps(curves, x, canvas, size), _risk(curves, across, canvas, size), spacing=size.em(0.3)
    ).resolve_scale(x="shared")
    return chart


def _steps(curves: list[Curve], x: alt.X, canvas: Canvas, size: Size) -> Panel:
    bands = [row for curve in curves for row in curve_band(curve)]
    rows = [row for curve in curves for row in curve_lines(curve)]
    highest = max([LEAST_HEIGHT, *(row["high"] for row in bands), *(row["estimate"] for row in rows)])
    up: dict[str, Any] = {
        "title": None,
        "scale": alt.Scale(domain=[0, highest], nice=True),
        "axis": alt.Axis(format=".0%", tickCount=5),
    }
    band = (
        canvas.chart(bands)
        .mark_area(interpolate="step-after", opacity=0.2, clip=True, line=False)
        .encode(x=x, y=alt.Y("low:Q", **up), y2="high:Q", detail="cohort:N", fill=cohort_colour())
    )
    drawn = canvas.chart(rows)
    estimate = alt.Y("estimate:Q", **up)
    lines = drawn.mark_line(interpolate="step-after", strokeWidth=size.em(0.16), clip=True).encode(
        x=x, y=estimate, detail="edge:N", **cohort_line(size)
    )
    hover = drawn.mark_point(size=size.point * 2, opacity=0).encode(x=x, y=estimate, tooltip=TOOLTIP)
    return alt.layer(band, lines, hover.properties(name=HOVER)).properties(
        width=NOMINAL, height=size.em(14 * size.plot)
    )


def _risk(curves: list[Curve], across: alt.Scale, canvas: Canvas, size: Size) -> Panel:
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
    half = 0.3 * size.small * max(len(str(row["lids"])) for row in rows)  # of the widest number, about
    axis = alt.Axis(domain=False, ticks=False, labelPadding=max(size.em(1.3), half + size.em(0.4)), grid=False)
    names = alt.Y("cohort:N", sort=list(COHORTS), title=None, axis=axis)
    x = alt.X("months:Q", title=None, scale=across, axis=None)
    numbers = canvas.chart(rows).mark_text(fontSize=size.small)
    heading = canvas.chart([{"words": "lids still at risk"}]).mark_text(
        align="left", fontSize=size.small, dy=-size.em(0.75)
    )
    return alt.layer(
        numbers.encode(x=x, y=names, text="lids:N", description="address:N"),
        heading.encode(x=alt.value(0), y=alt.value(0), text="words:N"),
    ).properties(width=NOMINAL, height=size.em(1.25) * len({curve.cohort for curve in curves}))


def months_figures(comparison: Comparison, protocol: Protocol) -> tuple[Figure, ...]:
    """The shares by fixed months, one panel a timed event, where no curve may be shown."""
    panels = {
        timed: [each for each in comparison.timing if each.event == timed.id and _estimated(each)]
        for timed in protocol.timed
    }
    panels = {timed: findings for timed, findings in panels.items() if findings}
    if not panels or comparison.curves:
        return ()
    return (
        Figure(
            "timing",
            "Events by month",
            ((MONTHS_WORDS,), who_phrase(comparison)),
            "; ".join(f"{timed.label}: {_months_described(findings)}" for timed, findings in panels.items()) + ".",
            partial(_months_chart, panels),
        ),
    )


def _estimated(finding: TimedFinding) -> bool:
    return any(getattr(finding, cohort).estimate is not None for cohort in COHORTS)


def _months_described(findings: list[TimedFinding]) -> str:
    return ", ".join(
        f"{each.at_months} months {cohort} {formats.percent(getattr(each, cohort).estimate)}"
        for each in findings
        for cohort in COHORTS
        if getattr(each, cohort).estimate is not None
    )


def _months_chart(panels: dict[Timed, list[TimedFinding]], canvas: Canvas, size: Size) -> Chart:
    drawn = (_months_panel(findings, timed, canvas, size) for timed, findings in panels.items())
    spacing: dict[str, Any] = {"row": size.em(1.2), "column": size.em(1.6)}
    chart: Chart = alt.concat(*drawn, columns=min(size.columns, len(panels)), spacing=spacing).resolve_scale(
        shape="shared", fill="shared", stroke="shared"
    )
    return chart


def _months_panel(findings: list[TimedFinding], timed: Timed, canvas: Canvas, size: Size) -> Panel:
    rows = [
        {"cohort": cohort, "months": each.at_months + 0.02 * max(timed.months) * (1 if number else -1), **share}
        for each in findings
        for number, cohort in enumerate(COHORTS)
        if (share := middle(getattr(each, cohort)))
    ]
    axis = alt.Axis(values=[each.at_months for each in findings], grid=False)
    scale = alt.Scale(domain=[0, 1.08 * max(timed.months)], nice=False)
    base = canvas.chart(rows).encode(x=alt.X("months:Q", title=f"months since {since(timed)}", scale=scale, axis=axis))
    up: dict[str, Any] = {
        "title": None,
        "scale": alt.Scale(zero=True, nice=True),
        "axis": alt.Axis(format=".0%", tickCount=4),
    }
    points = base.mark_point(size=size.point, strokeWidth=size.line, opacity=1)
    return alt.layer(
        *upright_intervals(base, up, size), points.encode(y=alt.Y("middle:Q", **up), **cohort_point(legend=True))
    ).properties(width=NOMINAL, height=size.em(8), title=timed.label)
