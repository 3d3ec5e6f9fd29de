"""What foreign sheets are loaded into, and the rows that are assembled from them."""

from __future__ import annotations

from collections.abc import Mapping as MappingOf
from dataclasses import dataclass, field
from datetime import date

from outcomes.capture.foreign.account import CellAccount
from outcomes.capture.held_rows import HeldRows
from outcomes.protocol import SHEETS, Protocol, Raw

Key = tuple[str, ...]


@dataclass(frozen=True)
class LoadContext:
    """What a sheet is loaded into: the protocol, the day, the rows held, and the study codes by hospital number."""

    protocol: Protocol
    as_of: date
    held: HeldRows
    links: MappingOf[str, str] | None = None


@dataclass
class Assembly:
    """The rows by sheet and key, what became of each cell, and the hospital numbers by study code for the link file."""

    rows: dict[str, dict[Key, dict[str, Raw]]] = field(default_factory=lambda: {sheet: {} for sheet in SHEETS})
    account: CellAccount = field(default_factory=CellAccount)
    numbers: dict[str, str] = field(default_factory=dict)
