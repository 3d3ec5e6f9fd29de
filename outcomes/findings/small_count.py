"""A count too small to be published, in place of its number."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class SmallCount:
    """A count that public output does not give: from 1 to one less than `fewer_than`.

    With `all_but` so many, or none, are lacking of all.
    """

    fewer_than: int
    all_but: bool = False
