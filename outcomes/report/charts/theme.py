"""The look of every chart, and the sizes in which charts are drawn.

The two cohorts differ in colour, in shape and in filling: dark blue filled circles for grafted, lighter orange open diamonds
for advanced, so that they stay apart in grey print and for every kind of colour vision.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
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
POINTS_IN_MM = 72 / 25.4

Panel = alt.LayerChart | alt.FacetChart  # what altair says that alt.layer gives


@dataclass(frozen=True)
class Size:
    """A size in which a figure is drawn: its whole width and its letters, both in points; all else follows from the letters."""

    name: str
    width: float
    text: float
    small: float
    columns: int  # of small panels
    titled: bool = False  # the title stands in the drawing
    bold: bool = False
    near: float = 0.4  # how near the whole width must come: a page scales its drawings, print does not
    plot: float = 1.0  # how high a plot of curves is, in parts of its usual height
    terse: bool = False  # words alone beside a mark, no numbers: they stand in a table

    def em(self, number: float) -> float:
        """So many times the size of the letters."""
        return round(number * self.text, 2)

    @property
    def point(self) -> float:
        """The area of a point."""
        return self.em(0.62) ** 2

    @property
    def line(self) -> float:
        """The width of the line of an interval."""
        return self.em(0.125)


SCREEN = Size("screen", 480, 12, 11.5, 2, titled=True, bold=True, near=50)
ONE_COLUMN = Size("85mm", 85 * POINTS_IN_MM, 8, 7, 1)
TWO_COLUMNS = Size("175mm", 175 * POINTS_IN_MM, 8, 7, 3)
SLIDE = Size("slide", 872, 20, 18, 3, plot=0.72, terse=True)
PRINT = {85: ONE_COLUMN, 175: TWO_COLUMNS}


def config(size: Size) -> dict[str, Any]:
    """The settings of a chart in this size."""
    text, heavy = size.text, "bold" if size.bold else "normal"
    return {
        "font": FONT,
        "background": "#ffffff",
        "padding": size.em(0.3),
        "view": {"stroke": None},
        "axis": {
            "labelFontSize": size.small,
            "titleFontSize": text,
            "labelColor": INK,
            "titleColor": INK,
            "titleFontWeight": "normal",
            "gridColor": "#ececec",
            "gridWidth": size.em(0.07),
            "domainColor": "#8a8a8a",
            "domainWidth": size.em(0.08),
            "tickColor": "#8a8a8a",
            "tickWidth": size.em(0.08),
            "tickSize": size.em(0.38),
            "labelFlush": False,
            "labelLimit": 0,  # to keep a limit the engine measures every label twice; axes that name things set their own
            "labelPadding": size.em(0.35),
            "titlePadding": size.em(0.5),
        },
        "axisBand": {"grid": False},
        "legend": {
            "labelFontSize": size.small,
            "titleFontSize": text,
            "titleFontWeight": "normal",
            "orient": "top",
            "labelLimit": 400,
            "symbolSize": size.point * 1.2,
            "symbolStrokeWidth": size.line,
            "columnPadding": size.em(1),
            "rowPadding": size.em(0.15),
            "offset": size.em(0.6),
        },
        "title": {
            "fontSize": text,
            "fontWeight": heavy,
            "anchor": "start",
            "color": INK,
            "offset": size.em(0.6),
            "lineHeight": size.em(1.25),
        },
        "text": {"fontSize": text, "color": INK},
    }


def cohort_point(*, legend: bool) -> dict[str, Any]:
    """The encodings of a point of a cohort: shape, filled or open, and the colour of its edge."""
    shown = alt.Legend(title=None) if legend else None
    return {
        "shape": alt.Shape("cohort:N", scale=of_cohorts(SHAPES), legend=shown),
        "fill": alt.Fill("cohort:N", scale=of_cohorts(FILLS), legend=shown),
        "stroke": alt.Stroke("cohort:N", scale=of_cohorts(COLOURS), legend=shown),
    }


def cohort_line(size: Size) -> dict[str, Any]:
    """The encodings of a line of a cohort: colour, solid or dashed."""
    shown = alt.Legend(title=None, symbolType="stroke", symbolSize=size.em(2) ** 2)
    return {
        "stroke": alt.Stroke("cohort:N", scale=of_cohorts(COLOURS), legend=shown),
        "strokeDash": alt.StrokeDash("cohort:N", scale=of_cohorts(DASHES), legend=shown),
    }


def cohort_colour() -> Any:  # noqa: ANN401 - altair gives its values no type
    """The colour of a mark of a cohort, without a legend."""
    return either("cohort", COHORTS, COLOURS)


def upright_intervals(base: alt.Chart, up: dict[str, Any], size: Size) -> list[alt.Chart]:
    """Solid lines from `low` to `high` with an end at each, in the colour of their cohort."""
    line = base.mark_rule(strokeWidth=size.line).encode(y=alt.Y("low:Q", **up), y2="high:Q", stroke=cohort_colour())
    end: dict[str, Any] = {"orient": "horizontal", "size": size.em(0.5), "thickness": size.line}
    ends = (base.mark_tick(**end).encode(y=alt.Y(f"{name}:Q", **up), color=cohort_colour()) for name in ("low", "high"))
    return [line, *ends]


def level_intervals(base: alt.Chart, across: alt.X, size: Size, **encodings: Any) -> list[alt.Chart]:  # noqa: ANN401 - altair's own encodings
    """Solid lines from `low` to `high` with an end at each, across the page."""
    line = base.mark_rule(strokeWidth=size.line, color=INK).encode(x=across, x2="high:Q", **encodings)
    end: dict[str, Any] = {"orient": "vertical", "size": size.em(0.5), "thickness": size.line, "color": INK}
    return [line, *(base.mark_tick(**end).encode(x=alt.X(f"{name}:Q"), **encodings) for name in ("low", "high"))]


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
