"""Which charts does a paper print, and how do they look in one or two columns?"""

from __future__ import annotations

from typing import Any

import altair as alt

from outcomes.findings.results import (
    BalanceLine,
    Comparison,
    Finding,
)
from outcomes.protocol import COHORTS, Measure, Protocol
from outcomes.report import formats
from outcomes.report.charts.chart_rows import (
    CONTRASTS,
    difference_lines,
    middle,
    missing_bars,
    panel_heading,
    reach,
)
from outcomes.report.charts.theme import COLOURS, DASHES, INK, PALE, QUIET, Panel, cohort_point, either
from outcomes.report.finding_index import Shown, finding_place, findings_of, seen, shown_as
from outcomes.report.pack.sizing import NOMINAL, SMALL, Canvas, Chart, addressed
from outcomes.report.sentences import measure_words, signed_change, unit_words, with_interval
from outcomes.report.traced_text import plain

WAYS = ["before weighting", "after weighting"]
SHIFT = {"grafted": -0.17, "advanced": 0.17}
ENDS = {"poor": ("fewer with advanced", "more"), "value": ("less with advanced", "more")}


def balance_chart(comparison: Comparison, protocol: Protocol, canvas: Canvas) -> Chart:
    """Draw the standardised difference of each characteristic, before and after weighting."""
    held = [line for line in comparison.balance if line.smd is not None and not line.consequence]
    labels = [_characteristic(line) for line in held]
    rows = [
        {"label": label, "way": way, "smd": smd}
        for line, label in zip(held, labels, strict=True)
        for way, smd in zip(WAYS, (line.smd, line.smd_adjusted), strict=True)
        if smd is not None
    ]
    names = alt.Y("label:N", sort=labels, title=None, axis=alt.Axis(domain=False, ticks=False, grid=True))
    across = alt.X(
        "smd:Q",
        title=["standardised difference,", "advanced minus grafted"],
        scale=alt.Scale(padding=6),
        axis=alt.Axis(tickCount=5, grid=False),
    )
    bound = protocol.rules.imbalance_smd
    limits = canvas.chart([{"at": -bound}, {"at": bound}]).mark_rule(strokeDash=[1, 2], color=QUIET, strokeWidth=0.8)
    nought = canvas.chart([{"at": 0}]).mark_rule(color=INK, strokeWidth=0.6)
    legend = alt.Legend(title=None, columns=2)
    dots = (
        canvas.chart(rows)
        .mark_point(size=22, strokeWidth=0.9, stroke=INK, opacity=1)
        .encode(
            x=across,
            y=names,
            shape=alt.Shape("way:N", scale=alt.Scale(domain=WAYS, range=["square", "triangle-up"]), legend=legend),
            fill=alt.Fill("way:N", scale=alt.Scale(domain=WAYS, range=["#ffffff", INK]), legend=legend),
        )
    )
    return alt.layer(limits.encode(x="at:Q"), nought.encode(x="at:Q"), dots).properties(
        width=NOMINAL, height=12 * len(labels)
    )


def _characteristic(line: BalanceLine) -> str:
    return line.label if line.level in {"", "yes"} else f"{line.label}: {line.level}"


def has_balance(comparison: Comparison) -> bool:
    """Tell whether there is any standardised difference to draw."""
    return any(line.smd is not None and not line.consequence for line in comparison.balance)


def primary_findings(comparison: Comparison) -> list[Finding]:
    """The findings of the primary family of which a difference could be estimated."""
    return [each for each in comparison.findings if each.is_planned and each.contrast.estimate is not None]


def differences_chart(comparison: Comparison, protocol: Protocol, canvas: Canvas, *, wide: bool) -> Chart:
    """Draw the primary differences, one panel for each unit; in two columns the numbers stand beside them."""
    held = primary_findings(comparison)
    kinds = dict.fromkeys((shown_as(each), unit_words(each, protocol)) for each in sorted(held, key=_values_last))
    panels = [
        _differences(
            [each for each in held if (shown_as(each), unit_words(each, protocol)) == kind], protocol, canvas, wide=wide
        )
        for kind in kinds
    ]
    return alt.vconcat(*panels, spacing=14)


def _values_last(finding: Finding) -> bool:
    return not finding.is_share


