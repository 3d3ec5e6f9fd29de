"""Match sheet names, and suggest the nearest known name."""

from __future__ import annotations

import difflib

from outcomes.capture.template import DEFINITIONS, LISTS
from outcomes.errors import Problem
from outcomes.protocol import SHEETS

IGNORED = (DEFINITIONS, LISTS)


def plain_name(name: str) -> str:
    """The name without stray spaces and capital letters."""
    return " ".join(name.split()).casefold()


def nearest(name: str, known: tuple[str, ...]) -> str:
    """The question `; did you mean "…"?`, or an empty text when no known name is near."""
    found = difflib.get_close_matches(plain_name(name)[:100], known, n=1, cutoff=0.6)
    return f'; did you mean "{found[0]}"?' if found else ""


def name_problems(source: str, names: list[str], what: str) -> list[Problem]:
    """What is wrong with the names of the sheets of a workbook, or of the tables of a folder."""
    problems = []
    seen: dict[str, str] = {}
    for name in names:
        plain = plain_name(name)
        if plain in seen:
            problems.append(Problem(name, 0, "", f'stands twice (also as "{seen[plain]}"); keep one'))
        elif plain not in {*SHEETS, *IGNORED}:
            remedy = nearest(name, SHEETS) or f"; known: {', '.join(SHEETS)}; take it out or rename it"
            problems.append(Problem(name, 0, "", f"is not a {what} that is loaded{remedy}"))
        seen.setdefault(plain, name)
    if not problems and not set(seen) & set(SHEETS):
        problems.append(Problem(source, 0, "", f"holds no {what} to load; known: {', '.join(SHEETS)}"))
    return problems
