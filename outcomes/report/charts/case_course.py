"""Small charts of one case: each measure against time since division, beside the fellow lid."""

from __future__ import annotations

from typing import Any

import altair as alt

from outcomes.findings.case_story import CaseStory, Course
from outcomes.protocol import Field, Measure, Protocol
from outcomes.report.case_tables import course_words
from outcomes.report.charts.rendering import Drawing, Picture
from outcomes.report.charts.theme import COLOURS, INK, QUIET, SMALL

WIDTH, HEIGHT, EVENT_WORDS = 250, 110, 32
DAYS_IN_MONTH = 30.4375


def course_pictures(story: CaseStory, protocol: Protocol) -> tuple[Picture, ...]:
    """One picture for each measure that was recorded; all share the time axis."""
    last = max((point.days for course in story.courses for point in course.points), default=1)
    return tuple(_picture(course, story, protocol, last / DAYS_IN_MONTH) for course in story.courses)


def _picture(course: Course, story: CaseStory, protocol: Protocol, months: float) -> Picture:
    measure = protocol.measure(course.measure)
    field = protocol.value_field(measure)
    drawing = Drawing(f"course-{course.measure.replace('_', '-')}")
    x = alt.X(
        "months:Q",
        title=None,
        scale=alt.Scale(domain=[0, max(months, 1)], nice=False),
        axis=alt.Axis(tickCount=5, grid=False),
    )
    values = [value for point in course.points for value in (point.value, point.fellow) if value is not None]
    y = alt.Y("value:Q", title=None, scale=_scale(field, values), axis=_axis(field))
    layers = [*_references(drawing, measure, y), *_events(drawing, story, months, x)]
    layers += [*_lines(drawing, course, "fellow", (x, y)), *_lines(drawing, course, "value", (x, y))]
    unit = f" ({field.unit})" if field.unit else ""
    fellow = "Open points, dashed: the fellow lid." if course.has_fellow else ""
    title = alt.TitleParams(
        f"{measure.label}{unit}", fontSize=13, subtitle=fellow or " ", subtitleFontSize=SMALL, offset=4
    )
    chart = alt.layer(*layers).properties(width=WIDTH, height=HEIGHT, title=title)
    return drawing.picture(
        chart, title=f"{measure.label} of case {story.record.case_id}", description=_described(course, protocol)
    )


def _described(course: Course, protocol: Protocol) -> str:
    return f"By time since division: {course_words(course, protocol)}."


def _scale(field: Field, values: list[float]) -> alt.Scale:
    if field.levels or field.kind == "yes_no":
        return alt.Scale(domain=list(field.limits), nice=False, padding=6)
    return alt.Scale(domain=[min(0.0, *values), max(1.0, *values)], nice=True, padding=6)


def _axis(field: Field) -> alt.Axis:
    named = (
        [field.word(level) for level in range(int(field.limits[1]) + 1)]
        if field.levels or field.kind == "yes_no"
        else []
    )
    if not named or len(named) > 6:
        return alt.Axis(tickCount=4)
    expression = f"{[word[:22] for word in named]!r}[datum.value]"
    return alt.Axis(
        values=list(range(len(named))), labelExpr=expression, labelFontSize=SMALL, labelColor=QUIET, labelLimit=130
    )


def _lines(drawing: Drawing, course: Course, name: str, axes: tuple[alt.X, alt.Y]) -> list[alt.Chart]:
    """The values of the case or of its fellow lid: a line through the unmasked ones, a point for each, diamonds masked."""
    colour, own = (COLOURS[0], True) if name == "value" else (QUIET, False)
    rows: list[dict[str, Any]] = [
        {"months": point.days / DAYS_IN_MONTH, "value": value, "masked": point.masked}
        for point in course.points
        if (value := getattr(point, name)) is not None
    ]
    x, y = axes
    unmasked = [row for row in rows if not row["masked"]]
    line = drawing.chart(unmasked).encode(x=x, y=y)
    line = line.mark_line(stroke=colour, strokeWidth=1.8 if own else 1.2, strokeDash=[1000, 0] if own else [4, 3])
    points = [
        drawing.chart([row for row in rows if row["masked"] is masked])
        .mark_point(size=40 if masked else 30, shape=shape, fill=colour if own else "#ffffff", stroke=colour, opacity=1)
        .encode(x=x, y=y)
        for masked, shape in ((False, "circle"), (True, "diamond"))
        if any(row["masked"] is masked for row in rows)
    ]
    return [*([line] if len(unmasked) > 1 else []), *points]


def _references(drawing: Drawing, measure: Measure, y: alt.Y) -> list[alt.Chart]:
    """The bound of a poor result, and the level of the fellow lid where the value is a difference from it."""
    layers = []
    if measure.computed:
        layers.append(drawing.chart([{"value": 0.0}]).mark_rule(stroke=QUIET, strokeWidth=0.8).encode(y=y))
    if measure.poor:
        bound = drawing.chart([{"value": measure.poor.bound, "words": "poor"}])
        layers.append(bound.mark_rule(stroke="#b06a00", strokeWidth=1, strokeDash=[2, 3]).encode(y=y))
        words = bound.mark_text(align="left", baseline="bottom", dx=3, dy=-1, fontSize=9, fill="#8a5200")
        layers.append(words.encode(x=alt.value(0), y=y, text="words:N"))
    return layers


def _events(drawing: Drawing, story: CaseStory, months: float, x: alt.X) -> list[alt.Chart]:
    """An upright line for each event after division, with its kind on the side that has room."""
    events = [each for each in story.happenings if each.kind == "event" and each.days is not None and each.days >= 0]
    layers = []
    for late in (False, True):
        rows = [
            {"months": at, "words": str(each.values.get("kind", ""))}
            for each in events
            if ((at := (each.days or 0) / DAYS_IN_MONTH) > months / 2) is late and at <= max(months, 1)
        ]
        if rows:
            rule = drawing.chart(rows).mark_rule(stroke=INK, strokeWidth=0.8).encode(x=x)
            words = drawing.chart(rows).mark_text(
                align="right" if late else "left", baseline="bottom", dx=-3 if late else 3, fontSize=9, fill=INK
            )
            layers += [rule, words.encode(x=x, y=alt.value(EVENT_WORDS), text="words:N")]
    return layers