def _differences(findings: list[Finding], protocol: Protocol, canvas: Canvas, *, wide: bool) -> Panel:
    outcome, unit = shown_as(findings[0]), unit_words(findings[0], protocol)
    by = 100 if outcome == "poor" else 1
    labels = [measure_words(each, protocol) for each in findings]
    broken = alt.Axis(
        labelExpr="split(datum.label, ': ')", domain=False, ticks=False, labelPadding=5, labelLimit=170, grid=False
    )
    names = alt.Y("measure:N", sort=labels, title=None, axis=broken)
    left, right = ENDS[outcome]
    words = [
        f"← {left}" + "\u00a0" * 5 + f"{right} →",
        f"difference {unit} lids" if by > 1 else f"difference in {unit}",
    ]
    across = alt.X("low:Q", title=words, scale=reach(findings, by), axis=alt.Axis(tickCount=5, grid=False))
    bounds = (
        canvas.chart(missing_bars(findings, labels, by))
        .mark_bar(height=19, color=PALE, stroke=PALE, strokeWidth=1)
        .encode(x=across, x2="high:Q", y=names)
    )
    ends = canvas.chart(difference_lines(findings, labels, by))
    offset = alt.YOffset("way:N", sort=CONTRASTS, scale=alt.Scale(paddingOuter=0.35))
    dash = either("way", CONTRASTS, [[1, 0], [3, 1.5]])
    lines = ends.mark_rule(strokeWidth=1).encode(x=across, x2="high:Q", y=names, yOffset=offset, strokeDash=dash)
    legend = alt.Legend(title=None, columns=2 if wide else 1)
    points = ends.mark_point(size=26, strokeWidth=0.9, stroke=INK, opacity=1).encode(
        x=alt.X("estimate:Q"),
        y=names,
        yOffset=offset,
        shape=alt.Shape("way:N", scale=alt.Scale(domain=CONTRASTS, range=["square", "triangle-up"]), legend=legend),
        fill=alt.Fill("way:N", scale=alt.Scale(domain=CONTRASTS, range=[INK, "#ffffff"]), legend=legend),
    )
    nought = canvas.chart([{"nought": 0}]).mark_rule(color=INK, strokeWidth=0.6).encode(x="nought:Q")
    beside = [_beside(findings, labels, protocol, canvas, names)] if wide else []
    return alt.layer(bounds, nought, lines, points, *beside).properties(width=NOMINAL, height=30 * len(findings))


def _beside(findings: list[Finding], labels: list[str], protocol: Protocol, canvas: Canvas, names: alt.Y) -> alt.Chart:
    rows = []
    for finding, label in zip(findings, labels, strict=True):
        place, change = finding_place(finding), signed_change(finding, protocol)
        for way, part in zip(CONTRASTS, ("contrast", "adjusted"), strict=True):
            if place.holds(f"{part}.estimate"):
                said = plain(with_interval(place, part, change))
                rows.append({"measure": label, "way": way, "said": said, "address": addressed(f"{place.id}.{part}")})
    offset = alt.YOffset("way:N", sort=CONTRASTS, scale=alt.Scale(paddingOuter=0.35))
    drawn: alt.Chart = (
        canvas.chart(rows)
        .mark_text(align="left", baseline="middle", fontSize=SMALL, color=INK)
        .encode(x=alt.value(alt.expr("width + 8")), y=names, yOffset=offset, text="said:N", description="address:N")
    )
    return drawn


def windows_measures(comparison: Comparison, protocol: Protocol, outcome: Shown) -> list[Measure]:
    """The main measures of which anything was seen, told in this way."""
    return [
        measure
        for measure in protocol.main_measures
        if any(seen(each) for each in findings_of(comparison, measure, outcome))
    ]


def windows_chart(comparison: Comparison, protocol: Protocol, outcome: Shown, canvas: Canvas) -> Chart:
    """Draw small panels, one a main measure: the result in each cohort at each review, with the lids behind it."""
    measures = windows_measures(comparison, protocol, outcome)
    panels = [
        _panel([each for each in findings_of(comparison, measure, outcome) if seen(each)], measure, protocol, canvas)
        for measure in measures
    ]
    spacing: dict[str, Any] = {"row": 8, "column": 8}
    drawn: Chart = alt.concat(*panels, columns=1, spacing=spacing).resolve_scale(
        y="shared" if outcome == "poor" else "independent", shape="shared", fill="shared", stroke="shared"
    )
    return drawn


