"""Write a mapping as a file that the clinic reads and edits, and read it again."""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from outcomes.capture.date_text import ORDERS
from outcomes.capture.foreign.guesses import MappingGuess
from outcomes.capture.foreign.mapping import (
    BY_CASE,
    BY_COLUMN,
    BY_LINK,
    BY_PATIENT_AND_SIDE,
    EVENT,
    LINK,
    READS,
    SIZE,
    UNKNOWN,
    UNMAPPED,
    ColumnRule,
    Mapping,
    TableRule,
)
from outcomes.capture.sheet_names import nearest
from outcomes.errors import DataRefused, OutcomesError, Problem, column_letters
from outcomes.protocol import Protocol

FORMAT = 1
_CHOICES = {
    "dates": ("", *ORDERS, UNKNOWN),
    "case_code": (BY_COLUMN, BY_PATIENT_AND_SIDE),
    "patient_code": (BY_COLUMN, BY_CASE, BY_LINK),
}
_WIDTH = 78


@dataclass(frozen=True)
class MappingFile:
    """A mapping as it was read, with the digest of its file and its content in one line, without the remarks."""

    name: str
    mapping: Mapping
    digest: str
    content: str


def write_mapping(path: Path, source: str, guess: MappingGuess) -> None:
    """Write the mapping with its evidence and doubts; raises OutcomesError where a file is in the way."""
    if path.exists():
        raise OutcomesError(f"{path} is there already and may hold edits; choose another name or move it away")
    try:
        path.write_text("\n".join(_lines(source, guess)) + "\n", encoding="utf-8")
    except OSError as error:
        raise OutcomesError(f"the mapping cannot be written to {path}: {error.strerror}") from error


def doubts_in(guess: MappingGuess) -> tuple[int, int]:
    """How many lines are marked CHECK, and how many hold a `?`."""
    lines = list(_lines("", guess))[_HEAD_LINES:]
    return sum("CHECK" in line for line in lines), sum(f'"{UNKNOWN}"' in line.partition("#")[0] for line in lines)


_HEAD_LINES = 7


def _lines(source: str, guess: MappingGuess) -> Iterator[str]:
    mapping = guess.mapping
    yield f"# How {source} is read. After # stand what speaks for a guess, and CHECK where it may be wrong."
    yield '# to: a field of the sheets (see the template\'s definitions), two fields for "22 x 9", "event death" for a date of'
    yield f'#     that event, "{LINK}" for hospital numbers, which only the link file keeps, or "{UNMAPPED}".'
    yield "# visit: columns with the same visit make one review. eye: the field of the operated or of the fellow lid is chosen by"
    yield "#     the side of the case. read: " + ", ".join(f'"{how}"' for how in READS if how) + "."
    yield f'# words: what a word means; "blank" is not recorded, "{UNKNOWN}" is not known, and such cells are refused and listed.'
    yield ""
    yield _noted(f"format = {FORMAT}", guess.notes.get("required", ""))
    for key, value in (
        ("dates", mapping.dates),
        ("case_code", mapping.case_code),
        ("patient_code", mapping.patient_code),
    ):
        yield _noted(f"{key} = {_text(value)}", guess.notes.get(key, ""))
    yield _noted(f"missing = [{', '.join(map(_text, mapping.missing))}]", guess.notes.get("missing", ""))
    if mapping.visits:
        yield ""
        yield "[visits]  # days after division: used where a visit has no date, and then stored as known by month only"
        for label, days in mapping.visits.items():
            yield (
                f"{_text(label)} = {days}"
                if days is not None
                else _noted(f'{_text(label)} = "{UNKNOWN}"', "CHECK: days")
            )
    yield from _word_lines(guess)
    for table in mapping.tables:
        yield ""
        yield from _table_lines(table, guess)
    for name in guess.without_table:
        yield f"# The sheet {_text(name)} has no row that looks like headings; none of it is mapped."


def _word_lines(guess: MappingGuess) -> Iterator[str]:
    fields = dict.fromkeys(each.field for each in guess.words)
    for field in fields:
        yield ""
        yield f"[words.{field}]"
        for each in guess.words:
            if each.field == field:
                count = f"{each.count} cell" + ("s" if each.count != 1 else "")
                note = f"CHECK: {count}; {each.doubt}" if each.doubt else count
                yield _noted(f"{_text(each.word)} = {_text(each.meaning)}", note)


