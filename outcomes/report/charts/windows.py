"""How does each measure run over the time since division? Small panels, one a measure, with the lids behind each point."""

from __future__ import annotations

from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, Finding, Share
from outcomes.protocol import COHORTS, Measure, Protocol
from outcomes.report import formats
from outcomes.report.charts.chart_rows import middle, panel_heading
from outcomes.report.charts.rendering import Drawing, Picture
from outcomes.report.charts.theme import SMALL, cohort_line, cohort_point
from outcomes.report.finding_index import Shown, findings_of, seen, shown_as

WIDTH, HEIGHT, COLUMNS, MOST_IN_TWO = 215, 118, 2, 6
SHIFT = {"grafted": -0.17, "advanced": 0.17}
BELOW = {"grafted": HEIGHT + 33, "advanced": HEIGHT + 47}

Panels = dict[Measure, list[Finding]]


def windows_pictures(comparison: Comparison, protocol: Protocol) -> tuple[Picture, ...]:
    """Draw the share of poor results by window, and the value itself by window, main measures apart from the others."""
    drawn = (
        _picture(_panels(comparison, protocol, outcome=outcome, main=main), protocol)
        for outcome in ("poor", "value")
        for main in (True, False)
    )
    return tuple(each for each in drawn if each)


def _panels(comparison: Comparison, protocol: Protocol, *, outcome: Shown, main: bool) -> Panels:
    held = {
        measure: [each for each in findings_of(comparison, measure, outcome) if seen(each)]
        for measure in protocol.measures
        if measure.main is main and (outcome == "poor" or protocol.value_field(measure).kind != "yes_no")
    }
    return {measure: findings for measure, findings in held.items() if findings}


def _picture(held: Panels, protocol: Protocol) -> Picture | None:
    if not held:
        return None
    measure, findings = next(iter(held.items()))
    which, outcome = "main" if measure.main else "further", shown_as(findings[0])
    drawing = Drawing(f"{which}-{outcome}-by-window")
    told = "Poor results" if outcome == "poor" else "The value itself"
    title = f"{told} on the {which} measures, by time since division"
    point = "share with a poor result, with its interval" if outcome == "poor" else "mean, with the quartiles"
    subtitle = [f"Each point is the {point}. Beneath: lids seen.", "w weeks, m months, y years."]
    chart = _facets(drawing, held, protocol).properties(title=alt.TitleParams(title, subtitle=subtitle, offset=12))
    described = "; ".join(_described(measure, findings, protocol) for measure, findings in held.items())
    return drawing.picture(chart, title=title, description=f"{described}.")


def _described(measure: Measure, findings: list[Finding], protocol: Protocol) -> str:
    parts = []
    for finding in findings:
        results = (f"{cohort} {_middle_words(finding, cohort, protocol)}" for cohort in COHORTS)
        parts.append(f"{protocol.window(finding.window).label} {', '.join(results)}")
    return f"{measure.label}: {'; '.join(parts)}"


def _middle_words(finding: Finding, cohort: str, protocol: Protocol) -> str:
    held = getattr(finding, cohort)
    if not held.n:
        return "nobody seen"
    if isinstance(held, Share):
        return f"{held.events} of {held.n}"
    written = formats.measured(protocol.value_field(protocol.measure(finding.measure)))
    return f"{written(getattr(held, held.centre))} in {held.n}"


