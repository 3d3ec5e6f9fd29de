"""A table as a native table on a slide: three horizontal rules, no vertical one, no style of anybody's."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from pptx.dml.color import RGBColor
from pptx.enum.text import MSO_ANCHOR, PP_ALIGN
from pptx.oxml.ns import qn
from pptx.util import Emu, Pt

from outcomes.report.tables.model import Table
from outcomes.report.tables.print_layout import widths
from outcomes.report.text_layout import OFFICE, lines_of
from outcomes.report.traced_text import plain

FACE = "Arial"
PLAIN_STYLE = "{2D5ABB26-0587-4C30-8999-92F81FD0307C}"  # the open format's own name for a table without style or grid
INK = RGBColor(0x22, 0x22, 0x22)  # type: ignore[no-untyped-call]
RULE, THIN = 19050, 9525
LINE, PAD = 1.22, 0.06  # height of a line in parts of its letters; inches above and below a cell's text
POINTS_IN_INCH = 72
SIZES = (24, 22, 20, 18)
LEAST = SIZES[-1]
"""No letter on a slide is smaller; a table that does not fit goes on over the next slide."""


@dataclass(frozen=True)
class Area:
    """A place on a slide, in inches."""

    left: float
    top: float
    width: float
    height: float


def add_slide_table(slide: Any, table: Table, area: Area) -> float:  # noqa: ANN401 - the library's own slide
    """Add the table in the largest letters with which it fits the place, and give its height in inches."""
    size, heights = _fitted(table, area)
    lines = _lines(table)
    frame = slide.shapes.add_table(
        len(lines),
        len(table.columns),
        *(round(part * 914400) for part in (area.left, area.top, area.width, sum(heights))),
    )
    frame.name = f"table {table.id}"
    grid = frame.table
    _bare(grid)
    for number, width in enumerate(_inches(table, area)):
        grid.columns[number].width = Emu(round(width * 914400))
    for number, height in enumerate(heights):
        grid.rows[number].height = Emu(round(height * 914400))
    for number, line in enumerate(lines):
        _fill_row(grid, number, line, table, size)
    _rules(grid, table, lines)
    return sum(heights)


def in_parts(table: Table, area: Area) -> tuple[Table, ...]:
    """The table in as many even parts as it needs to fit the place in letters that can be read."""
    for parts in range(1, len(table.rows) + 1):
        size = math.ceil(len(table.rows) / parts)
        held = [replace(table, rows=table.rows[at : at + size]) for at in range(0, len(table.rows), size)]
        if all(_height_of(part, area, LEAST) <= area.height for part in held):
            break
    return tuple(held)


def _spanner_lines(table: Table, area: Area, size: float) -> int:
    across, at, most = _inches(table, area), 0, 1
    for name, width in table.spanners:
        most = max(most, lines_of(name, _room(sum(across[at : at + width])), OFFICE * size))
        at += width
    return most


def _height_of(table: Table, area: Area, size: float) -> float:
    return sum(_height(cells, kind, table, area, size) for kind, cells in _lines(table))


Line = tuple[str, tuple[str, ...]]  # spanner, heading, band or row; and its cells


def _lines(table: Table) -> list[Line]:
    lines: list[Line] = []
    if table.spanners:
        lines.append(("spanner", tuple(text for name, width in table.spanners for text in (name, *[""] * (width - 1)))))
    lines.append(("heading", tuple(column.label for column in table.columns)))
    for band, rows in table.bands:
        if band:
            lines.append(("band", (band, *[""] * (len(table.columns) - 1))))
        lines.extend(("row", tuple(plain(cell) for cell in row.cells)) for row in rows)
    return lines


def _inches(table: Table, area: Area) -> list[float]:
    return [share * area.width for share in widths(table)]


def _fitted(table: Table, area: Area) -> tuple[int, list[float]]:
    """The largest size at which the estimated heights fit and no number is broken, or the smallest of all."""
    for size in SIZES:
        heights = [_height(cells, kind, table, area, size) for kind, cells in _lines(table)]
        if sum(heights) <= area.height and (size == LEAST or not _breaks_numbers(table, area, size)):
            break
    return size, heights


def _breaks_numbers(table: Table, area: Area, size: float) -> bool:
    """Tell whether any cell of numbers would take two lines."""
    across = _inches(table, area)
    return any(
        lines_of(plain(cell), _room(width), OFFICE * size) > 1
        for row in table.rows
        for (column, cell), width in zip(row.filled(table.columns), across, strict=True)
        if column.align == "right"
    )


def _room(width: float) -> float:
    """The width of a line in a cell, in points."""
    return (width - 0.14) * POINTS_IN_INCH


def _height(cells: Sequence[str], kind: str, table: Table, area: Area, size: float) -> float:
    most = 1
    if kind == "spanner":
        most = _spanner_lines(table, area, size)
    if kind in {"heading", "row"}:
        across = _inches(table, area)
        most = max(lines_of(text, _room(width), OFFICE * size) for text, width in zip(cells, across, strict=True))
    return most * size * LINE / 72 + 2 * PAD


def _fill_row(grid: Any, number: int, line: Line, table: Table, size: float) -> None:  # noqa: ANN401 - the library's own table
    kind, cells = line
    for at, text in enumerate(cells):
        right = table.columns[at].align == "right" and kind in {"heading", "row"}
        _fill(grid.cell(number, at), text, size, bold=kind != "row", right=right)
    if kind == "band":
        grid.cell(number, 0).merge(grid.cell(number, len(cells) - 1))
    if kind == "spanner":
        at = 0
        for _, width in table.spanners:
            if width > 1:
                grid.cell(number, at).merge(grid.cell(number, at + width - 1))
                grid.cell(number, at).text_frame.paragraphs[0].alignment = PP_ALIGN.CENTER
            at += width


def _fill(cell: Any, text: str, size: float, *, bold: bool, right: bool) -> None:  # noqa: ANN401 - the library's own cell
    cell.margin_left = cell.margin_right = Emu(64008)
    cell.margin_top = cell.margin_bottom = Emu(round(PAD * 0.8 * 914400))
    cell.vertical_anchor = MSO_ANCHOR.BOTTOM if bold else MSO_ANCHOR.TOP
    paragraph = cell.text_frame.paragraphs[0]
    paragraph.alignment = PP_ALIGN.RIGHT if right else PP_ALIGN.LEFT
    run = paragraph.add_run()
    run.text, run.font.size, run.font.bold, run.font.name = text, Pt(size), bold, FACE
    run.font.color.rgb = INK


def _bare(grid: Any) -> None:  # noqa: ANN401 - the library's own table
    held = grid._tbl.tblPr  # noqa: SLF001 - the library has no way of its own
    for name in ("firstRow", "bandRow"):
        held.attrib.pop(name, None)
    held.set("firstRow", "1")
    style = held.find(qn("a:tableStyleId"))
    if style is not None:
        style.text = PLAIN_STYLE


def _rules(grid: Any, table: Table, lines: list[Line]) -> None:  # noqa: ANN401 - the library's own table
    heading = 1 if table.spanners else 0
    for at in range(len(table.columns)):
        _edge(grid.cell(0, at), "a:lnT", RULE)
        _edge(grid.cell(heading, at), "a:lnB", THIN)
        _edge(grid.cell(len(lines) - 1, at), "a:lnB", RULE)


def _edge(cell: Any, side: str, width: int) -> None:  # noqa: ANN401 - the library's own cell
    held = cell._tc.get_or_add_tcPr()  # noqa: SLF001 - the library has no way of its own
    edge = held.makeelement(qn(side), {"w": str(width), "cap": "flat", "cmpd": "sng", "algn": "ctr"})
    fill = edge.makeelement(qn("a:solidFill"), {})
    colour = fill.makeelement(qn("a:srgbClr"), {"val": "222222"})
    fill.append(colour)
    edge.append(fill)
    order = ("a:lnL", "a:lnR", "a:lnT", "a:lnB")
    later = [child for child in held if child.tag not in {qn(name) for name in order[: order.index(side) + 1]}]
    (later[0].addprevious if later else held.append)(edge)
