"""Each main difference again with one thing done differently, one panel a measure."""

from __future__ import annotations

from functools import partial
from typing import Any

import altair as alt

from outcomes.findings.results import CheckId, Comparison, Finding
from outcomes.protocol import Protocol
from outcomes.report.charts.drawing import NOMINAL, Canvas, Chart, Figure
from outcomes.report.charts.theme import INK, QUIET, Panel, Size, level_intervals
from outcomes.report.finding_index import who_phrase
from outcomes.report.finding_words import CHECKS
from outcomes.report.sentences import measure_words, unit_words
from outcomes.report.tables.sensitivity import CHECKS_NOTE, checked, checks_made

MAIN = "Main analysis"
MOST_COLUMNS = 3
WORDS = "Dashed line: the main analysis. Left of zero: less with advanced skin."


def checks_figures(comparison: Comparison, protocol: Protocol) -> tuple[Figure, ...]:
    """The checks of the main measures and of further ones with a difference; nothing when none was made."""
    findings = [each for each in checked(comparison, protocol) if each.checks]
    names = checks_made(tuple(findings))
    if not names:
        return ()
    described = "; ".join(f"{measure_words(each, protocol)}: {_described(each, names)}" for each in findings)
    return (
        Figure(
            "checks",
            "The differences checked in other ways",
            ((CHECKS_NOTE,), (WORDS,), who_phrase(comparison)),
            f"{described}.",
            partial(_chart, findings, names, protocol),
            narrow=False,
            around=23,
        ),
    )


def _described(finding: Finding, names: tuple[CheckId, ...]) -> str:
    rows = _rows(finding, names)
    return ", ".join(f"{row['check'].lower()} {row['estimate']:.2f}" for row in rows)


def _rows(finding: Finding, names: tuple[CheckId, ...]) -> list[dict[str, Any]]:
    parts = [(MAIN, finding.judged), *((CHECKS[name], finding.check(name)) for name in names)]
    return [
        {"check": label, "estimate": part.estimate, "low": part.low, "high": part.high}
        for label, part in parts
        if part is not None and part.estimate is not None and part.low is not None and part.high is not None
    ]


def _chart(
    findings: list[Finding], names: tuple[CheckId, ...], protocol: Protocol, canvas: Canvas, size: Size
) -> Chart:
    labels = [MAIN, *(CHECKS[name] for name in names)]
    columns = min(MOST_COLUMNS if size.columns > 1 else 1, len(findings))
    panels = [
        _panel(_rows(each, names), _names(labels, size, shown=at % columns == 0), canvas, size).properties(
            title=alt.TitleParams(
                [protocol.measure(each.measure).label, f"({unit_words(each, protocol)})"],
                fontSize=size.small,
                fontWeight="normal",
                offset=size.em(0.3),
            )
        )
        for at, each in enumerate(findings)
    ]
    spacing: dict[str, Any] = {"row": size.em(1), "column": size.em(1)}
    drawn: Chart = alt.concat(*panels, columns=columns, spacing=spacing)
    return drawn


def _names(labels: list[str], size: Size, *, shown: bool) -> alt.Y:
    """The checks from top to bottom; only panels at the left edge name them."""
    axis = alt.Axis(domain=False, ticks=False, grid=True, labels=shown, labelLimit=size.em(24))
    return alt.Y("check:N", sort=labels, title=None, axis=axis, scale=alt.Scale(domain=labels))


def _panel(rows: list[dict[str, Any]], names: alt.Y, canvas: Canvas, size: Size) -> Panel:
    base = canvas.chart(rows)
    across = alt.X(
        "low:Q", title=None, axis=alt.Axis(tickCount=4, grid=False), scale=alt.Scale(nice=False, padding=size.em(0.5))
    )
    zero = canvas.chart([{"at": 0}]).mark_rule(color=INK, strokeWidth=size.em(0.08)).encode(x="at:Q")
    main = (
        canvas.chart(rows[:1])
        .mark_rule(color=QUIET, strokeDash=[3, 2], strokeWidth=size.em(0.08))
        .encode(x="estimate:Q")
    )
    tooltip = ["check:N", *(alt.Tooltip(f"{name}:Q", format=".2f") for name in ("estimate", "low", "high"))]
    points = base.mark_point(size=size.point * 0.8, fill=INK, stroke=INK, shape="square", opacity=1)
    return alt.layer(
        zero,
        main,
        *level_intervals(base, across, size, y=names),
        points.encode(x=alt.X("estimate:Q"), y=names, tooltip=tooltip),
    ).properties(width=NOMINAL, height=size.em(8.4))
