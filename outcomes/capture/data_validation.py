"""Data validation rules and input messages of the template's columns.

Validation acts only on typing, since pasting bypasses it: loading checks everything again.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from outcomes.protocol import Field
from outcomes.protocol.field import CODE_LENGTH

# What the spreadsheet's file format takes at most.
TITLE, MESSAGE, INLINE = 32, 255, 255
FIRST_DAY = date(1900, 1, 1)


@dataclass(frozen=True)
class Rule:
    """The rule of one column as the spreadsheet library takes it, and the words of its drop-down, if it has one."""

    options: dict[str, Any]
    words: tuple[str | int, ...] = ()

    @property
    def fits_inline(self) -> bool:
        """Tell whether the words can stand in the rule itself; else they need a range on the hidden sheet."""
        texts = [str(word) for word in self.words]
        return len(",".join(texts)) <= INLINE and not any(sign in text for text in texts for sign in ',"')


def entry_rule(field: Field) -> Rule:
    """The rule for one field."""
    words = _words(field)
    allowed = {"validate": "list"} if words else _limits(field)
    return Rule({**allowed, **_messages(field)}, words)


def _words(field: Field) -> tuple[str | int, ...]:
    """A grade takes its level names and, for the quick, its numbers."""
    numbers = tuple(range(len(field.levels)))
    named = tuple(name for level, name in enumerate(field.levels) if name != str(level))
    return field.allowed or named + numbers


def _limits(field: Field) -> dict[str, Any]:
    low, high = field.limits
    if field.kind == "number":
        return {"validate": "decimal", "criteria": "between", "minimum": low, "maximum": high}
    if field.kind == "year":
        return {"validate": "integer", "criteria": "between", "minimum": int(low), "maximum": "=YEAR(TODAY())"}
    if field.kind == "date" and field.future:
        return {"validate": "date", "criteria": ">=", "value": FIRST_DAY}
    if field.kind == "date":
        return {"validate": "date", "criteria": "between", "minimum": FIRST_DAY, "maximum": "=TODAY()"}
    if field.kind == "code":
        return {"validate": "length", "criteria": "<=", "value": CODE_LENGTH}
    return {"validate": "any"}


def _messages(field: Field) -> dict[str, Any]:
    unit = f"In {field.unit}. " if field.unit and field.unit not in field.says() else ""
    blank = "" if field.required else " Blank: not recorded."
    return {
        "input_title": _cut(field.label, TITLE),
        "input_message": _cut(f"{unit}{_capital(field.says())}.{blank} {field.definition}", MESSAGE),
        "error_title": _cut(field.label, TITLE),
        "error_message": _cut(f"Must be {field.says()}.", MESSAGE),
    }


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _cut(text: str, longest: int) -> str:
    return text if len(text) <= longest else text[: longest - 1] + "…"
