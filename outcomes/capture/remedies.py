"""Suggest how to mend a text that is no value of its field."""

from __future__ import annotations

import re

from outcomes.protocol import Field, Synonyms

_NUMBER = r"\d+(?:[.,]\d+)?"
_MEASURED = {"number", "acuity", "grade", "year"}
_SHAPES = (
    (re.compile(rf"{_NUMBER} ?(?:-|–|to|bis) ?{_NUMBER}"), "is a range: type the one value that was measured"),
    (
        re.compile(rf"{_NUMBER} ?(?:x|×|\*|mal) ?{_NUMBER}", re.IGNORECASE),
        "is two measurements: type each in its own column",
    ),
    (
        re.compile(rf"(?:ca\.?|circa|about|approx\.?|etwa|~|≈) ?{_NUMBER}.*", re.IGNORECASE),
        "is only approximate: type the number alone",
    ),
    (
        re.compile(rf"(?:<|>|≤|≥|under|over|unter|über) ?=? ?{_NUMBER}.*"),
        "is a bound: type the value that was measured",
    ),
)


def remedy(field: Field, cell: str, synonyms: Synonyms) -> str:
    """What to do about a word that the field refuses, or an empty text where its own message says it all.

    A word is never replaced unasked: `--read` says what it means, once for all its cells.
    """
    text = " ".join(cell.split())
    if synonyms.is_missing(text) and not field.required:
        return blank_remedy(text)
    meant = synonyms.word(field, text)
    if meant:
        return f'did you mean "{meant}"? If so in every cell: {read_option(text, meant)}'
    return ""


def shape_fault(field: Field, cell: str) -> str:
    """What is wrong with a text that holds a number among other things, or an empty text."""
    text = " ".join(cell.split())
    what = next((what for shape, what in _SHAPES if shape.fullmatch(text)), "") if field.kind in _MEASURED else ""
    return f'"{text}": {what}' if what else ""


def blank_remedy(text: str) -> str:
    """How to say that a text means not recorded."""
    return f"leave the cell blank when it was not recorded, or for every cell: {read_option(text, 'blank')}"


def read_option(text: str, meaning: str) -> str:
    """The option that gives a text its meaning, quoted for a shell."""
    quote = '"' if "'" in text + meaning else "'"
    return f"--read {quote}{text}={meaning}{quote}"
