"""Words of the trade that stand for the protocol's own: column headings, values of fields, and signs for "not recorded".

A clinic's file adds to these lists. They say how foreign sheets are read and judge nothing, so they are no part of the
fingerprint by which two protocols are compared.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from pydantic.dataclasses import dataclass

from outcomes.protocol.entries import STRICT
from outcomes.protocol.fault import Fault
from outcomes.protocol.value_types import Words

if TYPE_CHECKING:
    from outcomes.protocol.field import Field
    from outcomes.protocol.protocol import Protocol

ANY = "any"  # the lists that hold in every field that has the word


def plain(word: str) -> str:
    """The word as it is compared: one form of each letter, no capitals, single spaces, no full stop at the end.

    >>> plain(" Flap  adv. ")
    'flap adv'
    """
    return " ".join(unicodedata.normalize("NFKC", word).casefold().split()).rstrip(".") or word.strip()


@dataclass(frozen=True, config=STRICT)
class Synonyms:
    """The lists of a protocol: `missing` signs, `headings` by field, and `words` by field and by the field's own word."""

    missing: Words = ()
    headings: dict[str, Words] = field(default_factory=dict)
    words: dict[str, dict[str, Words]] = field(default_factory=dict)

    def is_missing(self, text: str) -> bool:
        """Tell whether the text is a sign for a value that was not recorded."""
        return plain(text) in self._missing

    def word(self, field: Field, text: str) -> str | None:
        """The field's own word for which the text stands, or None when no list holds it."""
        own = field.levels or field.allowed
        meant = self._words.get((field.id, plain(text)), ()) or self._words.get((ANY, plain(text)), ())
        fitting = [word for word in meant if word in own]
        return fitting[0] if len(fitting) == 1 else None

    def fields_headed(self, text: str) -> tuple[str, ...]:
        """The fields for which a column heading may stand, in the order of the protocol file; often none or one."""
        return self._fields_by_heading.get(plain(text), ())

    @cached_property
    def _missing(self) -> frozenset[str]:
        return frozenset(map(plain, self.missing))

    @cached_property
    def _words(self) -> dict[tuple[str, str], tuple[str, ...]]:
        meant: dict[tuple[str, str], tuple[str, ...]] = {}
        for name, lists in self.words.items():
            for word, texts in lists.items():
                for text in {plain(each) for each in texts}:
                    meant[name, text] = (*meant.get((name, text), ()), word)
        return meant

    @cached_property
    def _fields_by_heading(self) -> dict[str, tuple[str, ...]]:
        fields: dict[str, tuple[str, ...]] = {}
        for name, texts in self.headings.items():
            for text in {plain(each): None for each in texts}:
                fields[text] = (*fields.get(text, ()), name)
        return fields


def merged_lists(base: object, own: object) -> Any:  # noqa: ANN401 - a tree of tables and lists, not yet checked
    """Both parts in one: lists under the same name are joined, the clinic's words last."""
    if isinstance(base, list) and isinstance(own, list):
        return [*base, *(each for each in own if each not in base)]
    if isinstance(base, dict) and isinstance(own, dict):
        return base | {name: merged_lists(base.get(name), part) for name, part in own.items()}
    return own


def _words_of(field: str) -> str:
    return f"synonyms.words.{field}"


def synonym_faults(protocol: Protocol) -> list[Fault]:
    """Lists of fields or words that there are not, and a text that could mean two things."""
    known = {field.id: field for field in protocol.fields}
    faults = [
        Fault("synonyms.headings", "", name, "is not a field of the protocol")
        for name in protocol.synonyms.headings
        if name not in known
    ]
    for name, lists in protocol.synonyms.words.items():
        if name not in {*known, ANY}:
            faults.append(Fault(_words_of(name), "", "", f'"{name}" is not a field of the protocol'))
        elif name != ANY:
            faults += _meaning_faults(known[name], lists)
    return [*faults, *_heading_faults(protocol)]


def _meaning_faults(field: Field, lists: dict[str, Words]) -> Iterator[Fault]:
    own = field.levels or field.allowed
    taken = {plain(word): word for word in own}
    for word, texts in lists.items():
        if word not in own:
            yield Fault(_words_of(field.id), "", word, "must be one of " + (", ".join(own) or "a closed list of words"))
        for text in texts:
            other = taken.setdefault(plain(text), word)
            if other != word:
                yield Fault(_words_of(field.id), "", "", f'"{text}" stands for both "{other}" and "{word}"')


def _heading_faults(protocol: Protocol) -> Iterator[Fault]:
    sheets: dict[str, set[str]] = {}
    for each in protocol.fields:
        sheets.setdefault(each.id, set()).add(each.sheet)
    taken: dict[tuple[str, str], str] = {}
    for name, texts in protocol.synonyms.headings.items():
        for sheet in sorted(sheets.get(name, ())):
            for text in texts:
                other = taken.setdefault((sheet, plain(text)), name)
                if other != name:
                    yield Fault("synonyms.headings", "", name, f'"{text}" heads {other} already')
