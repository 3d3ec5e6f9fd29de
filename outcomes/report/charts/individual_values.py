"""Every lid as one point, with the median and the quartiles of its cohort beside it."""

from __future__ import annotations

import itertools
import math
from functools import partial
from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, Finding, Values, exact
from outcomes.protocol import COHORTS, Field, Protocol
from outcomes.report import formats
from outcomes.report.charts.drawing import NOMINAL, Canvas, Chart, Figure
from outcomes.report.charts.theme import INK, QUIET, Panel, Size, cohort_point
from outcomes.report.finding_index import lid_by_lid, main_findings, who_phrase

HEIGHT = 11.5
MOST_NARROW = 6  # panels: a column of print has not the height for so many
STEP, REACH, APART = 0.075, 0.42, 1.25
# Where many lids had one value they stand in several lines about it, as many as fit before the next value.
IN_LINE, LIFT, MOST_LINES = 12, 0.52, 8
MOST_POINTS = 150  # of a cohort in a panel
ONE, SEVERAL = "Each point is one lid.", "Each point stands for up to {} lids of one value."
WORDS = "The bar is from the lower to the upper quartile, the line across it the median."


def lids_figures(comparison: Comparison, protocol: Protocol) -> tuple[Figure, ...]:
    """Every lid measured in the primary window, one panel a main measure; nothing when there is no lid."""
    findings = [each for each in main_findings(comparison, protocol) if lid_by_lid(each)]
    if not findings:
        return ()
    window = protocol.window(protocol.primary_window).label
    return (
        Figure(
            "every-lid",
            f"Every lid measured {window} after division",
            ((f"{_point_words(findings)} {WORDS}",), who_phrase(comparison)),
            "; ".join(_described(each, protocol) for each in findings) + ".",
            partial(_chart, findings, protocol),
            single_lids=True,
            narrow=len(findings) < MOST_NARROW,
        ),
    )


def _point_words(findings: list[Finding]) -> str:
    most = max(_lids_a_point(each) for each in findings)
    return ONE if most == 1 else SEVERAL.format(most)


def _lids_a_point(finding: Finding) -> int:
    """How many lids of one value a point stands for, so that no cohort has many more than 150."""
    return max(1, *(math.ceil(exact(getattr(finding, cohort).n) / MOST_POINTS) for cohort in COHORTS))


def _described(finding: Finding, protocol: Protocol) -> str:
    measure = protocol.measure(finding.measure)
    field = protocol.value_field(measure)
    written = formats.measured(field)
    parts = [
        f"{cohort} median {written(side.median)} {field.unit}".strip() + f" in {formats.count(side.n)} lids"
        for cohort in COHORTS
        if isinstance(side := getattr(finding, cohort), Values) and side.median is not None
    ]
    return f"{measure.label}: {', '.join(parts)}"


def _chart(findings: list[Finding], protocol: Protocol, canvas: Canvas, size: Size) -> Chart:
    panels = (_panel(each, protocol, canvas, size) for each in findings)
    spacing: dict[str, Any] = {"row": size.em(3.8), "column": size.em(6)}
    chart: Chart = alt.concat(*panels, columns=min(size.columns, len(findings)), spacing=spacing, bounds="flush")
    return chart


def _panel(finding: Finding, protocol: Protocol, canvas: Canvas, size: Size) -> Panel:
    measure = protocol.measure(finding.measure)
    field = protocol.value_field(measure)
    reach = _reach(finding)
    points = [point for at, cohort in enumerate(COHORTS) for point in _points(finding, cohort, APART * at, reach)]
    middles = [_middle(finding, cohort, APART * at) for at, cohort in enumerate(COHORTS)]
    across: dict[str, Any] = {"scale": alt.Scale(domain=[-0.6, 1.85], nice=False), "axis": _cohort_axis(finding)}
    up: dict[str, Any] = {
        "title": None,
        "scale": alt.Scale(domain=list(reach), nice=False),
        "axis": _value_axis(field, points, size),
    }
    dots = (
        canvas.chart(points)
        .mark_point(size=size.point / 3.4, strokeWidth=size.em(0.08), opacity=1)
        .encode(
            x=alt.X("x:Q", **across),
            y=alt.Y("y:Q", **up),
            **cohort_point(legend=False),
            tooltip=["cohort:N", "value:Q"],
        )
    )
    beside = canvas.chart([each for each in middles if each]).encode(x=alt.X("x:Q", **across))
    bars = beside.mark_bar(width=size.em(0.6), color="#b9b9b9").encode(y=alt.Y("q1:Q", **up), y2="q3:Q")
    line = beside.mark_tick(thickness=size.em(0.2), size=size.em(1.5), color=INK, orient="horizontal")
    unit = f" ({field.unit})" if field.unit else ""
    return alt.layer(bars, line.encode(y=alt.Y("median:Q", **up)), dots).properties(
        width=NOMINAL, height=size.em(HEIGHT), title=f"{measure.label}{unit}"
    )


def _reach(finding: Finding) -> tuple[float, float]:
    """The values that the axis reaches: to those recorded, and to the outermost line of points about the least and the greatest."""
    counts = [each for cohort in COHORTS for each in getattr(finding, cohort).counts]
    least, greatest = min(counts)[0], max(counts)[0]
    span = max(greatest - least, 1.0)
    tallest = max(_lines_needed(finding, lids) for value, lids in counts if value in {least, greatest})
    part = LIFT * (tallest + 1) / 2 / HEIGHT  # of the axis, that the lines on one side of a value take
    room = max(0.12, part / (1 - 2 * part)) * span
    return least - room, greatest + room


def _lines_needed(finding: Finding, lids: int) -> int:
    """In how many lines so many lids of one value would stand if there were room for all."""
    return min(MOST_LINES, math.ceil(math.ceil(lids / _lids_a_point(finding)) / IN_LINE))


def _points(finding: Finding, cohort: str, centre: float, reach: tuple[float, float]) -> list[dict[str, Any]]:
    counts = getattr(finding, cohort).counts
    lift = LIFT * (reach[1] - reach[0]) / HEIGHT
    lines = _lines_between([value for value, _ in counts], lift)
    points = []
    for value, lids in counts:
        many = math.ceil(lids / _lids_a_point(finding))
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
    """How many lines of points fit between neighbouring values."""
    gaps = [after - before for before, after in itertools.pairwise(sorted(values))]
    return max(1, int(min(gaps) / lift) - 1) if gaps else MOST_LINES


def _middle(finding: Finding, cohort: str, centre: float) -> dict[str, Any]:
    side = getattr(finding, cohort)
    if side.median is None:
        return {}
    q1, q3 = (side.median if end is None else end for end in (side.q1, side.q3))
    return {"x": centre + 0.53, "median": side.median, "q1": q1, "q3": q3}


def _cohort_axis(finding: Finding) -> alt.Axis:
    words = [f"{cohort} (n {formats.count(getattr(finding, cohort).n)})" for cohort in COHORTS]
    expression = f"datum.value < 0.5 ? {words[0]!r} : {words[1]!r}"
    return alt.Axis(values=[0, APART], labelExpr=expression, title=None, grid=False, ticks=False, domain=False)


def _value_axis(field: Field, points: list[dict[str, Any]], size: Size) -> alt.Axis:
    if not field.levels:
        return alt.Axis(title=None, tickCount=5)
    levels = list(range(int(max(point["value"] for point in points)) + 1))
    expression = f"{list(field.levels)!r}[datum.value]"
    return alt.Axis(title=None, values=levels, labelExpr=expression, labelLimit=size.em(11), labelColor=QUIET)
