"""How do all charts look?

The two cohorts differ in three ways at once, so that they stay apart in grey and to every eye: dark blue, filled circle,
solid line for grafted; lighter orange, open diamond, dashed line for advanced. Shipped font; sizes that stay readable at
half a page width.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import altair as alt

from outcomes.protocol import COHORTS

# vl-convert draws no text at all when no family of the list is known, so the list ends with one that it carries.
FONT = "Register Sans, Arial, sans-serif"
COLOURS = ["#173f6b", "#d07a00"]
FILLS = ["#173f6b", "#ffffff"]
DASHES = [[1000, 0], [5, 3]]  # the first is a line without gaps
SHAPES = ["circle", "diamond"]
INK, QUIET, FAINT, PALE = "#222222", "#5c5c5c", "#d9d9d9", "#e9e4da"
LIGHTEST, DARKEST = 0xF4, 0x2A
TEXT, SMALL = 12, 11
WIDTH = 430

Panel = alt.LayerChart | alt.FacetChart  # what altair says that alt.layer gives

CONFIG: dict[str, Any] = {
    "font": FONT,
    "background": "#ffffff",
    "padding": 6,
    "view": {"stroke": None},
    "axis": {
        "labelFontSize": TEXT,
        "titleFontSize": TEXT,
        "labelColor": INK,
        "titleColor": INK,
        "titleFontWeight": "normal",
        "gridColor": "#ececec",
        "domainColor": "#8a8a8a",
        "tickColor": "#8a8a8a",
        "labelFlush": False,
        "labelLimit": 400,
        "titlePadding": 7,
    },
    "axisBand": {"grid": False},
    "legend": {
        "labelFontSize": TEXT,
        "titleFontSize": TEXT,
        "titleFontWeight": "normal",
        "orient": "top",
        "labelLimit": 400,
        "symbolSize": 80,
        "symbolStrokeWidth": 1.8,
        "columnPadding": 18,
    },
    "title": {
        "fontSize": 14,
        "fontWeight": "bold",
        "anchor": "start",
        "color": INK,
        "subtitleFontSize": TEXT,
        "subtitleColor": QUIET,
        "subtitlePadding": 5,
        "offset": 10,
        "frame": "bounds",
        "lineHeight": 17,
    },
    "header": {"labelFontSize": TEXT, "labelFontWeight": "bold", "title": None, "labelAnchor": "start"},
    "text": {"fontSize": TEXT, "color": INK},
    "concat": {"spacing": 26},
}


def cohort_point(*, legend: bool) -> dict[str, Any]:
    """The encodings of a point of a cohort: shape, filled or open, and the colour of its edge."""
    shown = alt.Legend(title=None) if legend else None
    return {
        "shape": alt.Shape("cohort:N", scale=of_cohorts(SHAPES), legend=shown),
        "fill": alt.Fill("cohort:N", scale=of_cohorts(FILLS), legend=shown),
        "stroke": alt.Stroke("cohort:N", scale=of_cohorts(COLOURS), legend=shown),
    }


def cohort_line(*, legend: bool) -> dict[str, Any]:
    """The encodings of a line of a cohort: colour, solid or dashed."""
    if not legend:
        return {"stroke": either("cohort", COHORTS, COLOURS), "strokeDash": either("cohort", COHORTS, DASHES)}
    shown = alt.Legend(title=None, symbolType="stroke", symbolSize=500)
    return {
        "stroke": alt.Stroke("cohort:N", scale=of_cohorts(COLOURS), legend=shown),
        "strokeDash": alt.StrokeDash("cohort:N", scale=of_cohorts(DASHES), legend=shown),
    }


def shades(number: int) -> list[str]:
    """Give so many greys from light to dark, each told apart in print."""
    step = (LIGHTEST - DARKEST) / max(number - 1, 1)
    return [f"#{round(LIGHTEST - step * at):02x}" + f"{round(LIGHTEST - step * at):02x}" * 2 for at in range(number)]


def either(field: str, names: Sequence[str | bool], values: Sequence[Any]) -> Any:  # noqa: ANN401 - altair gives its values no type
    """Give the first value to marks whose field holds the first name, else the second: no scale, so no legend."""
    return alt.value(
        alt.expr(f"datum.{field} == {json.dumps(names[0])} ? {json.dumps(values[0])} : {json.dumps(values[1])}")
    )


def of_cohorts(scale_range: list[Any]) -> alt.Scale:
    """The scale that gives each cohort its own of two looks."""
    return alt.Scale(domain=list(COHORTS), range=scale_range)
