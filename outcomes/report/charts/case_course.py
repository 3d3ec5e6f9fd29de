"""Small charts of one case: each measure against time since division, beside the fellow lid."""

from __future__ import annotations

from functools import partial
from typing import Any

import altair as alt

from outcomes.findings.case_story import CaseStory, Course
from outcomes.protocol import Field, Measure, Protocol
from outcomes.report.case_tables import course_words
from outcomes.report.charts.drawing import NOMINAL, Canvas, Chart, Figure, Picture, picture
from outcomes.report.charts.theme import COLOURS, INK, QUIET, Size

SMALL_SIZE = Size("case", 330, 12, 10.5, 1, titled=True, bold=True)
HEIGHT, EVENT_WORDS = 110, 32
DAYS_IN_MONTH = 30.4375
BOUND, BOUND_WORDS = "#b06a00", "#8a5200"


def course_pictures(story: CaseStory, protocol: Protocol) -> tuple[Picture, ...]:
    """One picture for each measure that was recorded; all share the time axis."""
    last = max((point.days for course in story.courses for point in course.points), default=1)
    months = max(last / DAYS_IN_MONTH, 1)
    return tuple(picture(_figure(course, story, protocol, months), SMALL_SIZE) for course in story.courses)


def _figure(course: Course, story: CaseStory, protocol: Protocol, months: float) -> Figure:
    measure = protocol.measure(course.measure)
    unit = protocol.value_field(measure).unit
    return Figure(
        f"course-{course.measure.replace('_', '-')}",
        f"{measure.label} ({unit})" if unit else measure.label,
        (),
        f"By time since division: {course_words(course, protocol)}.",
        partial(_chart, course, story, protocol, months),
        single_lids=True,
    )


def _chart(  # noqa: PLR0913, PLR0917 - what the builder is given, and what the drawing gives
    course: Course, story: CaseStory, protocol: Protocol, months: float, canvas: Canvas, size: Size
) -> Chart:
    measure = protocol.measure(course.measure)
    field = protocol.value_field(measure)
    across = alt.Scale(domain=[0, months], nice=False)
    x = alt.X("months:Q", title=None, scale=across, axis=alt.Axis(tickCount=5, grid=False))
    values = [value for point in course.points for value in (point.value, point.fellow) if value is not None]
    y = alt.Y("value:Q", title=None, scale=_scale(field, values), axis=_axis(field, size))
    layers = [*_references(canvas, measure, y), *_events(canvas, story, months, x)]
    layers += [*_lines(canvas, course, "fellow", (x, y)), *_lines(canvas, course, "value", (x, y))]
    return alt.layer(*layers).properties(width=NOMINAL, height=HEIGHT)


def _scale(field: Field, values: list[float]) -> alt.Scale:
    if field.levels or field.kind == "yes_no":
        return alt.Scale(domain=list(field.limits), nice=False, padding=6)
    return alt.Scale(domain=[min(0.0, *values), max(1.0, *values)], nice=True, padding=6)


def _axis(field: Field, size: Size) -> alt.Axis:
    graded = field.levels or field.kind == "yes_no"
    named = [field.word(level) for level in range(int(field.limits[1]) + 1)] if graded else []
    if not named or len(named) > 6:
        return alt.Axis(tickCount=4)
    expression = f"{[word[:22] for word in named]!r}[datum.value]"
    return alt.Axis(values=list(range(len(named))), labelExpr=expression, labelColor=QUIET, labelLimit=size.em(9))


def _lines(canvas: Canvas, course: Course, name: str, axes: tuple[alt.X, alt.Y]) -> list[alt.Chart]:
    """The values of the case or of its fellow lid: a line through the unmasked ones, a point for each, diamonds masked."""
    colour, own = (COLOURS[0], True) if name == "value" else (QUIET, False)
    rows: list[dict[str, Any]] = [
        {"months": point.days / DAYS_IN_MONTH, "value": value, "masked": point.masked}
        for point in course.points
        if (value := getattr(point, name)) is not None
    ]
    x, y = axes
    unmasked = [row for row in rows if not row["masked"]]
    line = canvas.chart(unmasked).encode(x=x, y=y)
    line = line.mark_line(stroke=colour, strokeWidth=1.8 if own else 1.2, strokeDash=[1000, 0] if own else [4, 3])
    points = [
        canvas.chart([row for row in rows if row["masked"] is masked])
        .mark_point(size=40 if masked else 30, shape=shape, fill=colour if own else "#ffffff", stroke=colour, opacity=1)
        .encode(x=x, y=y)
        for masked, shape in ((False, "circle"), (True, "diamond"))
        if any(row["masked"] is masked for row in rows)
    ]
    return [*([line] if len(unmasked) > 1 else []), *points]


def _references(canvas: Canvas, measure: Measure, y: alt.Y) -> list[alt.Chart]:
    """The bound of a poor result, and the level of the fellow lid where the value is a difference from it."""
    layers = []
    if measure.computed:
        layers.append(canvas.chart([{"value": 0.0}]).mark_rule(stroke=QUIET, strokeWidth=0.8).encode(y=y))
    if measure.poor:
        bound = canvas.chart([{"value": measure.poor.bound, "words": "poor"}])
        layers.append(bound.mark_rule(stroke=BOUND, strokeWidth=1, strokeDash=[2, 3]).encode(y=y))
        words = bound.mark_text(align="left", baseline="bottom", dx=3, dy=-1, fontSize=9, fill=BOUND_WORDS)
        layers.append(words.encode(x=alt.value(0), y=y, text="words:N"))
    return layers


def _events(canvas: Canvas, story: CaseStory, months: float, x: alt.X) -> list[alt.Chart]:
    """An upright line for each event after division, with its kind on the side that has room."""
    events = [each for each in story.happenings if each.kind == "event" and each.days is not None and each.days >= 0]
    layers = []
    for late in (False, True):
        rows = [
            {"months": at, "words": str(each.values.get("kind", ""))}
            for each in events
            if ((at := (each.days or 0) / DAYS_IN_MONTH) > months / 2) is late and at <= months
        ]
        if rows:
            rule = canvas.chart(rows).mark_rule(stroke=INK, strokeWidth=0.8).encode(x=x)
            words = canvas.chart(rows).mark_text(
                align="right" if late else "left", dx=-3 if late else 3, baseline="bottom", fontSize=9, fill=INK
            )
            layers += [rule, words.encode(x=x, y=alt.value(EVENT_WORDS), text="words:N")]
    return layers
