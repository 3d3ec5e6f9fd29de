"""How does a chart become a picture for the page and files for print?

A picture carries its alternative text inside: a title, and a description with the numbers that it shows. Ids are given
the picture's own prefix, so that many pictures can stand in one page.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from html import escape
from pathlib import Path
from typing import Any

import altair as alt
import vl_convert

from outcomes.report.charts.theme import CONFIG, FONT, QUIET
from outcomes.report.typst_render import FONTS, drawing, png

VEGA_LITE = "6.4"
POINTS_PER_INCH, PRINT_PPI = 72, 300
WIDEST_PIXELS = 2067
"""Across two columns of print (175 mm) at 300 pixels an inch; a wider picture is set smaller there, and needs no more."""

FOOT_HEIGHT, FOOT_SIZE, FOOT_LETTER = 14, 8, 4.1
SIZE = re.compile(r'<svg([^>]*?) width="([\d.]+)" height="([\d.]+)" viewBox="0 0 [\d.]+ [\d.]+"')
_OWN_ID = re.compile(r'(\bid="|url\(#|href="#)((?:clip|gradient)[\w-]*)')


@dataclass(frozen=True)
class Picture:
    """A finished chart: its id, what it shows in words, and the drawing."""

    id: str
    title: str
    description: str
    inline: str


@cache
def _fonts_ready() -> bool:
    vl_convert.register_font_directory(str(FONTS))
    return True


def drawn(spec: dict[str, Any]) -> str:
    """The SVG of a described chart, in the shipped font."""
    _fonts_ready()
    return str(vl_convert.vegalite_to_svg(spec, vl_version=VEGA_LITE))


def with_own_ids(svg: str, name: str) -> str:
    """The drawing with ids that begin with the picture's name, so that many pictures can stand in one page.

    They are counted from 1 in every picture: the drawing library goes on counting from one picture to the next.
    """
    own: dict[str, str] = {}

    def renamed(found: re.Match[str]) -> str:
        return found[1] + own.setdefault(found[2], f"{name}-{found[2].rstrip('0123456789')}{len(own) + 1}")

    return _OWN_ID.sub(renamed, svg)


class Drawing:
    """One picture while it is drawn: it holds the rows apart from the chart, which altair would copy many times."""

    def __init__(self, name: str) -> None:
        self.name = name
        self._rows: dict[str, list[dict[str, Any]]] = {}

    def chart(self, rows: list[dict[str, Any]]) -> alt.Chart:
        """Begin a chart of these rows."""
        name = f"rows-{len(self._rows)}"
        self._rows[name] = rows
        return alt.Chart(alt.NamedData(name))

    def picture(self, chart: alt.TopLevelMixin, *, title: str, description: str) -> Picture:
        """Finish the picture; its alternative text is the title and the description."""
        spec: dict[str, Any] = chart.to_dict(validate=False)
        spec |= {"config": CONFIG, "datasets": self._rows}
        return Picture(self.name, title, description, _with_words(drawn(spec), self.name, title, description))


def _with_words(svg: str, name: str, title: str, description: str) -> str:
    opening = f'<svg role="img" aria-labelledby="{name}-title {name}-desc"'
    words = f'<title id="{name}-title">{escape(title)}</title><desc id="{name}-desc">{escape(description)}</desc>'
    head, _, rest = with_own_ids(svg, name).partition(">")
    return f"{head.replace('<svg', opening, 1)}>{words}{rest}"


def write_picture(held: Picture, folder: Path, *, stamp: str) -> tuple[Path, Path]:
    """Write the picture, with the stamp at its foot, as SVG and as PNG for print at the width at which it is set there."""
    footed, size = _with_foot(held.inline, stamp)
    svg, print_ = folder / f"{held.id}.svg", folder / f"{held.id}.png"
    svg.write_text(footed, encoding="utf-8")
    page = drawing(footed, size, title=held.title, alt=held.description, stamp=stamp)
    ppi = min(float(PRINT_PPI), POINTS_PER_INCH * WIDEST_PIXELS / size[0])
    print_.write_bytes(png(page, ppi=ppi, stamp=stamp))
    return svg, print_


def _with_foot(svg: str, stamp: str) -> tuple[str, tuple[float, float]]:
    """The drawing with the stamp beneath it on white ground, and its width and height in points."""
    found = SIZE.search(svg)
    if found is None:
        raise ValueError("the drawing has no size")
    width, height = float(found[2]), float(found[3])
    lines = _broken(stamp, int((width - 12) / FOOT_LETTER))
    whole = height + FOOT_HEIGHT + FOOT_SIZE * 1.3 * (len(lines) - 1)
    size = f'<svg{found[1]} width="{width:g}" height="{whole:g}" viewBox="0 0 {width:g} {whole:g}"'
    foot = "".join(
        f'<text x="6" y="{height + FOOT_SIZE * 1.3 * number + 7:g}" font-size="{FOOT_SIZE}" font-family="{FONT}" fill="{QUIET}">'
        f"{escape(line)}</text>"
        for number, line in enumerate(lines)
    )
    ground = f'<rect width="{width:g}" height="{whole:g}" fill="#ffffff"/>'
    opened = svg.replace(found[0], size, 1).replace("</desc>", f"</desc>{ground}", 1)
    return opened.removesuffix("</svg>") + foot + "</svg>", (width, whole)


def _broken(text: str, letters: int) -> list[str]:
    lines = [""]
    for word in text.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > letters:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return lines
