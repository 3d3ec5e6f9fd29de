"""Who was followed, for how long, and what happened to each lid?"""

from __future__ import annotations

from typing import Any

import altair as alt

from outcomes.findings.results import Comparison, Followed, WindowFollowed
from outcomes.protocol import COHORTS, Protocol
from outcomes.report.charts.rendering import Drawing, Picture
from outcomes.report.charts.theme import COLOURS, FAINT, INK, QUIET, SMALL, Panel

WIDTH = 430
ROW_HEIGHTS = ((40, 11), (90, 7), (250, 4))  # up to so many lids, this many points a row
LEAST_ROW = 2.5
DAYS_A_MONTH = 30.4375
NAMED = 10  # rows at least so tall carry their case's code
SHAPES = (
    "cross",
    "diamond",
    "square",
    "triangle-up",
    "triangle-down",
    "triangle-right",
    "triangle-left",
    "circle",
    "wedge",
    "arrow",
)


def followed_picture(comparison: Comparison, protocol: Protocol) -> Picture | None:
    """Draw one row a lid from operation to the last it was seen, with division, reviews and events; None when no lid is held."""
    held = [each for each in comparison.followed if each.cohort in COHORTS]
    if not held:
        return None
    drawing = Drawing("followed")
    kinds = [kind for kind in _kinds(protocol) if any(kind in {name for name, _ in _happenings(each)} for each in held)]
    panels = [
        _panel(drawing, sorted((each for each in held if each.cohort == cohort), key=_length, reverse=True), kinds)
        for cohort in COHORTS
        if any(each.cohort == cohort for each in held)
    ]
    title = "Who was followed, and for how long"
    subtitle = [
        "One row a lid, longest followed first. Line: from operation to the last day it was seen or known about.",
        "Faint line: the time until which it could have been followed. Small points: reviews. Upright: division.",
    ]
    chart = (
        alt.vconcat(*panels, spacing=12)
        .resolve_scale(x="shared")
        .properties(
            title=alt.TitleParams(title, subtitle=subtitle),
        )
    )
    return drawing.picture(chart, title=title, description=_described(held))


def _described(held: list[Followed]) -> str:
    said = []
    for cohort in COHORTS:
        lids = [each for each in held if each.cohort == cohort]
        events = [name for each in lids for name, _ in _happenings(each)]
        counted = ", ".join(f"{name} {events.count(name)}" for name in dict.fromkeys(events))
        said.append(f"{len(lids)} {cohort} lids; events: {counted or 'none'}")
    return ". ".join(said) + "."


def _kinds(protocol: Protocol) -> tuple[str, ...]:
    return protocol.field("events", "kind").values


def _happenings(each: Followed) -> tuple[tuple[str, int], ...]:
    return each.events if each.ended is None or each.ended in each.events else (*each.events, each.ended)


def _length(each: Followed) -> int:
    days = [0, each.divided or 0, *each.reviews, *(day for _, day in _happenings(each))]
    return max(days)


def _panel(drawing: Drawing, lids: list[Followed], kinds: list[str]) -> Panel:
    tall = next((height for most, height in ROW_HEIGHTS if len(lids) <= most), LEAST_ROW)
    cohort = lids[0].cohort
    axis = alt.Axis(labels=True, ticks=False, domain=False, labelFontSize=8) if tall >= NAMED else None
    y = alt.Y("case:N", sort=[each.case for each in lids], title=None, axis=axis)
    x: dict[str, Any] = {
        "title": "months since operation",
        "scale": alt.Scale(nice=False, zero=True),
        "axis": alt.Axis(tickCount=8),
    }
    rows = drawing.chart([_row(each) for each in lids])
    could = rows.mark_rule(stroke=FAINT, strokeWidth=1).encode(x=alt.X("zero:Q", **x), x2="could:Q", y=y)
    colour = dict(zip(COHORTS, COLOURS, strict=True))[cohort]
    line = rows.mark_rule(stroke=colour, strokeWidth=1.2).encode(x=alt.X("zero:Q", **x), x2="last:Q", y=y)
    divided = (
        rows.transform_filter("isValid(datum.divided)")
        .mark_tick(color=INK, thickness=1.4, size=tall)
        .encode(
            x=alt.X("divided:Q", **x),
            y=y,
        )
    )
    reviews = (
        drawing.chart([{"case": each.case, "at": _months(day)} for each in lids for day in each.reviews])
        .mark_circle(
            size=9,
            color=colour,
            opacity=1,
        )
        .encode(x=alt.X("at:Q", **x), y=y)
    )
    heading = alt.TitleParams(f"{cohort.capitalize()} ({len(lids)} lids)", fontSize=13, frame="group", offset=4)
    events = _events(drawing, lids, kinds, alt.X("at:Q", **x), y)
    return alt.layer(could, line, divided, reviews, *events).properties(
        width=WIDTH,
        height=tall * len(lids),
        title=heading,
    )


