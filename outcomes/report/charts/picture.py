"""How does a chart become a picture for the page and files for print?

A picture carries its alternative text inside: a title, and a description with the numbers that it shows. Ids are given
the picture's own prefix, so that many pictures can stand in one page.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from html import escape
from pathlib import Path
from typing import Any

import altair as alt
import vl_convert

from outcomes.report.charts.style import CONFIG, FONT, FONTS, QUIET

VEGA_LITE = "6.4"
WritePng = Callable[[str, float, Path], None]
FOOT_HEIGHT, FOOT_SIZE, FOOT_LETTER = 14, 8, 4.1
_SIZE = re.compile(r'<svg([^>]*?) width="([\d.]+)" height="([\d.]+)" viewBox="0 0 [\d.]+ [\d.]+"')
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
        _fonts_ready()
        spec: dict[str, Any] = chart.to_dict(validate=False)
        spec |= {"config": CONFIG, "datasets": self._rows}
        drawn = vl_convert.vegalite_to_svg(spec, vl_version=VEGA_LITE)
        return Picture(self.name, title, description, _with_words(drawn, self.name, title, description))


def _with_words(drawn: str, name: str, title: str, description: str) -> str:
    prefixed = _OWN_ID.sub(rf"\1{name}-\2", drawn)
    opening = f'<svg role="img" aria-labelledby="{name}-title {name}-desc"'
    words = f'<title id="{name}-title">{escape(title)}</title><desc id="{name}-desc">{escape(description)}</desc>'
    head, _, rest = prefixed.partition(">")
    return f"{head.replace('<svg', opening, 1)}>{words}{rest}"


def write_picture(held: Picture, folder: Path, write_png: WritePng, *, stamp: str) -> tuple[Path, Path]:
    """Write the picture as SVG and have it written as PNG for print, with the stamp at its foot."""
    drawn, width = _with_foot(held.inline, stamp)
    svg, png = folder / f"{held.id}.svg", folder / f"{held.id}.png"
    svg.write_text(drawn, encoding="utf-8")
    write_png(drawn, width, png)
    return svg, png


def _with_foot(drawn: str, stamp: str) -> tuple[str, float]:
    """The drawing with the stamp beneath it on white ground, and its width in points."""
    found = _SIZE.search(drawn)
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
    opened = drawn.replace(found[0], size, 1).replace("</desc>", f"</desc>{ground}", 1)
    return opened.removesuffix("</svg>") + foot + "</svg>", width


def _broken(text: str, letters: int) -> list[str]:
    lines = [""]
    for word in text.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > letters:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return lines
