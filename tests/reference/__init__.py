"""Independent reference values: what each formula should give, computed elsewhere."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

CASES = Path(__file__).parent / "cases"


@dataclass(frozen=True)
class Tolerance:
    """An actual value passes if it differs by at most ``absolute + relative x |expected|``."""

    absolute: float
    relative: float
    case: str


@dataclass(frozen=True)
class ReferenceCase:
    """One file of `cases/`: raw inputs, expected values, and how near is near enough."""

    id: str
    input: dict[str, Any]
    expected: dict[str, Any]
    tolerance: Tolerance


@dataclass(frozen=True)
class Comparison:
    """One number compared, kept so that `tally.py` can say how many there were and how well they agreed."""

    case: str
    relative_error: float
    passed: bool


COMPARISONS: list[Comparison] = []


def reference_case(case: str) -> ReferenceCase:
    """Return the case of that id; an unknown id is a FileNotFoundError naming the file looked for."""
    content = json.loads((CASES / f"{case}.json").read_text(encoding="utf-8"))
    limits = content["tolerance"]
    tolerance = Tolerance(limits["abs"], limits["rel"], case)
    return ReferenceCase(case, content["input"], content["expected"], tolerance)


def close_enough(actual: Any, expected: Any, tolerance: Tolerance) -> bool:
    """Say whether every number agrees, and note each in the tally; structures must have the same shape.

    `expected` may be a number, null (not estimable: the actual must be None or nan), "Inf" or "-Inf", or any nesting of
    lists and mappings of these. A length or a key that differs is a disagreement.
    """
    if isinstance(expected, Mapping):
        if set(actual) != set(expected):
            return False
        pairs = [(actual[key], expected[key]) for key in expected]
    elif isinstance(expected, Sequence) and not isinstance(expected, str):
        if len(actual) != len(expected):
            return False
        pairs = list(zip(actual, expected, strict=True))
    else:
        return _note(actual, expected, tolerance)
    agree = [close_enough(ours, theirs, tolerance) for ours, theirs in pairs]  # every one, so that every one is tallied
    return all(agree)


def _note(actual: Any, expected: Any, tolerance: Tolerance) -> bool:
    if expected is None:
        passed, error = actual is None or math.isnan(actual), 0.0
    elif isinstance(expected, str):
        passed, error = actual is not None and float(actual) == float(expected), 0.0
    else:
        ours = math.nan if actual is None else float(actual)
        difference = abs(ours - expected)
        passed = difference <= tolerance.absolute + tolerance.relative * abs(expected)
        error = difference / abs(expected) if abs(expected) > tolerance.absolute else difference
    COMPARISONS.append(Comparison(tolerance.case, error, bool(passed)))
    return bool(passed)
