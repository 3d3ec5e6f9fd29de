"""Draw a chart as SVG of an exact width, and make the files of a figure.

One unit of a drawing is one point of print. A drawing carries its alternative text, and marks that print a number carry the
number's address as `data-id`.
"""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache
from html import escape
from pathlib import Path
from typing import Any

import altair as alt
import vl_convert
from altair.utils.schemapi import debug_mode

from outcomes.report.charts.theme import POINTS_IN_MM, Size, config
from outcomes.report.traced_text import Phrase, plain
from outcomes.report.typst_render import FONTS, drawing, page_as, png

VEGA_LITE = "6.4"
QUICK_FONTS = Path(__file__).with_name("fonts")
HOVER = "hover"
"""The name of a layer that only gives its numbers to a pointer: it is not drawn in a file."""
TRIALS = 3  # how often a chart is drawn at most
NOMINAL, LEAST = 101, 30  # the width with which every plot is described, and the least that it may come to have
_SIZE = re.compile(r'<svg[^>]*? width="([\d.]+)" height="([\d.]+)"[^>]*>')
_OWN_ID = re.compile(r'(\bid="|url\(#|href="#)((?:clip|gradient)[\w-]*)')
# What a page can do without: the words of each single mark, what its own style says already, and frames that show nothing.
_SPARE = re.compile(
    r' (?:aria-label|role|aria-roledescription|aria-hidden|class|pointer-events|font-family)="[^"]*"(?=[^<]*>)'
    r'| opacity="1"(?=[^<]*>)|<path class="(?:foreground|background)" d="(?:M0,0h0v0h0Z)?"[^>]*/>'
)
_LONG_NUMBER = re.compile(r"(\d\.\d\d)\d+(?=[^<]*>)")
_ADDRESS = re.compile(r'aria-label="id:([^"]*)"')

Chart = alt.LayerChart | alt.FacetChart | alt.VConcatChart | alt.ConcatChart | alt.Chart


class Layer(alt.Chart):
    """A layer whose parts are shared by its copies, and whose channels are made by their own classes.

    Nothing changes a part once it is made. Altair would copy every part at each step, and search all its classes for each channel
    that is given as a text.
    """

    def __deepcopy__(self, memo: object) -> Layer:
        return self.copy(deep=False)

    def encode(self, **channels: Any) -> Layer:  # type: ignore[override] # noqa: ANN401 - whatever altair takes
        """Give the channels, each by name and as altair takes it."""
        return super().encode(**{name: _channel(name, given) for name, given in channels.items()})


def _channel(name: str, given: Any) -> Any:  # noqa: ANN401 - whatever altair takes
    kind = name[0].upper() + name[1:]
    if isinstance(given, str):
        return getattr(alt, kind)(given)
    if isinstance(given, list):
        return [_channel(name, each) for each in given]
    return getattr(alt, f"{kind}Value")(**given) if isinstance(given, dict) and "value" in given else given


@dataclass
class Canvas:
    """The rows of a chart, held apart from it: altair would copy them many times."""

    rows: dict[str, list[dict[str, Any]]] = field(default_factory=dict)

    def chart(self, rows: list[dict[str, Any]]) -> Layer:
        """Begin a layer of these rows."""
        name = f"rows-{len(self.rows)}"
        self.rows[name] = rows
        return Layer(alt.NamedData(name))


@dataclass(frozen=True)
class Plate:
    """A finished drawing: its width and height in points, and what stands inside its outermost element."""

    width: float
    height: float
    inner: str


@dataclass(frozen=True)
class Figure:
    """One figure before it has a size: its id, title, caption, a description with its numbers, and how it is drawn.

    `chart` describes it in Altair; a figure that is no chart has `plate` instead. `single_lids` marks a figure that shows
    values of single lids, which only the clinic's own eyes may see; `further` one that is not of the main measures; one that is not
    `narrow` is too high in one column of print. `around` is about how wide all that stands beside the plots is, in sizes of the
    letters: where it is near, one drawing is enough.
    """

    id: str
    title: str
    caption: tuple[Phrase, ...]
    description: str
    chart: Callable[[Canvas, Size], Chart] | None = None
    plate: Callable[[Size], Plate] | None = None
    single_lids: bool = False
    further: bool = False
    narrow: bool = True
    around: float = 8.0


@dataclass(frozen=True)
class Picture:
    """A figure as drawn in one size, with its words; the chart's description in Vega-Lite, if it has one."""

    id: str
    title: str
    caption: tuple[Phrase, ...]
    description: str
    plate: Plate
    spec: dict[str, Any] | None
    further: bool = False

    @property
    def inline(self) -> str:
        """The drawing as an element of a page, whose ids begin with the picture's name."""
        return _svg(self.plate, self.id, (self.title, self.description))

    @property
    def light(self) -> str:
        """The same without what a page can do without: no reader hears the single marks, as the drawing has a description."""
        inner = _LONG_NUMBER.sub(r"\1", _SPARE.sub("", self.plate.inner))
        return _svg(replace(self.plate, inner=inner), self.id, (self.title, self.description))


def specified(figure: Figure, size: Size) -> dict[str, Any]:
    """Describe a chart in Vega-Lite with its rows, every plot of the nominal width."""
    if figure.chart is None:
        raise ValueError(f"{figure.id} is no chart")
    canvas = Canvas()
    with debug_mode(arg=False):  # the tests validate every chart
        spec: dict[str, Any] = figure.chart(canvas, size).to_dict(validate=False)
    title = {"title": {"text": figure.title, "fontSize": size.em(1.15)}} if size.titled else {}
    return {**spec, **title, "config": config(size), "datasets": canvas.rows}


