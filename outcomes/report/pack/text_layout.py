"""Where does a line of text end? Widths are estimated from the shapes of the letters, a little too wide rather than too narrow."""

from __future__ import annotations

from outcomes.report.traced_text import Figure, Phrase, Piece

# In parts of the letter size, for the shipped face; a letter that is not named is of the usual width.
NARROW, USUAL, WIDE = 0.29, 0.52, 0.84
_NARROW = frozenset(" .,;:'’!|()[]-–ijlIftr")
_WIDE = frozenset("mwMW%—@")


def text_width(text: str, size: float) -> float:
    """How wide the text is, in the unit of the size."""
    return size * sum(NARROW if letter in _NARROW else WIDE if letter in _WIDE else USUAL for letter in text)


def wrapped(phrase: Phrase, width: float, size: float) -> tuple[Phrase, ...]:
    """Break the phrase between words so that no line is wider than asked; one long word keeps its line."""
    lines: list[list[Piece]] = [[]]
    used = 0.0
    for word in _words(phrase):
        wide = text_width(_text(word), size)
        if lines[-1] and used + wide > width and _text(lines[-1][-1]).endswith(" "):
            lines.append([])
            used = 0.0
        lines[-1].append(word)
        used += wide
    return tuple(_tidy(line) for line in lines)


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


def _tidy(line: list[Piece]) -> Phrase:
    held: list[Piece] = []
    for piece in line:
        if held and isinstance(held[-1], str) and isinstance(piece, str):
            held[-1] += piece
        else:
            held.append(piece)
    return tuple(held)
