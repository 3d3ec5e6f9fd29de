"""How is a figure drawn at exactly the width that a journal prints?

One unit of a plate is one point of print, so a letter of 8 is 8 points on the page. A chart is drawn twice: once to see how
much room its labels take, and again so that the whole is as wide as asked. Every number in it carries its address.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from html import escape
from typing import Any

import altair as alt

from outcomes.report.charts.rendering import SIZE, drawn, with_own_ids
from outcomes.report.charts.theme import CONFIG, FONT
from outcomes.report.traced_text import Phrase
from outcomes.report.typst_render import FONTS

POINTS_IN_MM = 72 / 25.4
WIDTHS_MM = (85, 175)
TEXT, SMALL = 8, 7
PADDING = 2
_ADDRESS = re.compile(r'aria-label="id:([^"]*)"')

Chart = alt.LayerChart | alt.FacetChart | alt.VConcatChart | alt.ConcatChart | alt.Chart


@dataclass
class Canvas:
    """A chart while it is drawn: the rows that it shows, held apart from the chart."""

    rows: dict[str, list[dict[str, Any]]] = field(default_factory=dict)

    def chart(self, rows: list[dict[str, Any]]) -> alt.Chart:
        """Begin a layer of these rows."""
        name = f"rows-{len(self.rows)}"
        self.rows[name] = rows
        return alt.Chart(alt.NamedData(name))


@dataclass(frozen=True)
class Plate:
    """One figure at one width: its drawing, and how wide and high it is in points."""

    width: float
    height: float
    drawn: str


@dataclass(frozen=True)
class FigureOfPack:
    """A figure of the pack: its id, what it shows, a caption that stands alone, and its plates by width in mm."""

    id: str
    title: str
    caption: tuple[Phrase, ...]
    plates: dict[int, Plate]


Draw = Callable[[Canvas], Chart]
TRIALS, NEAR = (
    3,
    0.3,
)  # how often a chart is drawn at most, and how near its width must come to the one asked for, in points
NOMINAL, LEAST = 101, 30  # the width with which every plot is described, and the least that it may come to have


@dataclass(frozen=True)
class Sketch:
    """A chart described once, at the nominal width, from which plates of any width are drawn."""

    name: str
    spec: dict[str, Any]
    beside: dict[int, float] = field(
        default_factory=dict
    )  # what the labels took, by the number of columns, when last drawn


def sketch(name: str, draw: Draw) -> Sketch:
    """Describe a chart; describing takes longer than drawing, so it is done once for all widths."""
    canvas = Canvas()
    spec: dict[str, Any] = draw(canvas).to_dict(validate=False)
    return Sketch(name, spec | {"config": PRINT, "datasets": canvas.rows})


def plate(held: Sketch, width_mm: int, *, columns: int = 1) -> Plate:
    """Draw the chart so that the whole is exactly so wide, in so many columns if it has several panels."""
    wanted = width_mm * POINTS_IN_MM
    plot = (wanted - held.beside.get(columns, 0.4 * wanted)) / columns
    for _ in range(TRIALS):
        width, height, inner = _measured(_drawn(held, max(plot, LEAST), columns))
        held.beside[columns] = width - plot * columns
        if abs(width - wanted) < NEAR:
            break
        plot = (wanted - held.beside[columns]) / columns
    return finished(held.name, inner, (max(width, wanted), height))


def finished(name: str, inner: str, size: tuple[float, float]) -> Plate:
    """Make a plate of a drawing without its outermost element: its ids get the figure's own prefix."""
    traced = _ADDRESS.sub(r'data-id="\1"', with_own_ids(inner, name))
    return Plate(size[0], size[1], traced)


def standing_alone(held: Plate, title: str, caption: str, stamp: str, *, font: bool) -> str:
    """The plate as an SVG file of its true size, with its words, its stamp and, if asked, its letters inside."""
    face = (
        f"<style>@font-face{{font-family:'Register Sans';src:url(data:font/otf;base64,{_face()})}}</style>"
        if font
        else ""
    )
    width, height = held.width / POINTS_IN_MM, held.height / POINTS_IN_MM
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" version="1.1" role="img" '
        f'width="{width:.3f}mm" height="{height:.3f}mm" viewBox="0 0 {held.width:.3f} {held.height:.3f}">'
        f"<title>{escape(title)}</title><desc>{escape(caption)}</desc><metadata>{escape(stamp)}</metadata>{face}"
        f'<rect width="100%" height="100%" fill="#ffffff"/>{held.drawn}</svg>\n'
    )


@cache
def _face() -> str:
    return base64.b64encode((FONTS / "RegisterSans-Regular.otf").read_bytes()).decode()


def _drawn(held: Sketch, width: float, columns: int) -> str:
    spec = _resized(held.spec, width)
    if "columns" in spec:
        spec["columns"] = columns
    return drawn(spec)


def _resized(part: Any, width: float) -> Any:  # noqa: ANN401 - any part of a description
    """The description with another width in place of the nominal one."""
    if isinstance(part, dict):
        return {
            name: width
            if name == "width" and each == NOMINAL
            else each
            if name == "datasets"
            else _resized(each, width)
            for name, each in part.items()
        }
    return [_resized(each, width) for each in part] if isinstance(part, list) else part


def _measured(drawn: str) -> tuple[float, float, str]:
    found = SIZE.search(drawn)
    if found is None:
        raise ValueError("the drawing has no size")
    inner = drawn[drawn.index(">", found.end() - 1) + 1 :].rsplit("</svg>", 1)[0]
    return float(found[2]), float(found[3]), inner


def addressed(number_id: str) -> str:
    """The text by which a mark carries the address of its number through the drawing."""
    return f"id:{number_id}"


def _print_config() -> dict[str, Any]:
    """The style of all charts, at the sizes of print."""
    sizes = {"labelFontSize": SMALL, "titleFontSize": TEXT, "fontSize": TEXT, "subtitleFontSize": TEXT}
    held = {
        name: {key: sizes.get(key, each) for key, each in part.items()} if isinstance(part, dict) else part
        for name, part in CONFIG.items()
    }
    held["padding"] = PADDING
    held["font"] = FONT
    held["axis"] |= {
        "titlePadding": 4,
        "labelPadding": 3,
        "tickSize": 3,
        "gridWidth": 0.5,
        "domainWidth": 0.6,
        "tickWidth": 0.6,
    }
    held["legend"] |= {"symbolSize": 30, "symbolStrokeWidth": 1.1, "columnPadding": 8, "rowPadding": 1, "offset": 4}
    held["title"] |= {"fontSize": TEXT, "fontWeight": "normal", "offset": 4, "lineHeight": 10}
    held["header"] |= {"labelFontWeight": "normal"}
    return held


PRINT = _print_config()
