"""Read the known sheets of a workbook, failed formulas included.

The spreadsheet library reads a failed formula, and one that was never calculated, as a blank cell, which would mean not
recorded. Both are located in the package beforehand and put back, so that they are refused.
"""

from __future__ import annotations

import io
from typing import Any

from outcomes.capture.raw_sheets import Cell, RawSheets, SheetForm, raw_sheet
from outcomes.capture.sheet_names import IGNORED, name_problems, plain_name
from outcomes.capture.xlsx_guard import SheetSurvey, survey
from outcomes.errors import DataRefused, Problem
from outcomes.protocol import SHEETS

DAMAGED = "cannot be read as a workbook: it is damaged; open it in the spreadsheet program and save it again"


def read_workbook(name: str, content: bytes) -> RawSheets:
    """Read every known sheet of a workbook; raises DataRefused when it cannot be opened safely."""
    wanted = {*SHEETS}
    surveys = survey(name, content, lambda sheet: plain_name(sheet) in wanted)
    sheets, problems = (
        [],
        name_problems(name, [each.name for each in surveys if plain_name(each.name) not in IGNORED], "sheet"),
    )
    read = {plain_name(each.name): each for each in reversed(surveys) if plain_name(each.name) in wanted}
    grids = _grids(name, content, [each.name for each in read.values() if not each.too_large])
    for sheet in SHEETS:
        found = read.get(sheet)
        if found is None:
            continue
        problems.extend(_sheet_problems(sheet, found))
        if not found.too_large:
            grid = _with_failed_formulas(grids[found.name], found)
            sheets.append(raw_sheet(sheet, grid, SheetForm(decimal_comma=True)))
    return RawSheets(name, tuple(sheets), tuple(problems))


def read_grids(name: str, content: bytes) -> list[tuple[SheetSurvey, list[list[Cell]]]]:
    """Every sheet of a workbook of another form, with its cells; raises DataRefused when it cannot be opened safely."""
    surveys = survey(name, content, lambda _: True)
    grids = _grids(name, content, [each.name for each in surveys if not each.too_large])
    return [(each, _with_failed_formulas(grids.get(each.name, []), each)) for each in surveys]


def _grids(name: str, content: bytes, wanted: list[str]) -> dict[str, list[list[Cell]]]:
    import python_calamine

    try:
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(content))
        return {each: _grid(book.get_sheet_by_name(each).to_python(skip_empty_area=False)) for each in wanted}
    except (KeyboardInterrupt, SystemExit):
        raise
    except BaseException as error:  # the library panics on some damaged files, and a panic is no Exception
        raise DataRefused(f"{name} {DAMAGED}", []) from error


def _grid(rows: list[list[Any]]) -> list[list[Cell]]:
    return rows


def _with_failed_formulas(grid: list[list[Cell]], found: SheetSurvey) -> list[list[Cell]]:
    for (row, column), text in found.unread.items():
        if row >= len(grid):
            grid.extend([] for _ in range(row + 1 - len(grid)))
        grid[row].extend([""] * (column + 1 - len(grid[row])))
        grid[row][column] = text
    return grid


def _sheet_problems(sheet: str, found: SheetSurvey) -> list[Problem]:
    problems = [Problem(sheet, 0, "", found.too_large)] if found.too_large else []
    problems.extend(
        Problem(
            sheet, row, "", f"the cells {cells} are merged, and only the first keeps a value; unmerge and fill each"
        )
        for row, cells in found.merged
    )
    return problems
