"""Guess the mapping of foreign sheets; every guess comes with its evidence, and with a doubt where there is one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping as MappingOf
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from outcomes.capture.date_text import DAY_FIRST, ORDERS, read_date_text
from outcomes.capture.foreign.cell_values import shown
from outcomes.capture.foreign.column_guesses import ColumnGuess, ColumnGuesser, evidence_of
from outcomes.capture.foreign.headings import HeadingReader
from outcomes.capture.foreign.layout import SheetLayout, find_layout
from outcomes.capture.foreign.mapping import (
    BIRTH_DATE,
    BY_CASE,
    BY_COLUMN,
    BY_LINK,
    BY_PATIENT_AND_SIDE,
    EVENT,
    LINK,
    UNKNOWN,
    UNMAPPED,
    Mapping,
    TableRule,
)
from outcomes.capture.foreign.sheet import ForeignSheet
from outcomes.capture.foreign.visit_labels import read_visit_label
from outcomes.capture.foreign.word_guesses import WordGuess, guess_words
from outcomes.capture.raw_sheets import Cell, is_blank
from outcomes.protocol import Protocol
from outcomes.protocol.synonyms import plain

_KEYS = ("case_id", "patient_id", LINK)
_DASHES = {"-", "–", "—"}


@dataclass(frozen=True)
class MappingGuess:
    """A mapping with what speaks for it: notes on its keys, columns by sheet and number, words by field and word."""

    mapping: Mapping
    notes: MappingOf[str, str]
    columns: MappingOf[tuple[str, int], ColumnGuess]
    words: tuple[WordGuess, ...]
    skipped: MappingOf[str, MappingOf[int, str]] = field(default_factory=dict)
    without_table: tuple[str, ...] = ()


def guess_mapping(sheets: Sequence[ForeignSheet], protocol: Protocol, *, as_of: date) -> MappingGuess:
    """The best guess for sheets of another form; what cannot be guessed is unmapped, or has the meaning `?`."""
    reader = HeadingReader(protocol)
    layouts = {sheet.name: _layout(sheet, reader, protocol) for sheet in sheets}
    columns: dict[tuple[str, int], ColumnGuess] = {}
    tables = []
    for sheet in sheets:
        layout = layouts[sheet.name]
        if layout is None:
            continue
        guesses = ColumnGuesser(sheet, layout, reader, protocol, as_of).guess()
        columns |= {(sheet.name, each.rule.column): each for each in guesses}
        tables.append(_table(sheet, layout, guesses))
    mapping = Mapping(tuple(tables))
    notes: dict[str, str] = {}
    if missing := required_without_column(mapping, protocol):
        notes["required"] = f"CHECK: no column goes to {', '.join(missing)}, without which no case is stored"
    mapping = _with_codes(mapping, notes)
    mapping = _with_dates(mapping, sheets, protocol, notes, as_of)
    mapping = _with_visits(mapping, protocol)
    mapping, words, signs = guess_words(mapping, sheets, protocol, as_of)
    notes["missing"] = _missing_note(signs)
    skipped = {name: layout.skip for name, layout in layouts.items() if layout}
    return MappingGuess(
        mapping, notes, columns, words, skipped, tuple(name for name, layout in layouts.items() if layout is None)
    )


def completed_mapping(
    mapping: Mapping, sheets: Sequence[ForeignSheet], protocol: Protocol, *, as_of: date
) -> MappingGuess:
    """An edited mapping with the words that its columns now need; what it says already stays as it is."""
    known = mapping.words
    whole, words, signs = guess_words(replace(mapping, words={}), sheets, protocol, as_of)
    merged = {field: {**whole.words.get(field, {}), **known.get(field, {})} for field in {**whole.words, **known}}
    seen = {(each.field, plain(each.word)): each for each in words}
    notes = tuple(
        replace(
            seen.get((field, plain(word)), WordGuess(field, word, meaning, 0)),
            meaning=meaning,
            doubt="" if word in known.get(field, {}) else seen[field, plain(word)].doubt,
        )
        for field, meanings in merged.items()
        for word, meaning in meanings.items()
    )
    missing = tuple(dict.fromkeys((*mapping.missing, *whole.missing)))
    by_name = {sheet.name: sheet for sheet in sheets}
    columns = {
        (table.sheet, rule.column): ColumnGuess(rule, evidence_of(by_name[table.sheet], table, rule))
        for table in mapping.tables
        if table.sheet in by_name
        for rule in table.columns
    }
    needed = required_without_column(mapping, protocol)
    said = {"missing": _missing_note(signs)}
    if needed:
        said["required"] = f"CHECK: no column goes to {', '.join(needed)}"
    return MappingGuess(replace(mapping, words=merged, missing=missing), said, columns, notes)


def _missing_note(signs: Counter[str]) -> str:
    """How often each sign for not recorded is in a mapped column; a dash may have meant that nothing was found."""
    counts = ", ".join(f'"{sign}" {count} cells' for sign, count in signs.items())
    dash = (
        "CHECK: a dash may also mean none or no: then give it that meaning under words; "
        if signs.keys() & _DASHES
        else ""
    )
    return f"{dash}read as not recorded in every column{': ' if counts else ''}{counts}"


def required_without_column(mapping: Mapping, protocol: Protocol) -> tuple[str, ...]:
    """The fields that every case needs and to which no column goes; none where no column is of the case."""
    targets = {rule.to for table in mapping.tables for rule in table.columns}
    fields = protocol.sheet("reconstructions")
    if not any(field.id in targets for field in fields if field.kind != "code"):
        return ()
    return tuple(field.id for field in fields if field.required and field.kind != "code" and field.id not in targets)


def _layout(sheet: ForeignSheet, reader: HeadingReader, protocol: Protocol) -> SheetLayout | None:
    def known(text: str) -> bool:
        found = reader.read(text)
        return bool(found.to and not found.doubt) or bool(found.kind)

    return find_layout(sheet, lambda text: read_visit_label(text, protocol.windows) is not None, known)


def _table(sheet: ForeignSheet, layout: SheetLayout, guesses: Sequence[ColumnGuess]) -> TableRule:
    rules = tuple(each.rule for each in guesses)
    keys = [rule.column - 1 for rule in rules if rule.to in _KEYS]
    continues = False
    seen = False
    for row in range(layout.rows[0] - 1, layout.rows[1]):
        if row + 1 in layout.skip:
            continue
        coded = any(not is_blank(sheet.cell(row, column)) for column in keys)
        others = sum(not is_blank(cell) for cell in sheet.grid[row]) if row < len(sheet.grid) else 0
        continues = continues or (seen and not coded and others > 1)
        seen = seen or coded
    return TableRule(sheet.name, layout.header, layout.rows, rules, tuple(layout.skip), continues)


def _with_codes(mapping: Mapping, notes: dict[str, str]) -> Mapping:
    """How codes are found when no column holds them."""
    targets = {rule.to for table in mapping.tables for rule in table.columns}
    case_code = BY_COLUMN if "case_id" in targets else BY_PATIENT_AND_SIDE
    if "patient_id" in targets:
        patient_code = BY_COLUMN
    elif LINK in targets:
        patient_code = BY_LINK
        notes["patient_code"] = (
            "the sheet names patients by hospital number; study codes are made and kept by --link-file"
        )
    else:
        patient_code = BY_CASE
        notes["patient_code"] = (
            "CHECK: no column of patients, so each case is one patient; two lids of one person must share one"
        )
    if case_code == BY_PATIENT_AND_SIDE:
        notes["case_code"] = (
            "CHECK: no column of cases; the code is the patient's with -R or -L, so one operation a side"
        )
    return replace(mapping, case_code=case_code, patient_code=patient_code)


def _with_dates(
    mapping: Mapping, sheets: Sequence[ForeignSheet], protocol: Protocol, notes: dict[str, str], as_of: date
) -> Mapping:
    """The order of day and month, by the dates that show it."""
    shows: Counter[str] = Counter()
    open_dates = short_years = 0
    for cell in _date_cells(mapping, sheets, protocol):
        read = read_date_text(cell, latest=as_of)
        shows[read.order] += bool(read.order)
        short_years += any(read_date_text(cell, order, latest=as_of).two_digit_year for order in ORDERS)
        open_dates += read.day is None and all(read_date_text(cell, order, latest=as_of).day for order in ORDERS)
    order, count = max(shows.items(), key=lambda shown: shown[1], default=("", 0))
    others = sum(shows.values()) - count
    if count:
        notes["dates"] = f"{count} dates show it, as they have a number over 12" + (
            f"; CHECK: {others} show the other order" if others else ""
        )
    elif open_dates:
        order = DAY_FIRST if any(sheet.form.date_order == DAY_FIRST for sheet in sheets) else UNKNOWN
        notes["dates"] = f'CHECK: {open_dates} dates can be read both ways; give "day first" or "month first"'
    if short_years:
        said = f"CHECK: {short_years} years of two digits are read as the last such year up to {as_of.year}"
        notes["dates"] = "; ".join(filter(None, (notes.get("dates", ""), said)))
    return replace(mapping, dates=order)


def _date_cells(mapping: Mapping, sheets: Sequence[ForeignSheet], protocol: Protocol) -> list[str]:
    dates = {field.id for field in protocol.fields if field.kind == "date"}
    by_name = {sheet.name: sheet for sheet in sheets}
    return [
        cell
        for table in mapping.tables
        for rule in table.columns
        if rule.to in dates or rule.to.startswith(EVENT) or rule.read == BIRTH_DATE
        for cell in _texts(by_name[table.sheet], table, rule.column)
    ]


def _texts(sheet: ForeignSheet, table: TableRule, column: int) -> list[str]:
    cells: list[Cell] = [sheet.cell(row - 1, column - 1) for row in range(table.rows[0], table.rows[1] + 1)]
    return [shown(cell) for cell in cells if isinstance(cell, str) and not is_blank(cell)]


def _with_visits(mapping: Mapping, protocol: Protocol) -> Mapping:
    """The days after division of each visit that columns name, where its label says them."""
    visits: dict[str, int | None] = {}
    for table in mapping.tables:
        dated = {rule.visit for rule in table.columns if rule.to == "reviewed_on"}
        for rule in table.columns:
            if rule.visit and rule.to != UNMAPPED and rule.visit not in visits:
                label = read_visit_label(rule.visit, protocol.windows)
                days = label.days if label else None
                if days is not None or rule.visit not in dated:
                    visits[rule.visit] = days
    return replace(mapping, visits=visits)
