"""Small panels, one a measure: the result in each cohort at each review, with the lids behind it."""

from __future__ import annotations

from functools import partial
from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, Finding, Share, Values
from outcomes.findings.small_count import SmallCount
from outcomes.protocol import COHORTS, Measure, Protocol
from outcomes.report import formats
from outcomes.report.charts.chart_rows import Centre, middle, panel_heading
from outcomes.report.charts.drawing import NOMINAL, Canvas, Chart, Figure, addressed
from outcomes.report.charts.theme import Panel, Size, cohort_point, upright_intervals
from outcomes.report.finding_index import ShownOutcome, finding_place, findings_of, seen, who_phrase
from outcomes.report.traced_text import NOT_SHOWN, Phrase

SHIFT = {"grafted": -0.17, "advanced": 0.17}
TITLES = {
    "poor": "Poor results on the {} measures, by time since division",
    "value": "Values of the {} measures, by time since division",
}
POINTS = {
    "poor": "share of lids with a poor result, with its interval",
    "value": "mean, or the median where a panel says so, with the quartiles",
}
WORDS = "Each point is the {}. Beneath: lids measured{}, grafted (g) above advanced (a). w weeks, m months, y years since division."
ENDINGS: dict[Centre, str] = {"mean": "", "median": ", median"}
MOST_NARROW = 6  # panels one above the other in a column of print
Panels = dict[Measure, list[Finding]]


def windows_figures(comparison: Comparison, protocol: Protocol) -> tuple[Figure, ...]:
    """The share of poor results by window, and the value by window, main measures apart from the others."""
    kinds: tuple[tuple[ShownOutcome, bool], ...] = (("poor", True), ("poor", False), ("value", True), ("value", False))
    return tuple(
        _figure(panels, outcome, comparison, protocol)
        for outcome, main in kinds
        if (panels := _panels(comparison, protocol, outcome=outcome, main=main))
    )


def _panels(comparison: Comparison, protocol: Protocol, *, outcome: ShownOutcome, main: bool) -> Panels:
    held = {
        measure: [each for each in findings_of(comparison, measure, outcome) if seen(each)]
        for measure in protocol.measures
        if measure.main is main and (outcome == "poor" or protocol.value_field(measure).kind != "yes_no")
    }
    return {measure: findings for measure, findings in held.items() if any(_has_point(each) for each in findings)}


def _has_point(finding: Finding) -> bool:
    return any(middle(side, side.centre if isinstance(side, Values) else "mean") for side in _sides(finding))


def _sides(finding: Finding) -> tuple[Share | Values, ...]:
    return tuple(getattr(finding, cohort) for cohort in COHORTS)


def _centre(findings: list[Finding]) -> Centre:
    """What every point of a panel is: the mean, or the median where the mean of any is not told."""
    values = [side for each in findings for side in _sides(each) if isinstance(side, Values) and side.n]
    return "median" if any(side.centre == "median" for side in values) else "mean"


def _figure(panels: Panels, outcome: ShownOutcome, comparison: Comparison, protocol: Protocol) -> Figure:
    which = "main" if next(iter(panels)).main else "further"
    thousands = ", in thousands" if formats.in_thousands(_lids(panels)) else ""
    described = "; ".join(_described(measure, findings, protocol) for measure, findings in panels.items())
    return Figure(
        f"{which}-{outcome}-by-window",
        TITLES[outcome].format(which),
        ((WORDS.format(POINTS[outcome], thousands),), *_small_counts(panels), who_phrase(comparison)),
        f"{described}.",
        partial(_chart, panels, outcome, protocol),
        further=which == "further",
        narrow=len(panels) <= MOST_NARROW,
    )


def _lids(panels: Panels) -> list[formats.Count]:
    return [getattr(each, cohort).n for findings in panels.values() for each in findings for cohort in COHORTS]


def _small_counts(panels: Panels) -> tuple[Phrase, ...]:
    """How counts are written that are not given for being small, where there are any."""
    numbers = _lids(panels)
    written = formats.short_counts(numbers)
    small = {written(each): formats.count(each) for each in numbers if isinstance(each, SmallCount)}
    return ((f"{'; '.join(f'{short}: {words}' for short, words in sorted(small.items()))}.",),) if small else ()


def _described(measure: Measure, findings: list[Finding], protocol: Protocol) -> str:
    parts = []
    for finding in findings:
        results = (f"{cohort} {_middle_words(finding, cohort, protocol)}" for cohort in COHORTS)
        parts.append(f"{protocol.window(finding.window).label} {', '.join(results)}")
    return f"{measure.label}: {'; '.join(parts)}"


def _middle_words(finding: Finding, cohort: str, protocol: Protocol) -> str:
    side = getattr(finding, cohort)
    if not side.n:
        return "nobody seen"
    if isinstance(side, Share):
        events = NOT_SHOWN if side.events is None else formats.count(side.events)
        return f"{events} of {formats.count(side.n)}"
    if getattr(side, side.centre) is None:
        return f"{NOT_SHOWN} in {formats.count(side.n)}"
    written = formats.measured(protocol.value_field(protocol.measure(finding.measure)))
    return f"{written(getattr(side, side.centre))} in {formats.count(side.n)}"


