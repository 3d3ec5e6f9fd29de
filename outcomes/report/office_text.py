"""Widths and lines of texts in the letters of office programs, which are not ours and may be replaced by wider ones."""

from __future__ import annotations

import json
from functools import cache
from typing import Literal

from outcomes.report.typst_render import FONTS

FACE = "Arial"
Weight = Literal["regular", "bold"]
MARGIN: dict[Weight, float] = {"regular": 1.2, "bold": 1.28}
"""How much wider than Arial the letters may be that a computer without it puts in its place: as wide as DejaVu Sans."""
UNITS, UNKNOWN = 1000, 1000


@cache
def _widths(weight: Weight) -> dict[str, int]:
    held = json.loads((FONTS / "arial-widths.json").read_text(encoding="utf-8"))[weight]
    return {letter: int(width) for width, letters in held.items() for letter in letters}


def office_width(text: str, size: float, weight: Weight = "regular") -> float:
    """How wide the text may become, in the unit of the size; a letter that the face lacks counts as a full square."""
    widths = _widths(weight)
    return sum(widths.get(letter, UNKNOWN) for letter in text) * MARGIN[weight] * size / UNITS


def office_lines(text: str, width: float, size: float, weight: Weight = "regular") -> int:
    """How many lines the text may take when it is broken between words, and within a word that is wider than a line."""
    lines, used, space = 1, 0.0, office_width(" ", size, weight)
    for word in text.split(" "):
        wide = office_width(word, size, weight)
        if used and used + space + wide > width:
            lines, used = lines + 1, 0.0
        lines += int(wide // width) if wide > width else 0
        used += wide % width + (space if used else 0)
    return lines


def longest_word(text: str, size: float, weight: Weight = "regular") -> float:
    """How wide the widest word of the text may become: no line can be narrower without breaking it."""
    return max((office_width(word, size, weight) for word in text.split(" ")), default=0.0)
