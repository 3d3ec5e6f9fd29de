"""Replace words of a sheet by what the user says that they mean."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from outcomes.capture.columns import check_columns
from outcomes.capture.raw_sheets import Cell, RawSheet, RawSheets
from outcomes.errors import WrongUsage
from outcomes.protocol import Protocol
from outcomes.protocol.synonyms import plain

BLANK = "blank"


@dataclass(frozen=True)
class WordReading:
    """A word, what it means, and the field in which it does; an empty field stands for every field."""

    word: str
    meaning: str
    field: str = ""


def parse_readings(texts: Sequence[str], protocol: Protocol) -> tuple[WordReading, ...]:
    """Read `WORD=MEANING` or `FIELD:WORD=MEANING`; the meaning `blank` is not recorded. Raises WrongUsage."""
    fields = {field.id for field in protocol.fields}
    readings = []
    for text in texts:
        word, _, meaning = text.rpartition("=")
        field, _, rest = word.partition(":")
        named = field.strip() in fields and rest.strip()
        word = rest.strip() if named else word.strip()
        if not word or not meaning.strip():
            raise WrongUsage(f"--read \"{text}\" is not understood; write it as --read 'n.a.=blank'")
        readings.append(WordReading(word, meaning.strip(), field.strip() if named else ""))
    return tuple(readings)


def apply_readings(
    raw: RawSheets, readings: Sequence[WordReading], protocol: Protocol
) -> tuple[RawSheets, tuple[str, ...]]:
    """The sheets with the words replaced, and a note of each reading with the number of its cells."""
    counts: Counter[WordReading] = Counter()
    sheets = tuple(_applied(sheet, readings, protocol, counts) for sheet in raw.sheets) if readings else raw.sheets
    notes = (
        f'"{each.word}" was read as {"not recorded" if each.meaning == BLANK else each.meaning} ({counts[each]} in all)'
        for each in readings
    )
    return replace(raw, sheets=sheets), tuple(notes)


def _applied(
    sheet: RawSheet, readings: Sequence[WordReading], protocol: Protocol, counts: Counter[WordReading]
) -> RawSheet:
    fields = {place: field.id for place, field in check_columns(sheet, protocol).fields.items()}
    meant = {(each.field, plain(each.word)): each for each in readings}

    def read(place: int, cell: Cell) -> Cell:
        if place not in fields or cell is None:
            return cell
        word = plain(_shown(cell))
        reading = meant.get((fields[place], word)) or meant.get(("", word))
        if reading is None:
            return cell
        counts[reading] += 1
        return None if reading.meaning == BLANK else reading.meaning

    rows = tuple((number, tuple(read(place, cell) for place, cell in enumerate(row))) for number, row in sheet.rows)
    return replace(sheet, rows=rows)


def _shown(cell: Cell) -> str:
    return f"{cell:g}" if isinstance(cell, float) else str(cell)
