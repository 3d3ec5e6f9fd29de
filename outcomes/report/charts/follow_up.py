"""The follow-up of each lid as a line of its own, and the lids measured at each review."""

from __future__ import annotations

from functools import partial
from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, Followed
from outcomes.protocol import COHORTS, Protocol
from outcomes.report.charts.drawing import NOMINAL, Canvas, Chart, Figure
from outcomes.report.charts.theme import COLOURS, FAINT, INK, Panel, Size
from outcomes.report.finding_index import drawn_words, who_phrase

TALLEST, ROW, NAMED = 46, 0.95, 0.85  # of both panels, of one row, and of the least row that carries its case's code
DAYS_A_MONTH = 30.4375
SHAPES = (
    "cross", "diamond", "square", "triangle-up", "triangle-down", "triangle-right", "triangle-left", "circle", "wedge",
    "arrow",
)  # fmt: skip
MONTHS = alt.Tooltip("at:Q", title="months since operation", format=".1f")
WORDS = (
    "One row a lid, longest followed first. Line: from operation to the last day it was seen or known about. "
    "Faint line: the time until which it could have been followed. Small points: reviews. Upright: division."
)
SEEN_WORDS = (
    "Lids of each cohort (g grafted, a advanced) that were seen, due and not seen, not yet due, and not applicable."
)
SEEN = {"seen": "seen", "missing": "due, not seen", "not_due": "not yet due", "not_applicable": "not applicable"}
WHOLE = "datum.value % 1 ? '' : format(datum.value, 'd')"
SHADES = ["#4a4a4a", "#ffffff", "#a8a8a8", "#dadada"]


def followed_figures(comparison: Comparison, protocol: Protocol) -> tuple[Figure, ...]:
    """One row a lid from operation to the last day it was seen; nothing when no lid is told of."""
    lids = [each for each in comparison.followed if each.cohort in COHORTS]
    if not lids:
        return ()
    return (
        Figure(
            "followed",
            "Follow-up of each lid",
            ((WORDS,), *drawn_words(comparison), who_phrase(comparison)),
            _described(lids),
            partial(_chart, lids, protocol.field("events", "kind").values),
            single_lids=True,
            around=1.2,
        ),
    )


def _described(lids: list[Followed]) -> str:
    parts = []
    for cohort in COHORTS:
        of_cohort = [each for each in lids if each.cohort == cohort]
        events = [name for each in of_cohort for name, _ in _events(each)]
        counted = ", ".join(f"{name} {events.count(name)}" for name in dict.fromkeys(events))
        parts.append(f"{len(of_cohort)} {cohort} lids; events: {counted or 'none'}")
    return ". ".join(parts) + "."


def _events(each: Followed) -> tuple[tuple[str, int], ...]:
    return each.events if each.ended is None or each.ended in each.events else (*each.events, each.ended)


def _length(each: Followed) -> int:
    return max([0, each.divided or 0, *each.reviews, *(day for _, day in _events(each))])


def _chart(lids: list[Followed], kinds: tuple[str, ...], canvas: Canvas, size: Size) -> Chart:
    happened = {name for each in lids for name, _ in _events(each)}
    shown = [kind for kind in kinds if kind in happened]
    row = min(ROW, TALLEST / len(lids))
    panels = (
        _panel(sorted(of_cohort, key=_length, reverse=True), shown, row, canvas, size)
        for cohort in COHORTS
        if (of_cohort := [each for each in lids if each.cohort == cohort])
    )
    chart: Chart = alt.vconcat(*panels, spacing=size.em(1)).resolve_scale(x="shared")
    return chart


