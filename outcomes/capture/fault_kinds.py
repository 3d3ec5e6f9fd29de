"""Group the problems of sheets by kind, and write the full list as a table."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from outcomes.errors import OutcomesError, Problem

_PLACES_SHOWN = 4
_HEADER = ("sheet", "cell", "field", "problem")
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True)
class FaultKind:
    """Problems of one field that are mended alike, in the order of their rows."""

    problems: tuple[Problem, ...]

    def __str__(self) -> str:
        """Say the fault once, with its count and first places."""
        first = self.problems[0]
        places = [problem.address for problem in self.problems if problem.address]
        if len(self.problems) == 1:
            what = f"{first.field} {first.what}" if first.what.startswith('"') else _labelled(first.field, first.what)
            return f"{first.sheet} {first.address}: {what}" if places else f"{first.sheet}: {what}"
        what = _labelled(first.field, first.general or first.what)
        more = ", …" if len(places) > _PLACES_SHOWN else ""
        unit = "cells" if first.column else "rows"
        return f"{first.sheet}: {what} ({len(places)} {unit}, first {', '.join(places[:_PLACES_SHOWN])}{more})"


def _labelled(field: str, what: str) -> str:
    return f"{field} {what}" if field and what.startswith('"') else f"{field}: {what}" if field else what


def fault_kinds(problems: Iterable[Problem]) -> tuple[FaultKind, ...]:
    """The problems by kind, the kinds in the order in which they first occur."""
    kinds: dict[tuple[str, str, str], list[Problem]] = {}
    for problem in problems:
        kinds.setdefault((problem.sheet, problem.field, problem.general or problem.what), []).append(problem)
    return tuple(FaultKind(tuple(each)) for each in kinds.values())


def write_faults(path: Path, problems: Sequence[Problem]) -> None:
    """Write every problem to a CSV table; a list written there before is replaced, another file is left and refused."""
    header = ",".join(_HEADER)
    try:
        if path.exists() and path.read_text(encoding="utf-8-sig").partition("\n")[0] != header:
            raise OutcomesError(f"{path} is there already and is no list of problems; move it away")
        with path.open("w", encoding="utf-8-sig", newline="") as table:
            writer = csv.writer(table, lineterminator="\n")
            writer.writerow(_HEADER)
            writer.writerows(
                map(_harmless, (problem.sheet, problem.address, problem.field, problem.what)) for problem in problems
            )
    except (OSError, UnicodeError) as error:
        raise OutcomesError(f"the list of problems cannot be written to {path}: {error}") from error


def _harmless(text: str) -> str:
    """The text with a sign before it where a spreadsheet would take it for a formula."""
    return f"'{text}" if text.startswith(_FORMULA_SIGNS) else text
