"""The course of each lid over time since division, and each lid beside its fellow lid."""

from __future__ import annotations

import itertools
from functools import partial
from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, LidCourse
from outcomes.protocol import COHORTS, Measure, Protocol
from outcomes.report import formats
from outcomes.report.charts.drawing import HOVER, NOMINAL, Canvas, Chart, Figure
from outcomes.report.charts.theme import INK, QUIET, Panel, Size, cohort_colour, cohort_point
from outcomes.report.finding_index import drawn_words, findings_of, who_phrase

COURSE_WORDS = (
    "Each thin line is one lid. Dark dashed lines: lids that were revised, with a cross at the last value before. Thick line: "
    "median of the cohort at each review. Lines are shifted by a little so that they do not hide one another. w weeks, m months, "
    "y years since division, on a root scale."
)
PAIR_WORDS = (
    "Each point is one lid: its margin against that of the fellow lid at the same review. On the line both are level; above it the "
    "operated lid is lower. Points are shifted by a little so that they do not hide one another."
)
DAYS = alt.Tooltip("day:Q", title="days since division")
PAIR_TOOLTIP = [
    "case:N",
    "date:N",
    DAYS,
    alt.Tooltip("operated:Q", title="operated lid"),
    alt.Tooltip("fellow:Q", title="fellow lid"),
]
PANELS_ACROSS = 4  # two measures of two cohorts
SHIFT = 0.22  # of the step between values, at most


def courses_figures(comparison: Comparison, protocol: Protocol) -> tuple[Figure, ...]:
    """The course of every lid on the main measures, one panel a measure and cohort; nothing where single lids are not told."""
    measures = [each for each in protocol.main_measures if any(c.measure == each.id for c in comparison.courses)]
    if not measures:
        return ()
    counts = (f"{each.label}: {_counted(comparison.courses, each)}" for each in measures)
    return (
        Figure(
            "courses",
            "The course of each lid",
            ((COURSE_WORDS,), *drawn_words(comparison), who_phrase(comparison)),
            "; ".join(counts) + ".",
            partial(_courses_chart, comparison, protocol, measures),
            single_lids=True,
            narrow=False,
            around=11.5,
        ),
    )


def _counted(courses: tuple[LidCourse, ...], measure: Measure) -> str:
    lids = [each.cohort for each in courses if each.measure == measure.id]
    return ", ".join(f"{lids.count(cohort)} {cohort} lids" for cohort in COHORTS)


def _courses_chart(
    comparison: Comparison, protocol: Protocol, measures: list[Measure], canvas: Canvas, size: Size
) -> Chart:
    panels = [
        _courses_panel(comparison, protocol, (measure, cohort), canvas, size)
        for measure in measures
        for cohort in COHORTS
    ]
    spacing: dict[str, Any] = {"row": size.em(1.6), "column": size.em(0.8)}
    drawn: Chart = alt.concat(*panels, columns=PANELS_ACROSS, spacing=spacing)
    return drawn