def _table_lines(table: TableRule, guess: MappingGuess) -> Iterator[str]:
    yield "[[tables]]"
    yield f"sheet = {_text(table.sheet)}"
    yield f"header = {list(table.header)}"
    yield _noted(f"rows = {list(table.rows)}", "first and last row of data")
    skipped = guess.skipped.get(table.sheet, {})
    words = ", ".join(f"{row}: {text}" for row, text in skipped.items())
    yield _noted(f"skip = {list(table.skip)}", f"no data: {words}" if words else "rows that are no data")
    continues = str(table.codes_continue).lower()
    note = (
        "CHECK: rows without a code belong to the row above"
        if table.codes_continue
        else "rows without a code are refused"
    )
    yield _noted(f"codes_continue = {continues}", note)
    yield "columns = ["
    for rule in table.columns:
        found = guess.columns[table.sheet, rule.column]
        note = f"CHECK: {found.doubt}; {found.evidence}" if found.doubt else found.evidence
        yield "    " + _noted(_column_text(rule) + ",", note)
    yield "]"


def _column_text(rule: ColumnRule) -> str:
    parts = {"column": column_letters(rule.column), "heading": rule.heading, "to": rule.to}
    parts |= {key: value for key, value in (("visit", rule.visit), ("eye", rule.eye), ("read", rule.read)) if value}
    return "{ " + ", ".join(f"{key} = {_text(value)}" for key, value in parts.items()) + " }"


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")  # JSON's escapes are TOML's


def _noted(line: str, note: str) -> str:
    shown = "".join(sign if sign.isprintable() else " " for sign in note)
    return f"{line:<{_WIDTH}}  # {' '.join(shown.split())}" if note else line


def read_mapping(path: Path, protocol: Protocol) -> MappingFile:
    """Read a mapping; raises DataRefused with every key that is not understood, and the remedy."""
    try:
        text = path.read_text(encoding="utf-8-sig")
        tree = tomllib.loads(text)
    except OSError as error:
        raise DataRefused(f"the mapping {path} cannot be read: {error.strerror}", []) from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise DataRefused(f"the mapping {path.name} is not valid TOML: {error}", []) from error
    problems = [Problem(path.name, 0, *fault) for fault in _faults(tree, protocol)]
    if problems:
        raise DataRefused(f"the mapping {path.name} was refused; nothing was stored", problems)
    content = json.dumps(tree, ensure_ascii=False, sort_keys=True)
    return MappingFile(path.name, _mapping(tree), hashlib.sha256(text.encode()).hexdigest(), content)


def _mapping(tree: dict[str, Any]) -> Mapping:
    return Mapping(
        tables=tuple(_table(each) for each in tree["tables"]),
        dates=tree.get("dates", ""),
        missing=tuple(tree.get("missing", ())),
        case_code=tree.get("case_code", BY_COLUMN),
        patient_code=tree.get("patient_code", BY_COLUMN),
        visits={label: None if days == UNKNOWN else days for label, days in tree.get("visits", {}).items()},
        words=tree.get("words", {}),
    )


def _table(tree: dict[str, Any]) -> TableRule:
    columns = tuple(
        ColumnRule(
            _column_number(each["column"]),
            each.get("heading", ""),
            each["to"],
            each.get("visit", ""),
            each.get("eye", ""),
            each.get("read", ""),
        )
        for each in tree["columns"]
    )
    first, last = tree["rows"]
    return TableRule(
        tree["sheet"],
        tuple(tree["header"]),
        (first, last),
        columns,
        tuple(tree.get("skip", ())),
        tree.get("codes_continue", False),
    )


def _column_number(letters: str) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - ord("A") + 1
    return number


