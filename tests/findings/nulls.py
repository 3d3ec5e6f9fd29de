"""Which nulls of comparison.json does no note explain?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from outcomes.findings.results import Comparison
from outcomes.report import document


def unexplained(comparison: Comparison) -> list[str]:
    """The place of every null beside or above which no note says anything."""
    return sorted(set(_unexplained(document(comparison), "", "")))


def _unexplained(node: Any, place: str, note: str) -> Iterator[str]:
    if isinstance(node, dict):
        told = node.get("note") or note
        for key, value in node.items():
            yield from _unexplained(value, f"{place}.{key}", told)
    elif isinstance(node, list):
        for value in node:
            yield from _unexplained(value, f"{place}[]", note)
    elif node is None and not note:
        yield place