def _events(drawing: Drawing, lids: list[Followed], kinds: list[str], x: alt.X, y: alt.Y) -> list[alt.Chart]:
    rows = [
        {"case": each.case, "kind": kind, "at": _months(day)}
        for each in lids
        for kind, day in _happenings(each)
        if kind in kinds
    ]
    if not kinds:
        return []
    shapes = alt.Scale(domain=kinds, range=[SHAPES[at % len(SHAPES)] for at in range(len(kinds))])
    legend = alt.Legend(title=None, columns=3)
    return [
        drawing.chart(rows)
        .mark_point(size=48, stroke=INK, strokeWidth=1.1, fill="#ffffff", opacity=1)
        .encode(
            x=x,
            y=y,
            shape=alt.Shape("kind:N", scale=shapes, legend=legend),
        ),
    ]


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


SEEN = {"seen": "seen", "missing": "due, not seen", "not_due": "not yet due", "not_applicable": "not applicable"}
SHADES = ["#4a4a4a", "#ffffff", "#d3d3d3", "#efefef"]


def seen_picture(comparison: Comparison, protocol: Protocol) -> Picture | None:
    """Draw, for each review and cohort, how many lids were seen, missing, not yet due or not applicable."""
    held = comparison.followed_by_window
    if not held:
        return None
    drawing = Drawing("seen-by-window")
    labels = {window.id: window.label for window in protocol.windows}
    title = "How many lids were seen at each review"
    rows = [row for each in held for row in _seen_rows(each, labels[each.window])]
    chart = (
        drawing.chart(rows)
        .mark_bar(stroke="#4a4a4a", strokeWidth=0.6, height=alt.RelativeBandSize(band=0.85))
        .encode(
            x=alt.X("lids:Q", title="lids", axis=alt.Axis(tickMinStep=1)),
            y=alt.Y("window:N", sort=list(labels.values()), title=None, scale=alt.Scale(paddingInner=0.25)),
            yOffset=alt.YOffset("cohort:N", sort=list(COHORTS)),
            fill=alt.Fill(
                "state:N",
                scale=alt.Scale(domain=list(SEEN.values()), range=SHADES),
                legend=alt.Legend(title=None, symbolType="square"),
            ),
            order="order:Q",
        )
    )
    words = (
        drawing.chart(_seen_words(held, labels))
        .mark_text(align="left", dx=5, fontSize=SMALL, color=QUIET)
        .encode(
            x="all:Q",
            y=alt.Y("window:N", sort=list(labels.values())),
            yOffset=alt.YOffset("cohort:N", sort=list(COHORTS)),
            text="words:N",
        )
    )
    whole = alt.layer(chart, words).properties(width=300, height=34 * len({each.window for each in held}), title=title)
    described = "; ".join(f"{row['window']} {row['cohort']} {row['state']} {row['lids']}" for row in rows)
    return drawing.picture(whole, title=title, description=f"{described}.")


def _seen_rows(each: WindowFollowed, label: str) -> list[dict[str, Any]]:
    return [
        {"window": label, "cohort": each.cohort, "state": state, "lids": getattr(each, part), "order": order}
        for order, (part, state) in enumerate(SEEN.items())
    ]


def _seen_words(held: tuple[WindowFollowed, ...], labels: dict[str, str]) -> list[dict[str, Any]]:
    return [
        {
            "window": labels[each.window],
            "cohort": each.cohort,
            "words": f"{each.cohort}: {each.seen} seen",
            "all": each.seen + each.missing + each.not_due + each.not_applicable,
        }
        for each in held
    ]