def _courses_panel(
    comparison: Comparison, protocol: Protocol, of: tuple[Measure, str], canvas: Canvas, size: Size
) -> Panel:
    measure, cohort = of
    both = [each for each in comparison.courses if each.measure == measure.id]
    courses = [each for each in both if each.cohort == cohort]
    every = [value for each in both for value in each.values]
    step = SHIFT * _step(every)
    x, y = _time_axis(both, protocol), _value_axis(measure, protocol, every)
    rows = [row for number, each in enumerate(courses) for row in _course_rows(each, step * _spread(number))]
    lines = canvas.chart(rows)
    thin = lines.transform_filter("!datum.revised").mark_line(strokeWidth=size.em(0.05), opacity=0.3, aria=False)
    dark = lines.transform_filter("datum.revised").mark_line(
        strokeWidth=size.em(0.07), opacity=0.6, color=INK, strokeDash=[3, 2], aria=False
    )
    tooltip = ["case:N", "date:N", DAYS, "value:Q"]
    common: dict[str, Any] = {"x": x, "y": y, "detail": "case:N"}
    cross = canvas.chart([row for each in courses for row in _last_before(each)])
    medians = canvas.chart(_medians(comparison, measure, cohort, protocol))
    layers = [
        thin.encode(**common, stroke=cohort_colour()),
        dark.encode(**common),
        lines.mark_point(size=size.em(0.7) ** 2, opacity=0).encode(x=x, y=y, tooltip=tooltip).properties(name=HOVER),
        cross.mark_point(shape="cross", size=size.point * 0.5, fill=INK, strokeWidth=0, opacity=1).encode(x=x, y=y),
        medians.mark_line(strokeWidth=size.em(0.2), point={"size": size.em(0.4) ** 2}).encode(
            x=x, y=y, color=cohort_colour()
        ),
    ]
    unit = protocol.value_field(measure).unit
    heading = [f"{measure.label} ({unit})" if unit else measure.label, f"{cohort} (n {len(courses)})"]
    title = alt.TitleParams(heading, fontSize=size.small, fontWeight="normal")
    return alt.layer(*layers).properties(width=NOMINAL, height=size.em(9.5), title=title)


def _course_rows(course: LidCourse, shift: float) -> list[dict[str, Any]]:
    return [
        {
            "case": course.case,
            "cohort": course.cohort,
            "date": course.date_of(day).isoformat(),
            "day": day,
            "at": max(day, 0) ** 0.5,
            "value": value,
            "y": value + shift,
            "revised": course.revised is not None,
        }
        for day, value in zip(course.days, course.values, strict=True)
    ]


def _last_before(course: LidCourse) -> list[dict[str, Any]]:
    """The last value before the first revision, where there is one."""
    if course.revised is None:
        return []
    before = [row for row in _course_rows(course, 0) if row["day"] <= course.revised]
    return before[-1:]


def _medians(comparison: Comparison, measure: Measure, cohort: str, protocol: Protocol) -> list[dict[str, Any]]:
    """The median of the cohort at each review, where it is told."""
    rows = []
    for finding in findings_of(comparison, measure, "value"):
        middle = getattr(getattr(finding, cohort), "median", None)
        if middle is not None:
            at = protocol.window(finding.window).nominal_days
            rows.append({"cohort": cohort, "at": at**0.5, "y": middle})
    return rows


def _spread(number: int) -> float:
    """A shift from −1 to 1 that differs between neighbours."""
    return ((number * 37) % 101) / 50 - 1


def _step(values: list[float]) -> float:
    """The least distance between two different values."""
    distinct = sorted(set(values))
    return min((after - before for before, after in itertools.pairwise(distinct)), default=1.0)


def _time_axis(courses: list[LidCourse], protocol: Protocol) -> alt.X:
    last = max((day for each in courses for day in each.days), default=1)
    named = {
        w.nominal_days**0.5: formats.short_time(w.nominal_days) for w in protocol.windows if w.nominal_days <= last
    }
    names = {f"{at:.4f}": name for at, name in named.items()}
    axis = alt.Axis(
        values=list(named),
        labelExpr=f"{names}[format(datum.value, '.4f')]",
        title=None,
        grid=False,
        labelOverlap="greedy",
        labelSeparation=4,
    )
    return alt.X("at:Q", axis=axis, scale=alt.Scale(domain=[0, last**0.5], nice=False))


def _value_axis(measure: Measure, protocol: Protocol, values: list[float]) -> alt.Y:
    field = protocol.value_field(measure)
    room = max(0.06 * (max(values) - min(values)), 1.2 * SHIFT * _step(values))
    scale = alt.Scale(domain=[min(values) - room, max(values) + room], nice=False)
    ticks: dict[str, Any] = {"tickCount": 4} if not field.levels else {"values": sorted(set(values))}
    return alt.Y("y:Q", scale=scale, axis=alt.Axis(title=None, **ticks))


