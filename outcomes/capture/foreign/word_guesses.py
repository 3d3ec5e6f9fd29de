"""Guess what the words of a foreign sheet mean, by the synonyms of the protocol."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

from outcomes.capture.date_text import ORDERS, read_date_text
from outcomes.capture.foreign.cell_values import CellReader, shown
from outcomes.capture.foreign.mapping import (
    AGE,
    BLANK,
    DAYS_AFTER,
    SIZE,
    TWO_NUMBERS,
    UNKNOWN,
    ColumnRule,
    Mapping,
    word_field,
)
from outcomes.capture.foreign.sheet import ForeignSheet
from outcomes.capture.raw_sheets import Cell, is_blank
from outcomes.protocol import Field, Protocol
from outcomes.protocol.synonyms import plain

_MISSING_CODES = {"9", "99", "999", "9999", "88", "888", "-1", "-9", "-99", "-999"}
_APPROXIMATE = re.compile(r"(?:ca\.?|circa|about|approx\.?|etwa|~|≈) ?(\d+(?:[.,]\d+)?)(?: ?mm| ?%)?", re.IGNORECASE)
_MOST_UNKNOWN = 20
_DAY = date(2020, 1, 1)
_ANY = Field("any", "reviews", "choice", "Any", "Any field.", values=("none", "no"))


@dataclass(frozen=True)
class WordGuess:
    """A word of a field, its guessed meaning, in how many cells it is, and why it should be checked."""

    field: str
    word: str
    meaning: str
    count: int
    doubt: str = ""


def guess_words(
    mapping: Mapping, sheets: Sequence[ForeignSheet], protocol: Protocol, as_of: date
) -> tuple[Mapping, tuple[WordGuess, ...], Counter[str]]:
    """The mapping with its signs for not recorded and the words that no field reads as they are; those words; the signs.

    A word that no synonym explains means `?`; a field with very many such words keeps none of them.
    """
    cells = list(_field_cells(mapping, sheets, protocol))
    signs = Counter(shown(cell) for _, cell, *_ in cells if protocol.synonyms.is_missing(shown(cell)))
    mapping = replace(mapping, missing=tuple(signs))
    readers = {comma: CellReader(mapping, as_of, decimal_comma=comma) for comma in (True, False)}
    unread: dict[tuple[str, str], tuple[Field, str]] = {}
    counts: Counter[tuple[str, str]] = Counter()
    for field, cell, rule, comma in cells:
        key = field.id, plain(shown(cell))
        counts[key] += 1
        if key not in unread and not _is_read(readers[comma], field, cell, rule, as_of):
            unread[key] = field, shown(cell)
    guesses = [_guess(field, word, counts[key], protocol) for key, (field, word) in unread.items()]
    unknown = Counter(each.field for each in guesses if each.meaning == UNKNOWN)
    kept = tuple(each for each in guesses if each.meaning != UNKNOWN or unknown[each.field] <= _MOST_UNKNOWN)
    words: dict[str, dict[str, str]] = {}
    for each in kept:
        words.setdefault(each.field, {})[each.word] = each.meaning
    return replace(mapping, words=words), kept, signs


def _field_cells(
    mapping: Mapping, sheets: Sequence[ForeignSheet], protocol: Protocol
) -> Iterator[tuple[Field, Cell, ColumnRule, bool]]:
    """Every cell that goes to a field, with the field, its column, and whether a comma may be decimal."""
    fields = {field.id: field for field in protocol.fields}
    by_name = {sheet.name: sheet for sheet in sheets}
    for table in mapping.tables:
        sheet = by_name[table.sheet]
        for rule in table.columns:
            field = fields.get(word_field(rule))
            if field is None or field.kind == "code":
                continue
            for row in range(table.rows[0], table.rows[1] + 1):
                cell = sheet.cell(row - 1, rule.column - 1)
                if row in table.skip or is_blank(cell) or (row - 1, rule.column - 1) in sheet.filled:
                    continue
                if SIZE not in rule.to or not TWO_NUMBERS.fullmatch(shown(cell)):
                    yield field, cell, rule, sheet.form.decimal_comma


def _is_read(reader: CellReader, field: Field, cell: Cell, rule: ColumnRule, as_of: date) -> bool:
    """Tell whether the cell has a meaning as it is; a date that only lacks its order has one."""
    base = _DAY if rule.read in {AGE, DAYS_AFTER} else None
    value = reader.read(field, cell, rule, base)
    if value.problem:
        orders = field.kind in {"date", "year"}
        return orders and any(read_date_text(shown(cell), order, latest=as_of).day for order in ORDERS)
    return value.month_only or not field.read(value.value, as_of=as_of).problem


def _known_part(field: Field, word: str, protocol: Protocol) -> tuple[str, str] | None:
    """A part of the words that has a meaning in the field, and that meaning, where all such parts agree."""
    parts = word.split()
    found = {
        part: meant
        for part in parts
        if len(part) > 1 and (meant := protocol.synonyms.word(field, part) or _own_word(field, part))
    }
    meanings = set(found.values())
    return (next(iter(found)), meanings.pop()) if len(parts) > 1 and len(meanings) == 1 else None


def _own_word(field: Field, text: str) -> str | None:
    return next((word for word in field.allowed if word.casefold() == text.casefold()), None)


def _guess(field: Field, word: str, count: int, protocol: Protocol) -> WordGuess:
    meant = protocol.synonyms.word(field, word)
    if meant:
        doubt = "weaker than +" if word.startswith("(") else ""
        return WordGuess(field.id, word, meant, count, doubt)
    part = _known_part(field, word, protocol)
    if part:
        return WordGuess(field.id, word, part[1], count, f'because it holds "{part[0]}"')
    if field.kind == "number" and protocol.synonyms.word(_ANY, word) in {"none", "no"}:
        return WordGuess(field.id, word, "0", count, "taken as 0, as nothing was found")
    if word in _MISSING_CODES:
        return WordGuess(field.id, word, BLANK, count, f"no value of this field ({field.says()}): a code for missing?")
    about = _APPROXIMATE.fullmatch(word)
    if about and field.kind == "number":
        return WordGuess(field.id, word, about[1].replace(",", "."), count, "only approximate")
    return WordGuess(field.id, word, UNKNOWN, count, f"give {field.says()}; or blank")
