"""One query about the recorded data: what is doubted, where, and the identifier under which it can be accepted."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date
from typing import Literal

QueryGroup = Literal["contradiction", "jump", "odd", "assessor", "gap"]


@dataclass(frozen=True)
class DataQuery:
    """A doubt about recorded values. `facts` are what was found; the wording is looked up by `kind`.

    A query of a whole column or assessor has no case. `cases` are the cases concerned, where there are several.
    """

    kind: str
    group: QueryGroup
    sheet: str = ""
    case: str = ""
    on: date | None = None
    field: str = ""
    assessor: str = ""
    facts: tuple[tuple[str, str | float], ...] = ()
    cases: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """Eight hexadecimal digits of what is doubted: another value is another query."""
        day = self.on.isoformat() if self.on else ""
        parts = (
            self.kind,
            self.sheet,
            self.case,
            day,
            self.field,
            self.assessor,
            *(f"{name}={value}" for name, value in self.facts),
        )
        return hashlib.sha256("\x1f".join(parts).encode()).hexdigest()[:8]

    def fact(self, name: str) -> str | float:
        """One of the facts; KeyError when there is none of that name."""
        return dict(self.facts)[name]


def stored_queries(rows: list[tuple[str, str, str, str]]) -> tuple[DataQuery, ...]:
    """The queries that were kept when rows were loaded or amended, from their sheet, code, kind and words."""
    return tuple(
        DataQuery(
            kind,
            "jump" if kind.startswith("jump_") else "odd",
            sheet,
            code,
            field=kind.removeprefix("jump_") if kind.startswith("jump_") else "",
            facts=(("says", says),),
        )
        for sheet, code, kind, says in rows
    )
