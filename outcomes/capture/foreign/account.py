"""Account for every cell of a foreign sheet: stored, not recorded, unmapped, refused, or no part of a table."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from outcomes.capture.foreign.mapping import LINK, UNMAPPED, Mapping, TableRule
from outcomes.capture.foreign.sheet import ForeignSheet
from outcomes.errors import Problem

STORED, NOT_RECORDED, UNMAPPED_CELL, REFUSED, NO_DATA = "stored", "not recorded", "unmapped", "refused", "no data"
OUTCOMES = (STORED, NOT_RECORDED, UNMAPPED_CELL, REFUSED, NO_DATA)
NO_CODE = "the row has no code of a case or patient"
Target = tuple[str, tuple[str, ...], str]


@dataclass(frozen=True)
class SourceCell:
    """A cell of a foreign sheet: its sheet, row and column, counted from 1."""

    sheet: str
    row: int
    column: int


@dataclass
class CellAccount:
    """What became of each cell. A cell that goes to several places is refused when one of them is.

    `filled` are the cells that only repeat the first cell of a merged range; they are not counted.
    """

    outcomes: dict[SourceCell, str] = field(default_factory=dict)
    refusals: dict[SourceCell, Problem] = field(default_factory=dict)
    refused_in: Counter[tuple[str, tuple[str, ...]]] = field(default_factory=Counter)
    sources: dict[Target, list[SourceCell]] = field(default_factory=dict)
    filled: set[SourceCell] = field(default_factory=set)

    def store(self, cell: SourceCell, target: Target) -> None:
        """The cell goes to a field of a row, unless that is refused later."""
        self.pass_over(cell, STORED)
        self.sources.setdefault(target, []).append(cell)

    def pass_over(self, cell: SourceCell, outcome: str) -> None:
        """The cell has this outcome, unless it has one already."""
        if cell not in self.filled:
            self.outcomes.setdefault(cell, outcome)

    def refuse(self, cell: SourceCell, heading: str, what: str, general: str = "") -> None:
        """The cell cannot be read or kept; the first reason stands."""
        if cell in self.filled:
            return
        self.outcomes[cell] = REFUSED
        problem = Problem(cell.sheet, cell.row, " ".join(heading.split()), what, cell.column, general)
        self.refusals.setdefault(cell, problem)

    def refuse_target(self, target: Target, heading: str, what: str, general: str = "") -> None:
        """Every cell that went to a field is refused."""
        for cell in self.sources.pop(target, ()):
            self.refuse(cell, heading, what, general)
            self.note_refusal(target)

    def note_refusal(self, target: Target) -> None:
        """A cell of a row is refused, while the row itself may be stored."""
        self.refused_in[target[:2]] += 1

    def counts(self) -> Counter[str]:
        """How many cells had each outcome."""
        return Counter(self.outcomes.values())

    def problems(self) -> list[Problem]:
        """The refusals in the order of sheets and cells."""
        return sorted(self.refusals.values(), key=lambda problem: (problem.sheet, problem.row, problem.column))


def account_for_the_rest(account: CellAccount, sheets: Sequence[ForeignSheet], mapping: Mapping) -> None:
    """Give an outcome to every cell without one: unmapped columns, headings, rows that are no data, sheets without a table."""
    by_sheet = {table.sheet: table for table in mapping.tables}
    for sheet in sheets:
        for row, column in sheet.places():
            cell = SourceCell(sheet.name, row + 1, column + 1)
            if cell not in account.outcomes:
                _account_for_one(account, cell, by_sheet.get(sheet.name))


def _account_for_one(account: CellAccount, cell: SourceCell, table: TableRule | None) -> None:
    if table is None:
        account.pass_over(cell, UNMAPPED_CELL)
    elif cell.row in table.skip or cell.row < table.rows[0]:
        account.pass_over(cell, NO_DATA)
    elif cell.row > table.rows[1]:
        account.refuse(cell, "", "lies below the last row of the mapping; correct rows or skip there")
    elif any(rule.column == cell.column and rule.to not in {UNMAPPED, LINK} for rule in table.columns):
        account.refuse(cell, "", NO_CODE)
    else:
        account.pass_over(cell, UNMAPPED_CELL)