def picture(figure: Figure, size: Size) -> Picture:
    """Draw the figure so that the whole is exactly as wide as the size says."""
    words = (figure.id, figure.title, figure.caption, figure.description)
    if figure.plate is not None:
        return Picture(*words, figure.plate(size), None, figure.further)
    spec = specified(figure, size)
    plots = spec.get("columns", 1)
    beside = size.em(figure.around)
    for _ in range(TRIALS):
        plot = max((size.width - beside) / plots, LEAST)
        fitted = resized(spec, plot)
        width, height, inner = _measured(_drawn(fitted))
        beside = width - plot * plots
        if abs(width - size.width) < size.near:
            break
    return Picture(*words, finished(figure.id, inner, (max(width, size.width), height)), fitted, figure.further)


@cache
def _fonts_ready() -> bool:
    for folder in (QUICK_FONTS, FONTS):  # the first is searched first, see its ORIGIN.txt
        vl_convert.register_font_directory(str(folder))
    return True


def _drawn(spec: dict[str, Any]) -> str:
    _fonts_ready()
    return str(vl_convert.vegalite_to_svg(_seen(spec), vl_version=VEGA_LITE))


def _seen(part: Any) -> Any:  # noqa: ANN401 - any part of a description
    """The description without the layers that are not drawn."""
    if isinstance(part, dict):
        return {name: each if name == "datasets" else _seen(each) for name, each in part.items()}
    if isinstance(part, list):
        return [
            _seen(each) for each in part if not (isinstance(each, dict) and str(each.get("name", "")).startswith(HOVER))
        ]
    return part


def _measured(svg: str) -> tuple[float, float, str]:
    found = _SIZE.search(svg)
    if found is None:
        raise ValueError("the drawing has no size")
    return float(found[1]), float(found[2]), svg[found.end() :].rsplit("</svg>", 1)[0]


def resized(part: Any, width: float) -> Any:  # noqa: ANN401 - any part of a description
    """The description with another width in place of the nominal one."""
    if isinstance(part, dict):
        return {
            name: width if name == "width" and each == NOMINAL else each if name == "datasets" else resized(each, width)
            for name, each in part.items()
        }
    return [resized(each, width) for each in part] if isinstance(part, list) else part


def finished(name: str, inner: str, size: tuple[float, float]) -> Plate:
    """Make a plate: its ids begin with the figure's name, counted from 1, and addresses become `data-id`."""
    own: dict[str, str] = {}

    def renamed(found: re.Match[str]) -> str:
        return found[1] + own.setdefault(found[2], f"{name}-{found[2].rstrip('0123456789')}{len(own) + 1}")

    return Plate(size[0], size[1], _ADDRESS.sub(r'data-id="\1"', _OWN_ID.sub(renamed, inner)))


def addressed(number_id: str) -> str:
    """The text by which a mark carries the address of its number through the drawing."""
    return f"id:{number_id}"


def _svg(plate: Plate, name: str, words: tuple[str, str], *, extent: str = "", inside: str = "") -> str:
    title, description = map(escape, words)
    size = extent or f'width="{plate.width:.3f}" height="{plate.height:.3f}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" version="1.1" role="img" '
        f'aria-labelledby="{name}-title {name}-desc" {size} viewBox="0 0 {plate.width:.3f} {plate.height:.3f}">'
        f'<title id="{name}-title">{title}</title><desc id="{name}-desc">{description}</desc>{inside}'
        f'<rect width="100%" height="100%" fill="#ffffff"/>{plate.inner}</svg>'
    )


def standing_alone(held: Picture, stamp: str, *, font: bool) -> str:
    """The drawing as an SVG file of its true size, with its words, its stamp and, if asked, its letters inside."""
    face = (
        f"<style>@font-face{{font-family:'Register Sans';src:url(data:font/otf;base64,{_face()})}}</style>"
        if font
        else ""
    )
    width, height = (each / POINTS_IN_MM for each in (held.plate.width, held.plate.height))
    described = " ".join((*(plain(each) for each in held.caption), held.description))
    inside = f"<metadata>{escape(stamp)}</metadata>{face}"
    extent = f'width="{width:.3f}mm" height="{height:.3f}mm"'
    return _svg(held.plate, held.id, (held.title, described), extent=extent, inside=inside) + "\n"


@cache
def _face() -> str:
    return base64.b64encode((FONTS / "RegisterSans-Regular.otf").read_bytes()).decode()


@dataclass(frozen=True)
class Forms:
    """In which forms a picture is written: with its letters inside, as PDF, as PNG with so many dots an inch, as Vega-Lite."""

    font: bool = False
    pdf: bool = False
    ppi: int = 0
    spec: bool = False


def write_picture(held: Picture, stem: Path, *, stamp: str, forms: Forms) -> tuple[Path, ...]:
    """Write the picture in the forms asked for, and give the files; after a failure some may be missing."""
    alone = standing_alone(held, stamp, font=False)
    content = {".svg": (standing_alone(held, stamp, font=True) if forms.font else alone).encode()}
    if forms.pdf or forms.ppi:
        size = held.plate.width, held.plate.height
        compiler = drawing(alone, size, title=held.title, alt=held.description, stamp=stamp)
        content |= {".pdf": page_as(compiler, "pdf")} if forms.pdf else {}
        content |= {".png": png(compiler, ppi=forms.ppi, stamp=stamp)} if forms.ppi else {}
    if forms.spec and held.spec is not None:
        usermeta = {"usermeta": {"stamp": stamp, "title": held.title}, "description": held.description}
        content[".vl.json"] = (json.dumps({**held.spec, **usermeta}, ensure_ascii=False) + "\n").encode()
    files = {stem.with_name(stem.name + ending): each for ending, each in content.items()}
    for path, written in files.items():
        path.write_bytes(written)
    return tuple(files)
