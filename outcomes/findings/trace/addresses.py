"""Look up the value of comparison.json that an address names."""

from __future__ import annotations

from typing import Any

# Lists whose members are named by what they hold rather than counted: the keys that name them, in the order of the address.
NAMED = {
    "findings": ("measure", "window", "outcome"),
    "findings_since_operation": ("measure", "window", "outcome"),
    "timing": ("event", "at_months"),
    "means": ("event",),
    "followed_by_window": ("window", "cohort"),
    "curves": ("event", "cohort"),
}
CLOCKS = {"findings": "division", "findings_since_operation": "operation"}


def value_at(tree: dict[str, Any], address: str) -> Any:  # noqa: ANN401 - any value of the file
    """The value at that address. KeyError when it names none; None when it names one that could not be estimated."""
    first, *rest = address.split(".")
    if first in NAMED:
        held, rest = _named(tree, first, rest)
    elif first in tree.get("cohorts", {}):
        held = tree["cohorts"][first]
    else:
        held = _below(tree, first)
    for name in rest:
        held = _below(held, name)
    return held


def _named(tree: dict[str, Any], first: str, rest: list[str]) -> tuple[Any, list[str]]:
    keys = NAMED[first]
    wanted = rest[: len(keys)]
    members = tree["findings" if first in CLOCKS else first]
    for each in members:
        if [str(each[key]) for key in keys] == wanted and each.get("clock") == CLOCKS.get(first, each.get("clock")):
            return each, rest[len(keys) :]
    raise KeyError(f"{first}.{'.'.join(wanted)}")


def _below(held: Any, name: str) -> Any:  # noqa: ANN401 - any part of the file
    if held is None:
        return None
    if isinstance(held, dict):
        return held[name]
    if not isinstance(held, list):
        raise KeyError(name)
    if name.isdigit() and not _is_pairs(held):
        return _member(held, int(name), name)
    for each in held:
        if isinstance(each, list) and str(each[0]) == name:
            return each[1]
        if isinstance(each, dict) and name in {str(each.get("kind", "")).replace(" ", "_"), each.get("id")}:
            return each
    raise KeyError(name)


def _is_pairs(held: list[Any]) -> bool:
    return bool(held) and isinstance(held[0], list)


def _member(held: list[Any], number: int, name: str) -> Any:  # noqa: ANN401 - any part of the file
    if number >= len(held):
        raise KeyError(name)
    return held[number]
