"""One fault of a protocol, with its place."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing wrong in a protocol: the table, the entry's id, the key, and what is wrong with it."""

    table: str
    entry: str
    key: str
    what: str