def _faults(tree: dict[str, Any], protocol: Protocol) -> Iterator[tuple[str, str]]:
    """Each key that is wrong, and what is wrong with it."""
    known = {"format", "missing", "visits", "words", "tables", *_CHOICES}
    yield from ((key, f"is not a key of a mapping; known: {', '.join(sorted(known))}") for key in tree.keys() - known)
    if tree.get("format") != FORMAT:
        yield "format", f"must be {FORMAT}"
    for key, choices in _CHOICES.items():
        if tree.get(key, choices[0]) not in choices:
            yield key, "must be one of " + ", ".join(f'"{choice}"' for choice in choices)
    if not _is_texts(tree.get("missing", [])):
        yield "missing", "must be a list of texts in [ ]"
    visits = tree.get("visits", {})
    if not isinstance(visits, dict) or not all(_is_days(days) for days in visits.values()):
        yield "visits", f'each visit must have its days after division, or "{UNKNOWN}"'
    yield from _word_faults(tree.get("words", {}), protocol)
    tables = tree.get("tables")
    if not isinstance(tables, list) or not tables or not all(isinstance(each, dict) for each in tables):
        yield "tables", "has no [[tables]]; a mapping needs one at least"
        return
    for table in tables:
        yield from _table_faults(table, protocol)


def _is_texts(texts: object) -> bool:
    return isinstance(texts, list) and all(isinstance(text, str) for text in texts)


def _is_days(days: object) -> bool:
    return days == UNKNOWN or (isinstance(days, int) and not isinstance(days, bool) and 0 <= days <= 36_525)


def _word_faults(words: object, protocol: Protocol) -> Iterator[tuple[str, str]]:
    fields = tuple(dict.fromkeys(field.id for field in protocol.fields))
    if not isinstance(words, dict):
        yield "words", "write [words.FIELD] and the field's words below"
        return
    for field, meanings in words.items():
        if field not in fields:
            yield f"words.{field}", f"is not a field{nearest(field, fields)}"
        elif not isinstance(meanings, dict) or not all(isinstance(meaning, str) for meaning in meanings.values()):
            yield f"words.{field}", "each word must have its meaning as a text"


def _table_faults(table: dict[str, Any], protocol: Protocol) -> Iterator[tuple[str, str]]:
    name = f"table {table.get('sheet', '')}".strip()
    rows = table.get("rows")
    if not isinstance(table.get("sheet"), str) or not isinstance(table.get("columns"), list):
        yield name, "must have its sheet and its columns"
        return
    if not isinstance(rows, list) or len(rows) != 2 or not all(isinstance(row, int) and row > 0 for row in rows):
        yield name, "rows must be the first and the last row of data, such as [5, 64]"
    for key in ("header", "skip"):
        if not isinstance(table.get(key, []), list) or not all(isinstance(row, int) for row in table.get(key, [])):
            yield name, f"{key} must be a list of row numbers"
    for column in table["columns"]:
        yield from _column_faults(name, column, protocol)


def _column_faults(table: str, column: object, protocol: Protocol) -> Iterator[tuple[str, str]]:
    if not isinstance(column, dict) or not all(isinstance(value, str) for value in column.values()):
        yield table, 'each column is { column = "A", heading = "…", to = "…" }'
        return
    letters = column.get("column", "")
    place = f"{table}, column {letters}"
    if not letters.isascii() or not letters.isalpha() or len(letters) > 3:
        yield place, "must be the letters over the column"
    if target := _unknown_target(column.get("to", ""), protocol):
        yield place, target
    if column.get("eye", "") not in {"", "right", "left"}:
        yield place, 'eye must be "right" or "left"'
    if column.get("read", "") not in READS:
        yield place, "read must be one of " + ", ".join(f'"{how}"' for how in READS if how)


def _unknown_target(to: str, protocol: Protocol) -> str:
    fields = tuple(dict.fromkeys(field.id for field in protocol.fields))
    kinds = protocol.field("events", "kind").allowed
    if to.startswith(EVENT):
        kind = to.removeprefix(EVENT)
        return "" if kind in kinds else f'to: "{kind}" is not a kind of event{nearest(kind, kinds)}'
    names = to.split(SIZE) if to not in {UNMAPPED, LINK} else []
    unknown = next((name for name in names if name not in fields), "")
    return f'to: "{unknown}" is not a field{nearest(unknown, fields)}' if unknown or not to else ""