def _facets(drawing: Drawing, held: Panels, protocol: Protocol) -> alt.FacetChart:
    outcome = shown_as(next(iter(held.values()))[0])
    used = {each.window for findings in held.values() for each in findings}
    names = {
        at: formats.short_time(window.nominal_days) for at, window in enumerate(protocol.windows) if window.id in used
    }
    start = min(names) - 0.6
    rows = [
        {"panel": panel_heading(measure, outcome, protocol), **row}
        for measure, findings in held.items()
        for row in ({"at": start, "unit": 1}, *_rows(findings, protocol, start))
    ]
    scale = alt.Scale(domain=[start, max(*names, min(names) + 3) + 0.6], nice=False)
    across: dict[str, Any] = {"title": None, "scale": scale, "axis": _window_axis(names)}
    layers = alt.layer(*_layers(drawing.chart(rows), across, outcome)).properties(width=WIDTH, height=HEIGHT)
    panel = alt.Facet(
        "panel:N",
        sort=list(dict.fromkeys(row["panel"] for row in rows)),
        header=alt.Header(labelFontSize=13, labelAnchor="start", labelPadding=6, labelLimit=WIDTH + 50),
    )
    columns = COLUMNS if len(held) <= MOST_IN_TWO else COLUMNS + 1
    faceted: alt.FacetChart = layers.facet(panel, columns=columns, bounds="flush", spacing={"row": 104, "column": 72})
    faceted = faceted.resolve_scale(y="shared" if outcome == "poor" else "independent")
    faceted = faceted.resolve_axis(x="independent", y="independent")
    return faceted  # noqa: RET504 - altair's methods give Any


def _layers(chart: alt.Chart, across: dict[str, Any], outcome: Shown) -> list[alt.Chart]:
    up: dict[str, Any] = {"title": None, "scale": _value_scale(outcome), "axis": _value_axis(outcome)}
    points = chart.transform_filter("isValid(datum.middle)").encode(x=alt.X("x:Q", **across))
    numbers = chart.transform_filter("isValid(datum.written)").encode(x=alt.X("at:Q", **across), text="written:N")
    below = alt.expr(f"datum.cohort == {COHORTS[0]!r} ? {BELOW[COHORTS[0]]} : {BELOW[COHORTS[1]]}")
    side = alt.expr("datum.name ? 'right' : 'center'")
    # Unseen, but it keeps an axis of one unit or more where every lid was at nought.
    unit = chart.transform_filter("isValid(datum.unit)").encode(x=alt.X("at:Q", **across), y=alt.Y("unit:Q", **up))
    return [
        unit.mark_point(opacity=0),
        points.mark_rule(strokeWidth=1.8).encode(y=alt.Y("low:Q", **up), y2="high:Q", **cohort_line(legend=False)),
        points.mark_point(size=42, strokeWidth=1.5, opacity=1).encode(
            y=alt.Y("middle:Q", **up),
            **cohort_point(legend=True),
        ),
        numbers.mark_text(fontSize=SMALL, y=below, align=side),
    ]


def _value_scale(outcome: Shown) -> alt.Scale:
    return alt.Scale(domain=[0, 1]) if outcome == "poor" else alt.Scale(nice=4, zero=True)


def _value_axis(outcome: Shown) -> alt.Axis:
    if outcome == "poor":
        return alt.Axis(format=".0%", values=[0, 0.5, 1], labelFontSize=SMALL)
    return alt.Axis(format=".2~f", tickCount=4, tickMinStep=0.5, labelFontSize=SMALL)


def _rows(findings: list[Finding], protocol: Protocol, start: float) -> list[dict[str, Any]]:
    places = {window.id: at for at, window in enumerate(protocol.windows)}
    rows: list[dict[str, Any]] = [
        {"cohort": cohort, "at": start, "written": f"{cohort}  ", "name": True} for cohort in COHORTS
    ]
    for finding in findings:
        at = places[finding.window]
        rows.extend(
            {
                "cohort": cohort,
                "at": at,
                "written": formats.count(getattr(finding, cohort).n),
                "x": at + SHIFT[cohort],
                **middle(getattr(finding, cohort)),
            }
            for cohort in COHORTS
        )
    return rows


def _window_axis(names: dict[int, str]) -> alt.Axis:
    words = {str(at): name for at, name in names.items()}
    return alt.Axis(
        values=list(names),
        labelExpr=f"{words}[datum.value]",
        grid=False,
        labelFontSize=SMALL,
        labelPadding=4,
        labelOverlap=False,
    )
