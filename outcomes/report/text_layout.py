"""Widths of texts in the shipped letters, and lines broken to a width."""

from __future__ import annotations

from functools import cache

from PIL import ImageFont

from outcomes.report.traced_text import Figure, Phrase, Piece
from outcomes.report.typst_render import FONTS

UNITS = 100


@cache
def _letters() -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(FONTS / "RegisterSans-Regular.otf"), UNITS)


def text_width(text: str, size: float) -> float:
    """How wide the text is, in the unit of the size."""
    return _letters().getlength(text) * size / UNITS


def wrapped(phrase: Phrase, width: float, size: float) -> tuple[Phrase, ...]:
    """Break the phrase between words so that no line is wider than asked; one long word keeps its line."""
    lines: list[list[Piece]] = [[]]
    used = 0.0
    for word in _words(phrase):
        text = _text(word)
        if lines[-1] and used + text_width(text.rstrip(), size) > width and _text(lines[-1][-1]).endswith(" "):
            lines.append([])
            used = 0.0
        lines[-1].append(word)
        used += text_width(text, size)
    return tuple(_joined(line) for line in lines)


def _words(phrase: Phrase) -> list[Piece]:
    """Cut the words apart, each with the space behind it; a figure is never cut."""
    words: list[Piece] = []
    for piece in phrase:
        if isinstance(piece, Figure):
            words.append(piece)
            continue
        parts = piece.split(" ")
        words.extend(f"{part} " for part in parts[:-1])
        if parts[-1]:
            words.append(parts[-1])
    return words


def _text(piece: Piece) -> str:
    return piece.text if isinstance(piece, Figure) else piece


def _joined(line: list[Piece]) -> Phrase:
    pieces: list[Piece] = []
    for piece in line:
        if pieces and isinstance(pieces[-1], str) and isinstance(piece, str):
            pieces[-1] += piece
        else:
            pieces.append(piece)
    return tuple(pieces)
