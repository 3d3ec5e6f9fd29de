"""Rows while they are checked against each other, and the queries raised on them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from outcomes.errors import Problem
from outcomes.protocol import SheetRow, Value


@dataclass(frozen=True)
class Entry:
    """A row that was read, or one that the register holds (`number` 0).

    `refused_fields` names the fields whose cell was refused: no other row is blamed for what they may have said.
    `blanks` names those whose cell is blank. `values` of a row that the register holds already are those of the row as
    it will stand; `loaded` is then the row as it goes to the store.
    """

    sheet: str
    number: int
    values: Mapping[str, Value]
    refused_fields: frozenset[str] = frozenset()
    blanks: frozenset[str] = frozenset()
    loaded: SheetRow | None = None

    @property
    def row(self) -> SheetRow:
        """The row as it goes to the store."""
        return self.loaded or SheetRow(self.sheet, self.number, dict(self.values))

    @property
    def key(self) -> tuple[str, ...]:
        """What makes it the same row when it is loaded again."""
        return self.row.key

    def text(self, field: str) -> str:
        """A code or a word; an empty text when it was not recorded."""
        value = self.values.get(field)
        return "" if value is None else str(value)

    def day(self, field: str) -> date | None:
        """A date, or None when it was not recorded."""
        value = self.values.get(field)
        return value if isinstance(value, date) else None

    def problem(self, field: str, what: str, detail: str = "") -> Problem:
        """A problem with one cell of this row, with the cell's value before it when there is one.

        `detail` is what other rows with the same fault do not share; it takes the place of `{}` in `what`.
        """
        shown, whole = self.text(field), what.replace("{}", f"({detail})")
        general = what.replace(" {}", "")
        return Problem(self.sheet, self.number, field, f'"{shown}": {whole}' if shown else whole, general=general)


@dataclass(frozen=True)
class RowQuery:
    """A row that is valid but unusual: stored, and listed for the clinic to look at again."""

    sheet: str
    row: int
    key: tuple[str, ...]
    query_id: str
    says: str


def row_query(entry: Entry, query_id: str, says: str) -> RowQuery:
    """A query about a row."""
    return RowQuery(entry.sheet, entry.number, entry.key, query_id, says)


@dataclass(frozen=True)
class Entries:
    """Every row that counts after loading: those read, and those held that no row read replaces.

    `unread` names the sheets that were given and could not be read, so that nothing can be said to be missing in them.
    """

    by_sheet: Mapping[str, tuple[Entry, ...]]
    unread: frozenset[str]

    def of(self, sheet: str) -> tuple[Entry, ...]:
        """The rows of one sheet, those held first."""
        return self.by_sheet.get(sheet, ())

    def read(self, sheet: str) -> tuple[Entry, ...]:
        """The rows of one sheet that were read now."""
        return tuple(entry for entry in self.of(sheet) if entry.number)

    def by_code(self, sheet: str, field: str) -> dict[str, Entry]:
        """The rows of one sheet by a code; of rows with the same code, the last."""
        return {entry.text(field): entry for entry in self.of(sheet) if entry.text(field)}

    def grouped(self, sheet: str, field: str) -> dict[str, list[Entry]]:
        """The rows of one sheet that share a code, for each code."""
        groups: dict[str, list[Entry]] = {}
        for entry in self.of(sheet):
            groups.setdefault(entry.text(field), []).append(entry)
        groups.pop("", None)
        return groups