def _panel(findings: list[Finding], measure: Measure, protocol: Protocol, canvas: Canvas) -> Panel:
    outcome = shown_as(findings[0])
    used = {each.window for each in findings}
    names = {at: formats.short_time(w.nominal_days) for at, w in enumerate(protocol.windows) if w.id in used}
    words = {str(at): name for at, name in names.items()}
    axis = alt.Axis(values=list(names), labelExpr=f"{words}[datum.value]", grid=False, labelOverlap=False, title=None)
    scale = alt.Scale(domain=[min(names) - 0.6, max(*names, min(names) + 2) + 0.6], nice=False)
    across = alt.X("x:Q", scale=scale, axis=axis)
    up = _up(outcome)
    rows = [row for each in findings for row in _points(each, protocol)]
    base = canvas.chart([row for row in rows if "middle" in row]).encode(x=across)
    numbers = canvas.chart(rows).mark_text(fontSize=SMALL, baseline="top")
    height = 62
    below = alt.expr(f"datum.cohort == {COHORTS[0]!r} ? {height + 15} : {height + 23}")
    heads = canvas.chart([{"cohort": cohort, "name": cohort[0]} for cohort in COHORTS])
    head = heads.mark_text(fontSize=SMALL, baseline="top", align="right", y=below).encode(
        x=alt.value(-4), text="name:N"
    )
    return alt.layer(
        base.mark_rule(strokeWidth=1).encode(
            y=alt.Y("low:Q", **up),
            y2="high:Q",
            stroke=either("cohort", COHORTS, COLOURS),
            strokeDash=either("cohort", COHORTS, DASHES),
        ),
        base.mark_point(size=16, strokeWidth=0.9, opacity=1).encode(
            y=alt.Y("middle:Q", **up), **cohort_point(legend=True)
        ),
        numbers.mark_text(fontSize=SMALL, baseline="top", y=below).encode(
            x=alt.X("at:Q", scale=scale, axis=axis), text="written:N", description="address:N"
        ),
        head,
    ).properties(width=NOMINAL, height=height, title=panel_heading(measure, outcome, protocol))


def _up(outcome: Shown) -> dict[str, Any]:
    if outcome == "poor":
        return {
            "title": None,
            "scale": alt.Scale(domain=[0, 1]),
            "axis": alt.Axis(format=".0%", values=[0, 0.5, 1], grid=True),
        }
    return {
        "title": None,
        "scale": alt.Scale(nice=4, zero=True),
        "axis": alt.Axis(format=".2~f", tickCount=4, grid=True),
    }


def _points(finding: Finding, protocol: Protocol) -> list[dict[str, Any]]:
    at = [window.id for window in protocol.windows].index(finding.window)
    place = finding_place(finding)
    return [
        {
            "cohort": cohort,
            "at": at,
            "x": at + SHIFT[cohort],
            "written": place.figure(f"{cohort}.n", formats.count).text,
            "address": addressed(f"{place.id}.{cohort}.n"),
            **middle(getattr(finding, cohort)),
        }
        for cohort in COHORTS
    ]


SEEN = {"seen": "seen", "missing": "due, not seen", "not_due": "not yet due", "not_applicable": "not applicable"}
SHADES = ["#4a4a4a", "#ffffff", "#c4c4c4", "#ececec"]


def seen_chart(comparison: Comparison, protocol: Protocol, canvas: Canvas) -> Chart:
    """Draw, for each review and cohort, how many lids were seen, missing, not yet due or not applicable."""
    labels = {window.id: window.label for window in protocol.windows}
    rows = [
        {
            "window": labels[each.window],
            "cohort": each.cohort,
            "state": state,
            "lids": getattr(each, part),
            "order": order,
        }
        for each in comparison.followed_by_window
        for order, (part, state) in enumerate(SEEN.items())
    ]
    shades = alt.Scale(domain=list(SEEN.values()), range=SHADES)
    drawn: Chart = (
        canvas.chart(rows)
        .mark_bar(stroke="#4a4a4a", strokeWidth=0.4, height=alt.RelativeBandSize(band=0.8))
        .encode(
            x=alt.X("lids:Q", title="lids", axis=alt.Axis(tickMinStep=1, tickCount=5, grid=False)),
            y=alt.Y(
                "row:N",
                sort=[f"{label}, {cohort[0]}" for label in labels.values() for cohort in COHORTS],
                title=None,
                axis=alt.Axis(ticks=False, domain=False),
            ),
            fill=alt.Fill("state:N", scale=shades, legend=alt.Legend(title=None, symbolType="square", columns=2)),
            order="order:Q",
        )
        .transform_calculate(row="datum.window + ', ' + slice(datum.cohort, 0, 1)")
        .properties(width=NOMINAL, height=11 * 2 * len({row["window"] for row in rows}))
    )
    return drawn
