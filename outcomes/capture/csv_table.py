"""Read one CSV table with any of the usual separators, text encodings and decimal signs."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import overload

from outcomes.capture import size_limits
from outcomes.capture.date_text import DAY_FIRST
from outcomes.capture.raw_sheets import Cell, NumberedRow, SheetForm, numbered_rows, without_trailing_blanks

SEPARATORS = (",", ";", "\t")
WESTERN = "cp1252"
_BYTE_ORDER_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_HEADER_LENGTH = 100_000
_BLOCK = 1 << 20


@dataclass(frozen=True)
class CsvTable:
    """A table that can be read: its bytes, the separator of its cells, and its text encoding.

    `lines_above` are those that a spreadsheet wrote above the first row. The cells are read again each time that they
    are asked for, so that a large table is never in memory cell for cell; `filled_rows` are those that are not blank.
    """

    content: bytes = field(repr=False)
    separator: str
    encoding: str
    lines_above: int = 0
    filled_rows: int = 0

    def __iter__(self) -> Iterator[list[str]]:
        """Every row, blank ones too."""
        text = io.TextIOWrapper(io.BytesIO(self.content), encoding=self.encoding, newline="")
        for _ in range(self.lines_above):
            text.readline()
        unused = [size_limits.ROW_LENGTH]
        for row in csv.reader(_lines(text, unused), delimiter=self.separator, strict=True):
            unused[0] = size_limits.ROW_LENGTH
            yield row

    @property
    def grid(self) -> list[list[Cell]]:
        """Every cell at once; raises UnreadableTable where there are too many."""
        if sum(self.content.count(sign.encode()) for sign in SEPARATORS) > size_limits.CELLS:
            raise UnreadableTable(0, f"has more than {size_limits.CELLS:,} cells; delete the empty columns or split it")
        return [list(row) for row in self]

    @property
    def header(self) -> tuple[Cell, ...]:
        """The first row."""
        return without_trailing_blanks(next(iter(self), []))

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


def _lines(text: io.TextIOBase, unused: list[int]) -> Iterator[str]:
    """The lines of a text, as long as a row does not take more letters than a row may; `unused` is what it has left."""
    while line := text.readline(unused[0] + 1):
        unused[0] -= len(line)
        if unused[0] < 0:
            what = f"has a row of more than {size_limits.ROW_LENGTH:,} characters"
            raise UnreadableTable(0, f"{what}; delete the empty columns, and look for a stray quotation mark")
        yield line


class CsvRows(Sequence[NumberedRow]):
    """The rows of a table below its first one that are not blank, read anew each time that they are gone through."""

    def __init__(self, table: CsvTable) -> None:
        self.table = table

    def __iter__(self) -> Iterator[NumberedRow]:
        """Each row with its number."""
        return numbered_rows(self.table)

    def __len__(self) -> int:
        """How many rows there are."""
        return self.table.filled_rows

    @overload
    def __getitem__(self, place: int) -> NumberedRow: ...

    @overload
    def __getitem__(self, place: slice) -> Sequence[NumberedRow]: ...

    def __getitem__(self, place: int | slice) -> NumberedRow | Sequence[NumberedRow]:
        """One row, or some in order."""
        if isinstance(place, slice):
            return tuple(islice(self, *place.indices(len(self))))
        return next(islice(self, range(len(self))[place], None))


class UnreadableTable(Exception):
    """A table that cannot be read: the row, 0 for the table as a whole, and what is wrong with it."""

    def __init__(self, row: int, what: str) -> None:
        super().__init__(what)
        self.row, self.what = row, what


def read_table(content: bytes, header_words: Callable[[list[str]], int]) -> CsvTable:
    """Read a table; `header_words` counts the known names in a row, which decides the separator.

    Raises UnreadableTable.
    """
    encoding = _encoding(content)
    text = io.TextIOWrapper(io.BytesIO(content), encoding=encoding, newline="").read(_HEADER_LENGTH)
    declared = _declared_separator(text)
    table = CsvTable(content, declared or _separator(text, header_words), encoding, 1 if declared else 0)
    return replace(table, filled_rows=_count_readable(table))


def _encoding(content: bytes) -> str:
    if content.startswith(_BYTE_ORDER_MARKS):
        return _checked_encoding(content, "utf-16", "is damaged UTF-16 text; save it as CSV UTF-8")
    if b"\0" in content[:1000]:
        raise UnreadableTable(0, "is not UTF-8 text (it looks like UTF-16 without its mark); save it as CSV UTF-8")
    if _first_undecoded(content, "utf-8") is None:
        return "utf-8-sig"
    return _checked_encoding(content, WESTERN, "is neither UTF-8 nor Windows-1252 text; save it as CSV UTF-8")


def _checked_encoding(content: bytes, encoding: str, otherwise: str) -> str:
    wrong = _first_undecoded(content, encoding)
    if wrong is not None:
        raise UnreadableTable(content.count(b"\n", 0, wrong) + 1, otherwise)
    return encoding


def _first_undecoded(content: bytes, encoding: str) -> int | None:
    """The place of the first byte that is no text in the encoding; block by block, so that the text is not in memory."""
    decoder = codecs.getincrementaldecoder(encoding)()
    for start in range(0, len(content), _BLOCK):
        kept = len(decoder.getstate()[0])
        try:
            decoder.decode(content[start : start + _BLOCK], final=start + _BLOCK >= len(content))
        except UnicodeDecodeError as error:
            return start - kept + error.start
    return None


def _declared_separator(text: str) -> str:
    """The separator that a spreadsheet declared in a first line of its own (`sep=;`), or an empty text."""
    found = re.match(r'"?sep=([,;\t])"?\r?\n', text)
    return found.group(1) if found else ""


def _separator(text: str, header_words: Callable[[list[str]], int]) -> str:
    """The sign that cuts the first rows into the most known names, then into the most parts; a comma when none does."""
    lines = text.lstrip("\r\n").splitlines()[:10] or [""]

    def known_names(sign: str) -> int:
        return max(header_words([part.strip().strip('"') for part in line.split(sign)]) for line in lines)

    return max(SEPARATORS, key=lambda sign: (known_names(sign), max(line.count(sign) for line in lines)))


def _count_readable(table: CsvTable) -> int:
    """How many rows below the first are not blank; raises UnreadableTable when one cannot be read."""
    number, filled = 0, 0
    try:
        for number, row in enumerate(table, start=1):
            filled += number > 1 and not "".join(row).isspace() and any(row)
            if number > size_limits.TABLE_ROWS + 1:
                raise UnreadableTable(0, f"has more than {size_limits.TABLE_ROWS:,} rows; split it")
            if len(row) > size_limits.COLUMNS and any(cell.strip() for cell in row[size_limits.COLUMNS :]):
                raise UnreadableTable(number, f"has more than {size_limits.COLUMNS} columns")
    except csv.Error as error:
        raise UnreadableTable(
            number + 1, f"cannot be read as a CSV table ({error}); look for a stray quotation mark"
        ) from error
    return filled
