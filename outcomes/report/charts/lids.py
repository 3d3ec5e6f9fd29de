"""What did every lid have? Each lid is one point, with the middle and the quartiles of its cohort beside it."""

from __future__ import annotations

from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, Finding, Values
from outcomes.protocol import COHORTS, Field, Protocol
from outcomes.report import wording
from outcomes.report.charts.picture import Drawing, Picture
from outcomes.report.charts.style import INK, QUIET, SMALL, cohort_point
from outcomes.report.lookup import main_findings, seen

PANEL_WIDTH, PANEL_HEIGHT, PANELS = 180, 150, 2
STEP, REACH = 0.075, 0.38


def lids_picture(comparison: Comparison, protocol: Protocol) -> Picture | None:
    """Draw every lid seen in the primary window, one panel a main measure; None when there is no lid."""
    held = [each for each in main_findings(comparison, protocol) if isinstance(each.grafted, Values) and seen(each)]
    if not held:
        return None
    window = protocol.window(protocol.primary_window).label
    title = f"Every lid seen {window} after division"
    subtitle = ["Each point is one lid. The bar is from the lower to the upper quartile,", "the line across it the median."]
    drawing = Drawing("every-lid")
    panels = (_panel(drawing, each, protocol) for each in held)
    chart = alt.concat(*panels, columns=PANELS, bounds="flush", spacing={"row": 70, "column": 78}).properties(
        title=alt.TitleParams(title, subtitle=subtitle, offset=16),
    )
    described = "; ".join(_described(each, protocol) for each in held)
    return drawing.picture(chart, title=title, description=f"{described}.")


def _described(finding: Finding, protocol: Protocol) -> str:
    measure = protocol.measure(finding.measure)
    field = protocol.value_field(measure)
    written = wording.measured(field)
    parts = [
        f"{cohort} median {written(held.median)} {field.unit}".strip() + f" in {held.n} lids"
        for cohort in COHORTS
        if isinstance(held := getattr(finding, cohort), Values) and held.median is not None
    ]
    return f"{measure.label}: {', '.join(parts)}"


def _panel(drawing: Drawing, finding: Finding, protocol: Protocol) -> alt.LayerChart:
    measure = protocol.measure(finding.measure)
    field = protocol.value_field(measure)
    points = [point for at, cohort in enumerate(COHORTS) for point in _points(finding, cohort, at)]
    middles = [_middle(finding, cohort, at) for at, cohort in enumerate(COHORTS)]
    across = alt.X("x:Q", scale=alt.Scale(domain=[-0.55, 1.75], nice=False), axis=_cohort_axis(finding))
    up = alt.Y("value:Q", title=None, scale=alt.Scale(nice=5), axis=_value_axis(field, [point["value"] for point in points]))
    dots = drawing.chart(points).mark_point(size=34, strokeWidth=1.3, opacity=1).encode(
        x=across, y=up, **cohort_point(legend=False),
    )
    found = [each for each in middles if each]
    bars = drawing.chart(found).mark_bar(width=7, color="#b9b9b9").encode(
        x=alt.X("beside:Q"), y=alt.Y("q1:Q", title=None), y2="q3:Q",
    )
    line = drawing.chart(found).mark_tick(thickness=2.5, size=20, color=INK, orient="horizontal").encode(
        x="beside:Q", y=alt.Y("median:Q", title=None),
    )
    unit = f" ({field.unit})" if field.unit else ""
    return alt.layer(bars, line, dots).properties(
        width=PANEL_WIDTH, height=PANEL_HEIGHT, title=alt.TitleParams(f"{measure.label}{unit}", fontSize=13, frame="group"),
    )


def _points(finding: Finding, cohort: str, at: int) -> list[dict[str, Any]]:
    held = getattr(finding, cohort)
    most = max((number for _, number in held.counts), default=1)
    step = min(STEP, 2 * REACH / max(most - 1, 1))
    return [
        {"cohort": cohort, "value": value, "x": at + (at * 0.2) + step * (number - (many - 1) / 2)}
        for value, many in held.counts for number in range(many)
    ]


def _middle(finding: Finding, cohort: str, at: int) -> dict[str, Any]:
    held = getattr(finding, cohort)
    if held.median is None:
        return {}
    q1, q3 = (held.median if end is None else end for end in (held.q1, held.q3))
    return {"beside": at + at * 0.2 + 0.5 , "median": held.median, "q1": q1, "q3": q3}


def _cohort_axis(finding: Finding) -> alt.Axis:
    words = [f"{cohort} (n {getattr(finding, cohort).n})" for cohort in COHORTS]
    expression = f"datum.value < 0.5 ? '{words[0]}' : '{words[1]}'"
    return alt.Axis(values=[0, 1.2], labelExpr=expression, title=None, grid=False, ticks=False, domain=False, labelPadding=9)


def _value_axis(field: Field, values: list[float]) -> alt.Axis:
    if not field.levels:
        return alt.Axis(title=None, tickCount=5)
    levels = list(range(int(max(values, default=1)) + 1))
    expression = f"{list(field.levels)!r}[datum.value]"
    return alt.Axis(title=None, values=levels, labelExpr=expression, labelLimit=130, labelFontSize=SMALL, labelColor=QUIET)
