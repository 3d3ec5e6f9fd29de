"""Read a folder of CSV tables with any of the usual separators and decimal signs."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

from outcomes.capture import size_limits
from outcomes.capture.raw_sheets import Cell, RawSheet, RawSheets, raw_sheet
from outcomes.capture.sheet_names import IGNORED, name_problems, plain_name
from outcomes.errors import DataRefused, Problem
from outcomes.protocol import SHEETS, Protocol

_SEPARATORS = (",", ";", "\t")
_WIDE_ENCODINGS = (b"\xff\xfe", b"\xfe\xff")


def tables_of(folder: Path) -> list[Path]:
    """The CSV tables of the folder in order of name; hidden files are passed over."""
    try:
        found = [each for each in folder.iterdir() if each.suffix.lower() == ".csv" and not each.name.startswith(".")]
    except OSError as error:
        raise DataRefused(f"the folder {folder} cannot be read: {error.strerror}", []) from error
    return sorted(found, key=lambda each: each.name)


def read_folder(folder: Path, protocol: Protocol) -> RawSheets:
    """Read every known table of the folder; raises DataRefused when one cannot be read."""
    tables = tables_of(folder)
    if not tables:
        raise DataRefused(
            f"the folder {folder} holds no CSV table; wanted: {', '.join(f'{s}.csv' for s in SHEETS)}", []
        )
    problems = name_problems(folder.name, [table.stem for table in tables], "table")
    wanted = {plain_name(table.stem): table for table in reversed(tables) if plain_name(table.stem) not in IGNORED}
    sheets: list[RawSheet] = []
    unread: list[Problem] = []
    for name in SHEETS:
        if name in wanted:
            read = _read_table(wanted[name], name, {field.id for field in protocol.sheet(name)})
            if isinstance(read, Problem):
                unread.append(read)
            else:
                sheets.append(read)
    return RawSheets(folder.name, tuple(sheets), (*problems, *unread))


def _read_table(table: Path, name: str, known: set[str]) -> RawSheet | Problem:
    try:
        if table.stat().st_size > size_limits.FILE_BYTES:
            return Problem(name, 0, "", f"is larger than {size_limits.FILE_BYTES // 1_000_000} MB; split it")
        content = table.read_bytes()
    except OSError as error:
        return Problem(name, 0, "", f"cannot be read: {error.strerror}")
    text = _text(content)
    if isinstance(text, Problem):
        return Problem(name, text.row, "", text.what)
    text, separator = _declared_separator(text) or (text, _separator(text, known))
    grid = _grid(text, separator)
    if isinstance(grid, Problem):
        return Problem(name, grid.row, "", grid.what)
    return raw_sheet(name, grid, decimal_comma=separator != ",")


def _text(content: bytes) -> str | Problem:
    if content.startswith(_WIDE_ENCODINGS) or b"\0" in content[:1000]:
        return Problem("", 0, "", "is not UTF-8 text (it looks like UTF-16); save it as CSV UTF-8")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = content.count(b"\n", 0, error.start) + 1
        return Problem(
            "", row, "", f"is not UTF-8 text (byte {content[error.start]:#04x}); save the table as CSV UTF-8"
        )


def _declared_separator(text: str) -> tuple[str, str] | None:
    """The separator that a spreadsheet said in a first line of its own (`sep=;`), and the text below that line."""
    found = re.match(r'"?sep=([,;\t])"?\r?\n', text)
    return (text[found.end() :], found.group(1)) if found else None


def _separator(text: str, known: set[str]) -> str:
    """The sign that cuts the first row into the most known field names; a comma when none cuts it."""
    first = text.lstrip("\r\n")[:100_000].splitlines()[:1] or [""]

    def matched(sign: str) -> int:
        return sum(plain_name(part.strip().strip('"')) in known for part in first[0].split(sign))

    def cut(sign: str) -> int:
        return first[0].count(sign)

    return max(_SEPARATORS, key=lambda sign: (matched(sign), cut(sign)))


def _grid(text: str, separator: str) -> list[list[Cell]] | Problem:
    grid: list[list[Cell]] = []
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        for row in lines:
            grid.append(list(row))
            if len(grid) > size_limits.ROWS + 1:
                return Problem("", 0, "", f"has more than {size_limits.ROWS:,} rows; split it")
            if len(row) > size_limits.COLUMNS and any(cell.strip() for cell in row[size_limits.COLUMNS :]):
                return Problem("", len(grid), "", f"has more than {size_limits.COLUMNS} columns")
    except csv.Error as error:
        return Problem(
            "", len(grid) + 1, "", f"cannot be read as a CSV table ({error}); look for a stray quotation mark"
        )
    return grid
