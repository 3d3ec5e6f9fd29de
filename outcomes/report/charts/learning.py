"""The main measures smoothed over the order of cases, one panel a measure."""

from __future__ import annotations

from functools import partial
from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, LearningCourse
from outcomes.protocol import Measure, Protocol
from outcomes.report import formats
from outcomes.report.charts.drawing import HOVER, NOMINAL, Canvas, Chart, Figure
from outcomes.report.charts.theme import Panel, Size, cohort_colour, cohort_line
from outcomes.report.finding_index import who_phrase

WORDS = (
    "Across: the place of a lid in the order of operation among the lids of its cover. Line: mean at the main review, smoothed over the "
    "order and not adjusted. Band: its interval at each place. It explores and gives no verdict."
)
LEAST_ACROSS = 2
ENDS, DECIMALS = ("estimate", "low", "high"), 6  # beyond, a smooth of equal values has nothing but noise
Panels = dict[Measure, list[LearningCourse]]


def learning_figures(comparison: Comparison, protocol: Protocol) -> tuple[Figure, ...]:
    """The smoothed courses of the main measures; nothing where there are none, as in public output."""
    held = {
        measure: [each for each in comparison.learning if each.measure == measure.id]
        for measure in protocol.main_measures
    }
    panels = {measure: courses for measure, courses in held.items() if courses}
    if not panels:
        return ()
    return (
        Figure(
            "learning",
            "Main measures over the order of cases",
            ((WORDS,), who_phrase(comparison)),
            "; ".join(_described(measure, courses) for measure, courses in panels.items()) + ".",
            partial(_chart, panels, protocol),
        ),
    )


def _described(measure: Measure, courses: list[LearningCourse]) -> str:
    ends = (
        f"{each.cohort} from {formats.probability(each.points[0].estimate)} at lid {each.points[0].case} "
        f"to {formats.probability(each.points[-1].estimate)} at lid {each.points[-1].case}"
        for each in courses
    )
    return f"{measure.label}: {', '.join(ends)}"


def _chart(panels: Panels, protocol: Protocol, canvas: Canvas, size: Size) -> Chart:
    columns = min(max(size.columns, LEAST_ACROSS), len(panels))
    drawn = [
        _panel(measure, courses, protocol, canvas, size).encode(x=_order(titled=at >= len(panels) - columns))
        for at, (measure, courses) in enumerate(panels.items())
    ]
    spacing: dict[str, Any] = {"row": size.em(4.2), "column": size.em(3.6)}
    chart: Chart = alt.concat(*drawn, columns=columns, spacing=spacing, bounds="flush")
    return chart


def _order(*, titled: bool) -> alt.X:
    """The place in the order of operation, with its title under the lowest panels."""
    return alt.X(
        "lid:Q",
        title="place in the order" if titled else None,
        scale=alt.Scale(nice=False, zero=False),
        axis=alt.Axis(tickCount=4, grid=False),
    )


def _panel(measure: Measure, courses: list[LearningCourse], protocol: Protocol, canvas: Canvas, size: Size) -> Panel:
    rows = [
        {"cohort": each.cohort, "lid": at.case, **{name: round(getattr(at, name), DECIMALS) for name in ENDS}}
        for each in courses
        for at in each.points
    ]
    share = measure.main_outcome == "share"
    unit = "share" if share else formats.unit_of(protocol.value_field(measure))
    up: dict[str, Any] = {
        "title": None,
        "scale": alt.Scale(zero=False, nice=True),
        "axis": alt.Axis(tickCount=4, format=".0%") if share else alt.Axis(tickCount=4, format=".2~f"),
    }
    base = canvas.chart(rows)
    band = base.mark_area(opacity=0.2, line=False).encode(
        y=alt.Y("low:Q", **up), y2="high:Q", detail="cohort:N", fill=cohort_colour()
    )
    line = base.mark_line(strokeWidth=size.em(0.16)).encode(y=alt.Y("estimate:Q", **up), **cohort_line(size))
    tooltip = ["cohort:N", "lid:Q", *(alt.Tooltip(f"{name}:Q", format=".2f") for name in ENDS)]
    hover = base.mark_point(size=size.point * 2, opacity=0).encode(y=alt.Y("estimate:Q", **up), tooltip=tooltip)
    title = f"{measure.label} ({unit})"
    return alt.layer(band, line, hover.properties(name=HOVER)).properties(width=NOMINAL, height=size.em(8), title=title)
