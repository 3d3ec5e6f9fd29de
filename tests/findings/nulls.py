"""The nulls of comparison.json that no note explains."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from outcomes.findings.results import Comparison
from outcomes.report import document

APPLIES_TO_SOME = {
    "adjusted", "as_other_cohort", "lids_needed", "could_find", "important_difference", "monte_carlo_error", "p_corrected",
    "days_shut", "p_curve", "permutation_p", "q", "seen_share", "tipping_lids", "tipping_share", "tipping_shift", "verdict", "worst_case",
}  # fmt: skip
"""Keys that are null where they do not apply: no verdict is asked for, or nothing excludes none; `adjusted` has a note of its own."""


def unexplained(comparison: Comparison) -> list[str]:
    """The place of every null beside or above which no note says anything."""
    return sorted(set(_unexplained(document(comparison), "", "")))


def _unexplained(node: Any, place: str, note: str) -> Iterator[str]:
    if isinstance(node, dict):
        told = node.get("note") or note
        for key, value in node.items():
            if value is None and key in APPLIES_TO_SOME:
                continue
            yield from _unexplained(value, f"{place}.{key}", told)
    elif isinstance(node, list):
        for value in node:
            yield from _unexplained(value, f"{place}[]", note)
    elif node is None and not note:
        yield place
