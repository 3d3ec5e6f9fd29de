"""Is every key of a protocol file of the right kind: text, a number, a list, a small table?"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Callable
from typing import Any

from outcomes.protocol.fault import Fault

Tree = dict[str, Any]
LARGEST = 1e9


def _is_text(value: object) -> bool:
    return isinstance(value, str) and not any(unicodedata.category(sign) == "Cc" for sign in value)


def _is_word(value: object) -> bool:
    return isinstance(value, str) and _is_text(value) and value.strip() == value != ""


def _is_number(value: object) -> bool:
    return (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and -LARGEST <= value <= LARGEST
        and math.isfinite(value)
    )


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and _is_number(value) and value >= 0


def _is_list_of(each: Callable[[object], bool]) -> Callable[[object], bool]:
    return lambda value: isinstance(value, list) and all(each(item) for item in value)


def _is_table_of(**wanted: Callable[[object], bool]) -> Callable[[object], bool]:
    return lambda value: (
        isinstance(value, dict) and value.keys() == wanted.keys() and all(wanted[key](value[key]) for key in wanted)
    )


def _is_threshold(value: object) -> bool:
    return any(_is_table_of(**{side: _is_number})(value) for side in ("at_least", "at_most"))


def _is_reach(value: object) -> bool:
    return isinstance(value, dict) and all(_is_number(reach) for reach in value.values())


_LINE = "one line of text in quotes"
_WORDS = _is_list_of(_is_word)
_WHOLES = _is_list_of(_is_whole)
_KINDS: tuple[tuple[str, Callable[[object], bool], str], ...] = (
    ("id label important_reason", _is_word, "text in quotes, not empty and without spaces around it"),
    ("sheet kind unit scale definition field worse poor_from poor_note from clock measure", _is_text, _LINE),
    ("years_since year_of levels_of says over_field lacks_event cohort source words window", _is_text, _LINE),
    ("timed characteristic told what note main_outcome after_revision", _is_text, _LINE),
    ("low high jump step under over percent followed_months important_difference weight", _is_number, "a number"),
    ("division_days nominal_days adjust within_months main_month count of", _is_whole, "a whole number, 0 or more"),
    (
        "required observed before_division future main good consequence",
        lambda value: isinstance(value, bool),
        "true or false",
    ),
    ("levels values competing ratio days_between is same follow_up terms ranges", _WORDS, "a list of texts in [ ]"),
    ("months days usual_division_days ages", _WHOLES, "a list of whole numbers in [ ]"),
    ("only_with", _is_table_of(field=_is_word, values=_WORDS), '{ field = "FIELD", values = ["WORD"] }'),
    ("computed", _is_table_of(operated=_is_word, fellow=_is_word), '{ operated = "FIELD", fellow = "FIELD" }'),
    ("poor when", _is_threshold, "{ at_least = NUMBER } or { at_most = NUMBER }"),
    ("within", _is_reach, "{ CHARACTERISTIC = NUMBER }"),
)
_KIND_OF_KEY = {key: (holds, words) for keys, holds, words in _KINDS for key in keys.split()}
# The single parts whose keys are few; those of the others are the names of their rules.
_KEYS_OF_PART = {"primary": {"window"}, "ends": {"follow_up"}}


def shape_faults(tree: Tree, tables: dict[str, set[str]], parts: tuple[str, ...]) -> list[Fault]:
    """Every key whose value is of the wrong kind, in the tables, in the single parts and at the top."""
    faults = [] if _is_text(tree.get("name", "")) else [Fault("", "", "name", f"must be {_LINE}")]
    for table in tables:
        for entry in tree[table]:
            faults += _kind_faults(table, str(entry.get("id")), entry)
    for part in parts:
        if not isinstance(tree[part], dict):
            faults.append(Fault("", "", part, f"write [{part}] and its keys below"))
            continue
        known = _KEYS_OF_PART.get(part, set(tree[part]))
        faults += [
            Fault(part, "", key, f"is not known here; known: {', '.join(known)}") for key in {*tree[part]} - known
        ]
        faults += _kind_faults(part, "", tree[part])
    return faults


def _kind_faults(table: str, entry: str, values: Tree) -> list[Fault]:
    faults = []
    for key, value in values.items():
        holds, words = _KIND_OF_KEY.get(key, (_anything, ""))
        if not holds(value):
            faults.append(Fault(table, entry, key, f"must be {words}"))
    return faults


def captured_shape_faults(tree: Tree) -> list[Fault]:
    """Whatever in the part `captured` is no table of texts."""
    part = tree.get("captured", {})
    if not isinstance(part, dict):
        return [Fault("", "", "captured", "write [captured] and its keys below")]
    return [Fault("captured", "", key, f"must be {_LINE}") for key, value in part.items() if not _is_text(value)]


def _anything(_: object) -> bool:
    return True
