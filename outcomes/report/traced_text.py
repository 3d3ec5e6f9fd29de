"""Text whose numbers carry the address of their value in the comparison.

A sentence or a table cell is a phrase: words, and figures between them. A figure is the number as printed, with the
address of its value. The writers for the page, the terminal and the files all print the same phrases.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from operator import attrgetter
from typing import Any

NOT_ESTIMATED, NOT_TOLD, ABSENT_CELL = "not estimated", "not told", "–"
NOT_SHOWN = "not shown in the public report"


@dataclass(frozen=True)
class Figure:
    """A number as printed, and the address of its value in the comparison or in the protocol."""

    text: str
    id: str


Piece = str | Figure
Phrase = tuple[Piece, ...]


@dataclass(frozen=True)
class Place:
    """A part of the comparison together with its address."""

    id: str
    held: Any

    def holds(self, path: str) -> bool:
        """Tell whether there is a value at the path below this place."""
        value = self.held
        for name in path.split("."):
            value = getattr(value, name) if value is not None else None
        return value is not None

    def figure(self, path: str, written: Callable[[Any], str]) -> Figure:
        """Print the value at the path below this place; one that could not be estimated says so."""
        value = attrgetter(path)(self.held) if self.holds(path) else None
        return Figure(NOT_ESTIMATED if value is None else written(value), f"{self.id}.{path}")


def say(words: str, *figures: Piece | Phrase) -> Phrase:
    """Put figures, or whole phrases, in the gaps {} of a sentence, in order.

    >>> say("{} lids", Figure("3", "flow.0.grafted"))
    (Figure(text='3', id='flow.0.grafted'), ' lids')
    """
    between = words.split("{}")
    if len(between) != len(figures) + 1:
        raise ValueError(f"{len(figures)} figures for {len(between) - 1} gaps: {words}")
    pieces: list[Piece] = [between[0]]
    for figure, after in zip(figures, between[1:], strict=True):
        pieces.extend(figure if isinstance(figure, tuple) else (figure,))
        pieces.append(after)
    return tuple(piece for piece in pieces if piece != "")


def joined(phrases: list[Phrase], between: str) -> Phrase:
    """Put phrases after one another with the same words between them."""
    pieces: list[Piece] = []
    for number, phrase in enumerate(phrases):
        pieces.extend((between, *phrase) if number else phrase)
    return tuple(pieces)


def plain(phrase: Phrase) -> str:
    """Give the phrase as bare text."""
    return "".join(piece.text if isinstance(piece, Figure) else piece for piece in phrase)
