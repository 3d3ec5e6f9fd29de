"""Read a folder of CSV tables with any of the usual separators and decimal signs."""

from __future__ import annotations

from pathlib import Path

from outcomes.capture import size_limits
from outcomes.capture.csv_table import CsvRows, UnreadableTable, read_table
from outcomes.capture.raw_sheets import RawSheet, RawSheets
from outcomes.capture.sheet_names import IGNORED, name_problems, plain_name
from outcomes.errors import DataRefused, Problem
from outcomes.protocol import SHEETS, Protocol


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
        if table.stat().st_size > size_limits.TABLE_BYTES:
            return Problem(name, 0, "", f"is larger than {size_limits.TABLE_BYTES // 1_000_000} MB; split it")
        content = table.read_bytes()
    except OSError as error:
        return Problem(name, 0, "", f"cannot be read: {error.strerror}")
    try:
        read = read_table(content, lambda names: sum(plain_name(each) in known for each in names))
    except UnreadableTable as unreadable:
        return Problem(name, unreadable.row, "", unreadable.what)
    return RawSheet(name, read.header, CsvRows(read), read.form)
