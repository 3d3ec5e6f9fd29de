"""What does comparison.json hold?

The contract: signs are advanced minus grafted, shares are 0 to 1, what cannot be estimated is null with a reason in `note`.
Further keys tell what else the report shows, so that every number on the page is a number of the file.
"""

from __future__ import annotations

import json
from dataclasses import asdict, is_dataclass
from datetime import date
from typing import Any

from outcomes.findings.results import Comparison, Finding, Group, Share, Values

FORMAT = 1
Tree = dict[str, Any]


def document_text(comparison: Comparison) -> str:
    """The whole comparison as JSON text, the same byte for byte for the same comparison."""
    return json.dumps(document(comparison), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def document(comparison: Comparison) -> Tree:
    """The whole comparison as a plain tree, with every key of the contract."""
    return {
        "format": FORMAT,
        "register": _plain(comparison.stamp),
        "cohorts": {"grafted": _group(comparison.grafted), "advanced": _group(comparison.advanced)},
        "flow": [_plain(step) for step in comparison.flow],
        "balance": [_plain(line) for line in comparison.balance],
        "adjustment": _plain(comparison.adjustment),
        "findings": [_finding(finding) for finding in comparison.findings],
        "timing": [_plain(finding) for finding in comparison.timing],
        "means": [_plain(mean) for mean in comparison.means],
        "curves": [_plain(curve) for curve in comparison.curves],
        "followed_by_window": [_plain(each) for each in comparison.followed_by_window],
        "warnings": [_plain(warning) for warning in comparison.warnings],
        "queries": list(comparison.queries),
    }


def _group(group: Group) -> Tree:
    tree: Tree = _plain(group)
    tree["note"] = (
        "" if group.median_followup_months is not None else "too few lids were followed to half-way for a median"
    )
    return tree


def _finding(finding: Finding) -> Tree:
    return {
        "measure": finding.measure,
        "window": finding.window,
        "outcome": finding.outcome,
        "clock": finding.clock,
        "grafted": _side(finding.grafted),
        "advanced": _side(finding.advanced),
        "contrast": _plain(finding.contrast),
        "adjusted": _plain(finding.adjusted),
        "if_missing": _plain(finding.if_missing),
        "reading": finding.reading,
        "reasons": list(finding.reasons),
        "primary": finding.primary,
        "detectable": finding.detectable,
        "last_known": _plain(finding.last_known),
        "as_planned": _plain(finding.as_planned),
        "since_operation": _plain(finding.since_operation),
        "masked": _plain(finding.masked),
        "unmasked": _plain(finding.unmasked),
        "note": finding.note,
    }


def _side(side: Share | Values) -> Tree:
    tree: Tree = _plain(side)
    if isinstance(side, Values):
        tree["counts"] = [{"value": value, "lids": number} for value, number in side.counts]
    return tree


def _plain(thing: object) -> Any:  # noqa: ANN401 - any part of a tree
    if is_dataclass(thing) and not isinstance(thing, type):
        return {key: _plain(value) for key, value in asdict(thing).items()}
    if isinstance(thing, dict):
        return {str(key): _plain(value) for key, value in thing.items()}
    if isinstance(thing, list | tuple):
        return [_plain(each) for each in thing]
    return thing.isoformat() if isinstance(thing, date) else thing
