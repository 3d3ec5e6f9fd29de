"""Write sheets back as a workbook in which each faulty cell is coloured and carries its remedy as a note."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from outcomes.capture.columns import check_columns
from outcomes.capture.raw_sheets import Cell, RawSheet, RawSheets, is_blank
from outcomes.capture.template import TemplateBook, write_rule
from outcomes.errors import OutcomesError, Problem
from outcomes.protocol import Protocol

if TYPE_CHECKING:
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

_MARK = {"bg_color": "#F7C6C0", "border": 1, "border_color": "#B3261E"}
_FORMATS: dict[str, dict[str, Any]] = {
    "text": {"num_format": "@"},
    "date": {"num_format": "yyyy-mm-dd"},
    "moment": {"num_format": "yyyy-mm-dd hh:mm"},
    "span": {"num_format": "[hh]:mm:ss"},
    "plain": {},
}


def write_marked(path: Path, raw: RawSheets, problems: Sequence[Problem], protocol: Protocol) -> int:
    """Write the sheets as they were read, their faulty cells marked, and give the number of marked cells.

    Every cell keeps its place. Raises OutcomesError when a file is there already or cannot be written.
    """
    import xlsxwriter

    if path.exists():
        raise OutcomesError(f"{path} is there already; choose another name or move it away")
    try:
        book = xlsxwriter.Workbook(str(path))
        formats = {name: book.add_format(look) for name, look in _FORMATS.items()}
        formats |= {f"{name} marked": book.add_format({**look, **_MARK}) for name, look in _FORMATS.items()}
        output = TemplateBook(book, tuple(sheet.name for sheet in raw.sheets))
        marked = 0
        for sheet in raw.sheets:
            notes = _notes([each for each in problems if each.sheet == sheet.name])
            _write_sheet(output, formats, sheet, notes, protocol)
            marked += len(notes)
        output.lists.hide()
        book.close()
    except (OSError, xlsxwriter.exceptions.XlsxWriterException) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise OutcomesError(f"the marked workbook cannot be written to {path}: {reason}") from error
    return marked


def _notes(problems: Sequence[Problem]) -> dict[tuple[int, int], str]:
    """What to write beside each cell, by its row and column from 0; a problem of a whole row goes to its first cell."""
    notes: dict[tuple[int, int], list[str]] = {}
    for problem in problems:
        place = max(problem.row - 1, 0), max(problem.column - 1, 0)
        notes.setdefault(place, []).append(f"{problem.field}: {problem.what}" if problem.field else problem.what)
    return {place: "\n".join(texts) for place, texts in notes.items()}


def _write_sheet(
    output: TemplateBook,
    formats: dict[str, Format],
    sheet: RawSheet,
    notes: dict[tuple[int, int], str],
    protocol: Protocol,
) -> None:
    page = output.sheets[sheet.name]
    fields = check_columns(sheet, protocol).fields
    for column, field in fields.items():
        write_rule(output, page, column, field)
    cells = {(0, column): cell for column, cell in enumerate(sheet.header)}
    cells |= {(row - 1, column): cell for row, values in sheet.rows for column, cell in enumerate(values)}
    for place in sorted({*cells, *notes}):
        _write_cell(page, place, cells.get(place), formats, " marked" if place in notes else "")
    for (row, column), text in notes.items():
        lines = 1 + len(text) // 45 + text.count("\n")
        page.write_comment(row, column, text, {"author": "outcomes", "width": 330, "height": 30 + 18 * lines})
    page.freeze_panes(1, 1)
    page.set_column(0, max(len(sheet.header), 1), 16)


def _write_cell(page: Worksheet, place: tuple[int, int], cell: Cell, formats: dict[str, Format], mark: str) -> None:
    row, column = place
    if is_blank(cell):
        page.write_blank(row, column, None, formats["plain" + mark])
    elif isinstance(cell, bool):
        page.write_boolean(row, column, cell, formats["plain" + mark])
    elif isinstance(cell, int | float):
        page.write_number(row, column, cell, formats["plain" + mark])
    elif isinstance(cell, time | timedelta):
        page.write_datetime(row, column, cell, formats["span" + mark])
    elif isinstance(cell, date):
        is_moment = isinstance(cell, datetime) and cell.time() != time.min
        page.write_datetime(row, column, cell, formats[("moment" if is_moment else "date") + mark])
    else:
        page.write_string(row, column, str(cell), formats["text" + mark])
