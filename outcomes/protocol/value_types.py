"""Types of the values in a protocol file; each refuses other values with the words for what is allowed."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    PlainValidator,
    Strict,
    StringConstraints,
    ValidationError,
    WrapValidator,
)
from pydantic_core import PydanticCustomError


def allowing(words: str) -> WrapValidator:
    """Whatever the type refuses is refused with `must be` and these words."""

    def check(value: object, handler: Callable[[Any], Any]) -> object:
        try:
            return handler(value)
        except (ValidationError, ValueError):
            raise _refusal(words) from None

    return WrapValidator(check)


def one_of(*words: str) -> PlainValidator:
    """One of these words; with an empty one among them, the key may also be left out."""
    named = [word for word in words if word]
    said = " or ".join(f'"{word}"' for word in named) if len(named) == 2 else "one of " + ", ".join(named)
    said += ", or left out" if "" in words else ""

    def check(value: object) -> object:
        if value not in words:
            raise _refusal(said)
        return value

    return PlainValidator(check)


def _refusal(words: str) -> PydanticCustomError:
    return PydanticCustomError("not_allowed", "must be {words}", {"words": words})


def _without_control_characters(text: str) -> str:
    if any(unicodedata.category(sign) == "Cc" for sign in text):
        raise ValueError
    return text


def _without_outer_spaces(text: str) -> str:
    if not text or text != text.strip():
        raise ValueError
    return text


def _rising(pair: tuple[int, int]) -> tuple[int, int]:
    if pair[0] > pair[1]:
        raise ValueError
    return pair


def _pairs(table: object) -> object:
    return tuple(sorted(table.items())) if isinstance(table, dict) else table


_Text = Annotated[str, Strict(), AfterValidator(_without_control_characters)]
_Word = Annotated[_Text, AfterValidator(_without_outer_spaces)]
# A whole number stays one: 10 is not written back as 10.0.
_Finite = Annotated[Annotated[int, Strict()] | Annotated[float, Strict()], Field(ge=-1e9, le=1e9)]
_Natural = Annotated[int, Strict(), Field(ge=0, le=10**9)]

Line = Annotated[_Text, allowing("one line of text in quotes")]
Word = Annotated[_Word, allowing("text in quotes, not empty and without spaces around it")]
Flag = Annotated[bool, Strict(), allowing("true or false")]
Number = Annotated[_Finite, allowing("a number")]
OptionalNumber = Annotated[_Finite | None, allowing("a number")]
Bound = Annotated[Annotated[float, Strict(), Field(ge=-1e9, le=1e9)] | None, allowing("a number")]
Amount = Annotated[_Finite, Field(ge=0), allowing("a number, 0 or more")]
PositiveAmount = Annotated[_Finite, Field(gt=0), allowing("a number over 0")]
Share = Annotated[_Finite, Field(gt=0, lt=1), allowing("a number between 0 and 1")]
Whole = Annotated[_Natural, allowing("a whole number, 0 or more")]
Count = Annotated[_Natural, Field(ge=1), allowing("a whole number, 1 or more")]
Words = Annotated[tuple[_Word, ...], allowing("a list of texts in [ ]")]
Wholes = Annotated[tuple[_Natural, ...], allowing("a list of whole numbers in [ ]")]
Days = Annotated[tuple[_Natural, _Natural], AfterValidator(_rising), allowing("[first, last]")]
Reach = Annotated[
    tuple[tuple[_Word, Annotated[_Finite, Field(ge=0)]], ...],
    BeforeValidator(_pairs),
    allowing("{ CHARACTERISTIC = NUMBER }, each 0 or more"),
]
Name = Annotated[
    str,
    Strict(),
    StringConstraints(pattern=r"^[a-z][a-z0-9_]{0,59}\z"),
    allowing("small letters, digits and _, beginning with a letter, at most 60"),
]