def pairs_figures(comparison: Comparison, protocol: Protocol) -> tuple[Figure, ...]:
    """Each lid beside its fellow lid in the primary window, for each main measure that has a fellow lid."""
    return tuple(
        figure for measure in protocol.main_measures for figure in _pairs_figure(comparison, measure, protocol)
    )


def _pairs_figure(comparison: Comparison, measure: Measure, protocol: Protocol) -> tuple[Figure, ...]:
    courses = [each for each in comparison.courses if each.measure == measure.id]
    rows = [row for each in courses for row in _pair_rows(each, protocol)]
    if not rows:
        return ()
    window = protocol.window(protocol.primary_window).label
    counted = [sum(row["cohort"] == cohort for row in rows) for cohort in COHORTS]
    described = ", ".join(f"{number} {cohort} lids" for number, cohort in zip(counted, COHORTS, strict=True))
    name = measure.id.replace("_", "-")
    return (
        Figure(
            f"fellow-{name}",
            f"{measure.label}: operated lid beside fellow lid, {window} after division",
            ((PAIR_WORDS,), *drawn_words(comparison), who_phrase(comparison)),
            f"Pairs: {described}.",
            partial(_pairs_chart, rows, protocol.value_field(measure).unit),
            single_lids=True,
        ),
    )


def _pair_rows(course: LidCourse, protocol: Protocol) -> list[dict[str, Any]]:
    """The pair nearest to the nominal day of the primary window, the later of two as near."""
    window = protocol.window(protocol.primary_window)
    pairs = [
        (abs(day - window.nominal_days), -day, value, fellow)
        for day, value, fellow in zip(course.days, course.values, course.fellow, strict=True)
        if fellow is not None and window.days[0] <= day <= window.days[1]
    ]
    if not pairs:
        return []
    _, day, value, fellow = min(pairs)
    seen = {"case": course.case, "cohort": course.cohort, "date": course.date_of(-day).isoformat(), "day": -day}
    return [{**seen, "operated": value, "fellow": fellow}]


def _pairs_chart(rows: list[dict[str, Any]], unit: str, canvas: Canvas, size: Size) -> Chart:
    both = [value for row in rows for value in (row["operated"], row["fellow"])]
    room = max(0.06 * (max(both) - min(both)), 1.2 * SHIFT * _step(both))
    ends = [min(both) - room, max(both) + room]
    step = SHIFT * _step(both)
    shifted = [
        {**row, "x": row["fellow"] + step * _spread(number), "y": row["operated"] + step * _spread(3 * number + 1)}
        for number, row in enumerate(rows)
    ]
    scale = alt.Scale(domain=ends, nice=False)
    x = alt.X("x:Q", scale=scale, axis=alt.Axis(title=f"fellow lid ({unit})", grid=False))
    y = alt.Y("y:Q", scale=scale, axis=alt.Axis(title=f"operated lid ({unit})"))
    level = canvas.chart([{"x": end, "y": end} for end in ends]).mark_line(
        color=QUIET, strokeWidth=size.em(0.1), strokeDash=[4, 3]
    )
    panels = [
        alt.layer(
            level.encode(x=x, y=y),
            canvas.chart([row for row in shifted if row["cohort"] == cohort])
            .mark_point(size=size.point * 0.5, strokeWidth=size.em(0.1), opacity=1)
            .encode(x=x, y=y, **cohort_point(legend=False), tooltip=PAIR_TOOLTIP),
        ).properties(
            width=NOMINAL,
            height=size.em(15),
            title=f"{cohort.capitalize()} (n {sum(row['cohort'] == cohort for row in rows)})",
        )
        for cohort in COHORTS
    ]
    drawn: Chart = alt.concat(*panels, columns=min(size.columns, len(panels)), spacing=size.em(1.6))
    return drawn
