"""Read one CSV table with any of the usual separators, text encodings and decimal signs."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Callable
from dataclasses import dataclass

from outcomes.capture import size_limits
from outcomes.capture.date_text import DAY_FIRST
from outcomes.capture.raw_sheets import Cell, SheetForm

SEPARATORS = (",", ";", "\t")
WESTERN = "cp1252"
_BYTE_ORDER_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_HEADER_LENGTH = 100_000


@dataclass(frozen=True)
class CsvTable:
    """The cells of a table, the separator between them, and the text encoding they were read with."""

    grid: list[list[Cell]]
    separator: str
    encoding: str

    @property
    def form(self) -> SheetForm:
        """How the table writes its values.

        Tables are cut by semicolons where the comma is the decimal sign, and there the day comes first in a date (common
        practice, no source).
        """
        notes = (
            ("is not UTF-8 text and was read as Windows-1252 (Western European)",) if self.encoding == WESTERN else ()
        )
        return SheetForm(self.separator != ",", DAY_FIRST if self.separator == ";" else "", notes)


class UnreadableTable(Exception):
    """A table that cannot be read: the row, 0 for the table as a whole, and what is wrong with it."""

    def __init__(self, row: int, what: str) -> None:
        super().__init__(what)
        self.row, self.what = row, what


def read_table(content: bytes, header_words: Callable[[list[str]], int]) -> CsvTable:
    """Read a table; `header_words` counts the known names in a row, which decides the separator.

    Raises UnreadableTable.
    """
    if sum(content.count(sign.encode()) for sign in SEPARATORS) > size_limits.CELLS:
        raise UnreadableTable(0, f"has more than {size_limits.CELLS:,} cells; delete the empty columns or split it")
    encoding = _encoding(content)
    text = content.decode(encoding)
    text, separator = _declared_separator(text) or (text, _separator(text, header_words))
    return CsvTable(_grid(text, separator), separator, encoding)


def _encoding(content: bytes) -> str:
    if content.startswith(_BYTE_ORDER_MARKS):
        return _checked_encoding(content, "utf-16", "is damaged UTF-16 text; save it as CSV UTF-8")
    if b"\0" in content[:1000]:
        raise UnreadableTable(0, "is not UTF-8 text (it looks like UTF-16 without its mark); save it as CSV UTF-8")
    try:
        content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return _checked_encoding(content, WESTERN, "is neither UTF-8 nor Windows-1252 text; save it as CSV UTF-8")
    return "utf-8-sig"


def _checked_encoding(content: bytes, encoding: str, otherwise: str) -> str:
    try:
        content.decode(encoding)
    except UnicodeDecodeError as error:
        raise UnreadableTable(content.count(b"\n", 0, error.start) + 1, otherwise) from error
    return encoding


def _declared_separator(text: str) -> tuple[str, str] | None:
    """The separator that a spreadsheet declared in a first line of its own (`sep=;`), and the text below that line."""
    found = re.match(r'"?sep=([,;\t])"?\r?\n', text)
    return (text[found.end() :], found.group(1)) if found else None


def _separator(text: str, header_words: Callable[[list[str]], int]) -> str:
    """The sign that cuts the first rows into the most known names, then into the most parts; a comma when none does."""
    lines = text.lstrip("\r\n")[:_HEADER_LENGTH].splitlines()[:10] or [""]

    def known_names(sign: str) -> int:
        return max(header_words([part.strip().strip('"') for part in line.split(sign)]) for line in lines)

    return max(SEPARATORS, key=lambda sign: (known_names(sign), max(line.count(sign) for line in lines)))


def _grid(text: str, separator: str) -> list[list[Cell]]:
    grid: list[list[Cell]] = []
    try:
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True):
            grid.append(list(row))
            if len(grid) > size_limits.ROWS + 1:
                raise UnreadableTable(0, f"has more than {size_limits.ROWS:,} rows; split it")
            if len(row) > size_limits.COLUMNS and any(cell.strip() for cell in row[size_limits.COLUMNS :]):
                raise UnreadableTable(len(grid), f"has more than {size_limits.COLUMNS} columns")
    except csv.Error as error:
        raise UnreadableTable(
            len(grid) + 1, f"cannot be read as a CSV table ({error}); look for a stray quotation mark"
        ) from error
    return grid
