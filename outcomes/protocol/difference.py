"""The differences between two protocols, entry by entry and key by key."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from outcomes.protocol.document import TABLES
from outcomes.protocol.protocol import Protocol

Tree = dict[str, Any]
_ABSENT = object()


@dataclass(frozen=True)
class Difference:
    """One key of one entry that differs; without a key the whole entry was added or taken away."""

    table: str
    entry: str
    key: str
    before: Any = None
    after: Any = None
    added: bool = False
    removed: bool = False

    def __str__(self) -> str:
        """Say the difference as `measures retraction, poor: … is now …`."""
        named = " ".join(part for part in (self.table, self.entry) if part)
        place = ", ".join(part for part in (named, self.key) if part)
        if self.added:
            return f"{place}: added" + (f", {_shown(self.after)}" if self.key else "")
        if self.removed:
            return f"{place}: taken away" + (f", was {_shown(self.before)}" if self.key else "")
        return f"{place}: {_shown(self.before)} is now {_shown(self.after)}"


def protocol_differences(old: Protocol, new: Protocol) -> tuple[Difference, ...]:
    """Every difference, in the order of the new protocol's parts; none when the two are the same."""
    return tuple(_of_trees(old.document, new.document))


def keys_lacking(protocol: Protocol, present: Protocol) -> tuple[str, ...]:
    """The keys of the present default protocol that the same entries of an older one lack, as `table: key, key`.

    For each the older protocol has the value that held before there was the key. Synonyms judge nothing and are left out.
    """
    lacking: dict[str, list[str]] = {}
    for each in protocol_differences(protocol, present):
        if each.added and each.key and each.table != "synonyms":
            lacking.setdefault(each.table, []).append(each.key)
    return tuple(f"{table}: {', '.join(dict.fromkeys(keys))}" for table, keys in lacking.items())


def _of_trees(old: Tree, new: Tree) -> Iterator[Difference]:
    for part in dict.fromkeys([*new, *old]):
        if part in TABLES:
            yield from _of_tables(part, _by_id(old.get(part, [])), _by_id(new.get(part, [])))
        elif isinstance(new.get(part, old.get(part)), dict):
            yield from _of_entries(part, "", old.get(part, {}), new.get(part, {}))
        else:
            yield from _of_entries(
                "", "", {part: old[part]} if part in old else {}, {part: new[part]} if part in new else {}
            )


def _by_id(entries: list[Tree]) -> dict[str, Tree]:
    return {" ".join(filter(None, (str(each.get("sheet", "")), str(each["id"])))): each for each in entries}


def _of_tables(table: str, old: dict[str, Tree], new: dict[str, Tree]) -> Iterator[Difference]:
    for entry in dict.fromkeys([*new, *old]):
        if entry not in old or entry not in new:
            yield Difference(table, entry, "", added=entry in new, removed=entry in old)
        else:
            yield from _of_entries(table, entry, old[entry], new[entry])


def _of_entries(table: str, entry: str, old: Tree, new: Tree) -> Iterator[Difference]:
    for key in dict.fromkeys([*new, *old]):
        before, after = old.get(key, _ABSENT), new.get(key, _ABSENT)
        if before is _ABSENT:
            yield Difference(table, entry, key, after=after, added=True)
        elif after is _ABSENT:
            yield Difference(table, entry, key, before=before, removed=True)
        elif before != after:
            yield Difference(table, entry, key, before, after)


def _shown(value: Any) -> str:  # noqa: ANN401 - any part of a plain tree
    if isinstance(value, dict):
        return ", ".join(f"{key} {_shown(each)}" for key, each in value.items())
    if isinstance(value, list):
        return "[" + ", ".join(map(_shown, value)) + "]"
    return f'"{value}"' if isinstance(value, str) else str(value)