def _chart(panels: Panels, outcome: ShownOutcome, protocol: Protocol, canvas: Canvas, size: Size) -> Chart:
    used = {each.window for findings in panels.values() for each in findings}
    names = {at: formats.short_time(w.nominal_days) for at, w in enumerate(protocol.windows) if w.id in used}
    written = formats.short_counts(_lids(panels))
    rows = [
        {"panel": panel_heading(measure, outcome, protocol) + ENDINGS[_centre(findings)], **row}
        for measure, findings in panels.items()
        for row in (
            {"at": min(names), "unit": 1},
            *_heads(),
            *(row for each in findings for row in _points(each, protocol, _centre(findings), written)),
        )
    ]
    header = alt.Header(
        labelFontSize=size.text,
        labelFontWeight="bold" if size.bold else "normal",
        labelAnchor="start",
        labelLimit=size.width,
        title=None,
        labelPadding=size.em(0.4),
    )
    panel = alt.Facet("panel:N", sort=list(dict.fromkeys(row["panel"] for row in rows)), header=header)
    spacing: dict[str, Any] = {"row": size.em(7), "column": size.em(3.6)}
    layers = _panel(canvas.chart(rows), names, outcome, size)
    drawn: Chart = (
        layers.facet(panel, columns=min(size.columns, len(panels)), bounds="flush", spacing=spacing)
        .resolve_scale(y="shared" if outcome == "poor" else "independent")
        .resolve_axis(x="independent", y="independent")
    )
    return drawn


def _panel(base: alt.Chart, names: dict[int, str], outcome: ShownOutcome, size: Size) -> Panel:
    words = {str(at): name for at, name in names.items()}
    axis = alt.Axis(values=list(names), labelExpr=f"{words}[datum.value]", grid=False, labelOverlap=False, title=None)
    scale = alt.Scale(domain=[min(names) - 0.6, max(*names, min(names) + 2) + 0.6], nice=False)
    up, height = _up(outcome), size.em(8 if size.columns > 1 else 6.3)
    points = base.transform_filter("isValid(datum.middle)").encode(x=alt.X("x:Q", scale=scale, axis=axis))
    first = height + size.em(1.9)
    below = alt.expr(f"datum.cohort == {COHORTS[0]!r} ? {first} : {first + size.em(1.05)}")
    counts: dict[str, Any] = {"fontSize": size.small, "baseline": "top", "y": below}
    at = alt.X("at:Q", scale=scale, axis=axis)
    numbers = base.transform_filter("isValid(datum.written)").mark_text(**counts)
    heads = base.transform_filter("isValid(datum.head)").mark_text(align="right", **counts)
    # Unseen, but it keeps an axis of one unit or more where every lid had zero.
    unit = base.transform_filter("isValid(datum.unit)").mark_point(opacity=0)
    return alt.layer(
        unit.encode(x=at, y=alt.Y("unit:Q", **up)),
        *upright_intervals(points, up, size),
        points.mark_point(size=size.point, strokeWidth=size.line, opacity=1).encode(
            y=alt.Y("middle:Q", **up), **cohort_point(legend=True), tooltip=_tooltip(outcome)
        ),
        numbers.encode(x=at, text="written:N", description="address:N"),
        heads.encode(x=alt.value(-size.em(0.5)), text="head:N"),
    ).properties(width=NOMINAL, height=height)


def _heads() -> list[dict[str, Any]]:
    return [{"cohort": cohort, "head": cohort[0]} for cohort in COHORTS]


def _tooltip(outcome: ShownOutcome) -> list[Any]:
    form, centre = (".0%", "share") if outcome == "poor" else (".2f", "mean")
    ends = {"middle": centre, "low": "from", "high": "to"}
    numbers = (alt.Tooltip(f"{name}:Q", title=title, format=form) for name, title in ends.items())
    return ["cohort:N", "window:N", *numbers, alt.Tooltip("written:N", title="lids")]


def _up(outcome: ShownOutcome) -> dict[str, Any]:
    if outcome == "poor":
        axis = alt.Axis(format=".0%", values=[0, 0.5, 1], grid=True)
        return {"title": None, "scale": alt.Scale(domain=[0, 1]), "axis": axis}
    axis = alt.Axis(format=".2~f", tickCount=4, grid=True)
    return {"title": None, "scale": alt.Scale(nice=4, zero=True), "axis": axis}


def _points(
    finding: Finding, protocol: Protocol, centre: Centre, written: formats.WrittenCount
) -> list[dict[str, Any]]:
    at = [window.id for window in protocol.windows].index(finding.window)
    place = finding_place(finding)
    return [
        {
            "cohort": cohort,
            "window": protocol.window(finding.window).label,
            "at": at,
            "x": at + SHIFT[cohort],
            "written": place.figure(f"{cohort}.n", written).text,
            "address": addressed(f"{place.id}.{cohort}.n"),
            **middle(getattr(finding, cohort), centre),
        }
        for cohort in COHORTS
    ]
