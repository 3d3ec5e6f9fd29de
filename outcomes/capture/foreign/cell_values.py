"""Turn one foreign cell into the value of a field, by the words, dates and units of a mapping."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from outcomes.capture.date_text import read_date_text, serial_day
from outcomes.capture.foreign.mapping import (
    AGE,
    BIRTH_DATE,
    BLANK,
    DAYS_AFTER,
    DECIMAL_ACUITY,
    PLAIN,
    SERIAL,
    UNKNOWN,
    ColumnRule,
    Mapping,
    word_field,
)
from outcomes.capture.raw_sheets import Cell
from outcomes.protocol import Field, Raw
from outcomes.protocol.synonyms import plain

_NUMBER = re.compile(r"([+\-\u2212]?\d+(?:[.,]\d+)?|[.,]\d+)")
_NUMERIC = {"number", "acuity", "grade", "year"}
_NO_OPERATION = "is counted from the date of operation, which the case does not have"
_UNITS = {"mm": ("mm",), "%": ("%", "percent", "prozent"), "logMAR": ("logmar",)}


@dataclass(frozen=True)
class CellValue:
    """What a cell says: a value for its field, nothing recorded (None), or why it cannot be read."""

    value: Raw = None
    problem: str = ""
    month_only: bool = False


def shown(cell: Cell) -> str:
    """The cell as it is typed: 12.0 is 12, a day without its time."""
    if isinstance(cell, float):
        return f"{cell:.10g}"
    if isinstance(cell, datetime) and cell.time() == datetime.min.time():
        return cell.date().isoformat()
    return " ".join(str(cell).split())


class CellReader:
    """Reads cells by one mapping; `decimal_comma` is that of the sheet."""

    def __init__(self, mapping: Mapping, as_of: date, *, decimal_comma: bool) -> None:
        """Keep the mapping with its words in the form in which they are compared."""
        self.mapping, self.as_of, self.decimal_comma = mapping, as_of, decimal_comma
        self.words = {
            field: {plain(word): meaning for word, meaning in words.items()} for field, words in mapping.words.items()
        }
        self.missing = {plain(sign) for sign in mapping.missing}

    def read(self, field: Field, cell: Cell, rule: ColumnRule, base: date | None = None) -> CellValue:
        """The value of one cell for a field; `base` is the day of operation, from which an age and days are counted.

        Its words are those of the field that the column names, also where the fellow lid's field is chosen.
        """
        text, how = shown(cell), rule.read
        meaning = self.words.get(word_field(rule), {}).get(plain(text))
        if meaning == UNKNOWN:
            return CellValue(problem=f'"{text[:40]}" has no meaning in the mapping')
        if meaning == BLANK or (meaning is None and plain(text) in self.missing):
            return CellValue()
        if meaning is not None:
            return self._plain(field, meaning, PLAIN)
        if how == AGE:
            return self._age(text, base)
        if how == DAYS_AFTER:
            return self._days_after(text, base)
        return self._plain(field, cell, how)

    def _plain(self, field: Field, cell: Cell, how: str) -> CellValue:
        if field.kind == "date" or how == BIRTH_DATE:
            return self._date(cell, how)
        if field.kind in _NUMERIC and isinstance(cell, str):
            return self._number(field, " ".join(cell.split()), how)
        if isinstance(cell, float) and field.kind == "acuity" and how == DECIMAL_ACUITY:
            return self._number(field, shown(cell), how)
        if isinstance(cell, datetime):
            return CellValue(cell.date())
        return CellValue(shown(cell) if not isinstance(cell, int | float | bool | date) else cell)

    def _date(self, cell: Cell, how: str) -> CellValue:
        if isinstance(cell, datetime):
            day: date | None = cell.date()
        elif isinstance(cell, date):
            day = cell
        elif how in {SERIAL, BIRTH_DATE} and _is_serial(shown(cell)):
            day = serial_day(float(shown(cell).replace(",", ".")))
        else:
            order = "" if self.mapping.dates == UNKNOWN else self.mapping.dates
            read = read_date_text(shown(cell), order, latest=self.as_of)
            if read.problem or (read.month_only and how == BIRTH_DATE):
                year = re.fullmatch(r"(?:19|20)\d\d", shown(cell)) if how == BIRTH_DATE else None
                return CellValue(int(year[0])) if year else CellValue(problem=f'"{shown(cell)[:40]}" {read.problem}')
            if read.month_only:
                return CellValue(read.day, month_only=True)
            day = read.day
        if day is not None and how == BIRTH_DATE:
            return CellValue(day.year)
        return CellValue(day)

    def _number(self, field: Field, text: str, how: str) -> CellValue:
        for unit in _UNITS.get(field.unit, ()):
            text = text[: -len(unit)].rstrip() if text.casefold().endswith(unit) else text
        if not _NUMBER.fullmatch(text):
            return CellValue(text)
        comma = self.decimal_comma or field.kind != "number"
        number = text.replace(",", ".") if comma else text
        if field.kind == "acuity" and how == DECIMAL_ACUITY:
            decimal = float(number)
            return (
                CellValue(round(-math.log10(decimal), 3) + 0.0)
                if decimal > 0
                else CellValue(problem=f'"{text}" is no acuity')
            )
        return CellValue(number)

    def _age(self, text: str, operated: date | None) -> CellValue:
        if operated is None:
            return CellValue(problem=_NO_OPERATION)
        if not re.fullmatch(r"\d{1,3}", text):
            return CellValue(problem=f'"{text[:40]}" is no age')
        return CellValue(operated.year - int(text))

    def _days_after(self, text: str, operated: date | None) -> CellValue:
        if operated is None:
            return CellValue(problem=_NO_OPERATION)
        if not re.fullmatch(r"\d{1,4}", text):
            return CellValue(problem=f'"{text[:40]}" is no number of days')
        return CellValue(operated + timedelta(days=int(text)))


def _is_serial(text: str) -> bool:
    return bool(re.fullmatch(r"\d{3,5}(?:[.,]\d+)?", text)) and serial_day(float(text.replace(",", "."))) is not None