def _panel(lids: list[Followed], kinds: list[str], row: float, canvas: Canvas, size: Size) -> Panel:
    cohort, tall = lids[0].cohort, size.em(row)
    named = alt.Axis(labels=True, ticks=False, domain=False, labelFontSize=size.em(0.65)) if row >= NAMED else None
    y = alt.Y("case:N", sort=[each.case for each in lids], title=None, axis=named)
    scale = alt.Scale(nice=False, zero=True)
    x: dict[str, Any] = {"title": "months since operation", "scale": scale, "axis": alt.Axis(tickCount=8)}
    rows = canvas.chart([_row(each) for each in lids])
    colour = dict(zip(COHORTS, COLOURS, strict=True))[cohort]
    could = rows.mark_rule(stroke=FAINT, strokeWidth=size.em(0.08)).encode(x=alt.X("zero:Q", **x), x2="could:Q", y=y)
    line = rows.mark_rule(stroke=colour, strokeWidth=size.em(0.1)).encode(x=alt.X("zero:Q", **x), x2="last:Q", y=y)
    divided = rows.transform_filter("isValid(datum.divided)").mark_tick(color=INK, thickness=size.em(0.12), size=tall)
    reviews = canvas.chart([_at(each, day) for each in lids for day in each.reviews])
    at = alt.X("at:Q", **x)
    return alt.layer(
        could,
        line,
        divided.encode(x=alt.X("divided:Q", **x), y=y),
        reviews.mark_circle(size=size.em(0.25) ** 2, color=colour, opacity=1).encode(
            x=at, y=y, tooltip=["case:N", "date:N", MONTHS]
        ),
        *([_event_marks(lids, kinds, canvas, size).encode(x=at, y=y)] if kinds else []),
    ).properties(width=NOMINAL, height=tall * len(lids), title=f"{cohort.capitalize()} ({len(lids)} lids)")


def _event_marks(lids: list[Followed], kinds: list[str], canvas: Canvas, size: Size) -> alt.Chart:
    rows = [{**_at(each, day), "kind": kind} for each in lids for kind, day in _events(each) if kind in kinds]
    shapes = alt.Scale(domain=kinds, range=[SHAPES[at % len(SHAPES)] for at in range(len(kinds))])
    marks: alt.Chart = (
        canvas.chart(rows)
        .mark_point(size=size.point, stroke=INK, strokeWidth=size.em(0.1), fill="#ffffff", opacity=1)
        .encode(
            shape=alt.Shape("kind:N", scale=shapes, legend=alt.Legend(title=None, columns=4)),
            tooltip=["case:N", "kind:N", "date:N", MONTHS],
        )
    )
    return marks


def _at(each: Followed, day: int) -> dict[str, Any]:
    return {"case": each.case, "date": each.date_of(day).isoformat(), "at": _months(day)}


def _row(each: Followed) -> dict[str, Any]:
    row: dict[str, Any] = {
        "case": each.case,
        "zero": 0,
        "last": _months(_length(each)),
        "could": _months(max(each.due_until, _length(each))),
    }
    return row if each.divided is None else {**row, "divided": _months(each.divided)}


def _months(days: int) -> float:
    return days / DAYS_A_MONTH


def seen_figures(comparison: Comparison, protocol: Protocol) -> tuple[Figure, ...]:
    """For each review and cohort, how many lids were seen, missing, not yet due or not applicable."""
    if not comparison.followed_by_window:
        return ()
    labels = {window.id: window.label for window in protocol.windows}
    rows = [
        {"window": labels[each.window], "cohort": each.cohort, "state": state, "lids": getattr(each, part), "order": at}
        for each in comparison.followed_by_window
        for at, (part, state) in enumerate(SEEN.items())
    ]
    order = [f"{label}, {cohort[0]}" for label in labels.values() for cohort in COHORTS]
    return (
        Figure(
            "seen",
            "Lids seen at each review",
            ((SEEN_WORDS,), who_phrase(comparison)),
            "; ".join(f"{row['window']} {row['cohort']} {row['state']} {row['lids']}" for row in rows) + ".",
            partial(_seen_chart, rows, order),
        ),
    )


def _seen_chart(rows: list[dict[str, Any]], order: list[str], canvas: Canvas, size: Size) -> Chart:
    shades = alt.Scale(domain=list(SEEN.values()), range=SHADES)
    legend = alt.Legend(title=None, symbolType="square", columns=2 * min(size.columns, 2))
    drawn: Chart = (
        canvas.chart(rows)
        .mark_bar(stroke="#4a4a4a", strokeWidth=size.em(0.05), height=alt.RelativeBandSize(band=0.8))
        .encode(
            x=alt.X("lids:Q", title="lids", axis=alt.Axis(tickCount=5, labelExpr=WHOLE, grid=False)),
            y=alt.Y("row:N", sort=order, title=None, axis=alt.Axis(ticks=False, domain=False)),
            fill=alt.Fill("state:N", scale=shades, legend=legend),
            order="order:Q",
            tooltip=["window:N", "cohort:N", "state:N", "lids:Q"],
        )
        .transform_calculate(row="datum.window + ', ' + slice(datum.cohort, 0, 1)")
        .properties(width=NOMINAL, height=size.em(1.35) * 2 * len({row["window"] for row in rows}))
    )
    return drawn
