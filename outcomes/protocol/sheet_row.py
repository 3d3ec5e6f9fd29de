"""One checked row of a sheet, as it goes to the store."""

from __future__ import annotations

from dataclasses import dataclass

from outcomes.protocol.field import Value
from outcomes.protocol.protocol import KEYS


@dataclass(frozen=True)
class SheetRow:
    """One checked row: its sheet, the row number that the spreadsheet shows, and its recorded values.

    `values` holds only what was recorded: a blank cell has no key. Dates are dates, grades whole numbers, yes and no
    words, numbers floats.
    """

    sheet: str
    number: int
    values: dict[str, Value]

    @property
    def key(self) -> tuple[str, ...]:
        """What makes the row the same row when it is loaded again; parts that were not recorded are empty texts."""
        return tuple("" if self.values.get(part) is None else str(self.values[part]) for part in KEYS[self.sheet])
