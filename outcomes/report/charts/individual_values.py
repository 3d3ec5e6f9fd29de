"""What did every lid have? Each lid is one point, with the middle and the quartiles of its cohort beside it."""

from __future__ import annotations

import itertools
import math
from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, Finding, Values
from outcomes.protocol import COHORTS, Field, Protocol
from outcomes.report import formats
from outcomes.report.charts.rendering import Drawing, Picture
from outcomes.report.charts.theme import INK, QUIET, SMALL, Panel, cohort_point
from outcomes.report.finding_index import lid_by_lid, main_findings

PANEL_WIDTH, PANEL_HEIGHT, PANELS = 180, 150, 2
STEP, REACH, APART = 0.075, 0.42, 1.25
# Where many lids had one value they stand in several lines about it, as many as fit before the next value.
IN_LINE, LIFT, MOST_LINES = 12, 6.2, 8


def lids_picture(comparison: Comparison, protocol: Protocol) -> Picture | None:
    """Draw every lid seen in the primary window, one panel a main measure; None when there is no lid."""
    held = [each for each in main_findings(comparison, protocol) if lid_by_lid(each)]
    if not held:
        return None
    window = protocol.window(protocol.primary_window).label
    title = f"Every lid seen {window} after division"
    subtitle = [
        "Each point is one lid. The bar is from the lower to the upper quartile,",
        "the line across it the median.",
    ]
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
    written = formats.measured(field)
    parts = [
        f"{cohort} median {written(held.median)} {field.unit}".strip() + f" in {held.n} lids"
        for cohort in COHORTS
        if isinstance(held := getattr(finding, cohort), Values) and held.median is not None
    ]
    return f"{measure.label}: {', '.join(parts)}"


def _panel(drawing: Drawing, finding: Finding, protocol: Protocol) -> Panel:
    measure = protocol.measure(finding.measure)
    field = protocol.value_field(measure)
    reach = _reach(finding)
    points = [point for at, cohort in enumerate(COHORTS) for point in _points(finding, cohort, APART * at, reach)]
    middles = [_middle(finding, cohort, APART * at) for at, cohort in enumerate(COHORTS)]
    across: dict[str, Any] = {"scale": alt.Scale(domain=[-0.6, 1.85], nice=False), "axis": _cohort_axis(finding)}
    up: dict[str, Any] = {
        "title": None,
        "scale": alt.Scale(domain=list(reach), nice=False),
        "axis": _value_axis(field, points),
    }
    dots = (
        drawing.chart(points)
        .mark_point(size=26, strokeWidth=1.2, opacity=1)
        .encode(
            x=alt.X("x:Q", **across),
            y=alt.Y("y:Q", **up),
            **cohort_point(legend=False),
        )
    )
    beside = drawing.chart([each for each in middles if each]).encode(x=alt.X("x:Q", **across))
    bars = beside.mark_bar(width=7, color="#b9b9b9").encode(y=alt.Y("q1:Q", **up), y2="q3:Q")
    line = beside.mark_tick(thickness=2.5, size=18, color=INK, orient="horizontal").encode(y=alt.Y("median:Q", **up))
    unit = f" ({field.unit})" if field.unit else ""
    heading = drawing.chart([{"words": f"{measure.label}{unit}"}]).mark_text(
        align="left", fontSize=13, fontWeight="bold"
    )
    heading = heading.encode(x=alt.value(0), y=alt.value(-14), text="words:N")
    return alt.layer(bars, line, dots, heading).properties(width=PANEL_WIDTH, height=PANEL_HEIGHT)


def _reach(finding: Finding) -> tuple[float, float]:
    values = [value for cohort in COHORTS for value, _ in getattr(finding, cohort).counts]
    least, greatest = min(values), max(values)
    room = max(greatest - least, 1.0) * 0.12
    return least - room, greatest + room


def _points(finding: Finding, cohort: str, centre: float, reach: tuple[float, float]) -> list[dict[str, Any]]:
    counts = getattr(finding, cohort).counts
    lift = LIFT * (reach[1] - reach[0]) / PANEL_HEIGHT
    lines = _lines_between([value for value, _ in counts], lift)
    points = []
    for value, many in counts:
        tall = min(lines, math.ceil(many / IN_LINE))
        wide = math.ceil(many / tall)
        step = min(STEP, 2 * REACH / max(wide - 1, 1))
        for number in range(many):
            line, place = divmod(number, wide)
            length = min(wide, many - line * wide)
            x = centre + step * (place - (length - 1) / 2)
            points.append({"cohort": cohort, "value": value, "x": x, "y": value + lift * (line - (tall - 1) / 2)})
    return points


def _lines_between(values: list[float], lift: float) -> int:
    """Say how many lines of points fit between neighbouring values."""
    gaps = [after - before for before, after in itertools.pairwise(sorted(values))]
    return max(1, int(min(gaps) / lift) - 1) if gaps else MOST_LINES


def _middle(finding: Finding, cohort: str, centre: float) -> dict[str, Any]:
    held = getattr(finding, cohort)
    if held.median is None:
        return {}
    q1, q3 = (held.median if end is None else end for end in (held.q1, held.q3))
    return {"x": centre + 0.53, "median": held.median, "q1": q1, "q3": q3}


def _cohort_axis(finding: Finding) -> alt.Axis:
    words = [f"{cohort} (n {getattr(finding, cohort).n})" for cohort in COHORTS]
    expression = f"datum.value < 0.5 ? {words[0]!r} : {words[1]!r}"
    return alt.Axis(
        values=[0, APART],
        labelExpr=expression,
        title=None,
        grid=False,
        ticks=False,
        domain=False,
        labelPadding=5,
    )


def _value_axis(field: Field, points: list[dict[str, Any]]) -> alt.Axis:
    if not field.levels:
        return alt.Axis(title=None, tickCount=5)
    levels = list(range(int(max(point["value"] for point in points)) + 1))
    expression = f"{list(field.levels)!r}[datum.value]"
    return alt.Axis(
        title=None, values=levels, labelExpr=expression, labelLimit=130, labelFontSize=SMALL, labelColor=QUIET
    )
