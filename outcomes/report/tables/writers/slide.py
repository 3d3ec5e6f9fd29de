"""A table as a native table on a slide: three horizontal rules, no vertical one, no style of anybody's."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from pptx.dml.color import RGBColor
from pptx.enum.lang import MSO_LANGUAGE_ID
from pptx.enum.text import MSO_ANCHOR, PP_ALIGN
from pptx.oxml.ns import qn
from pptx.util import Emu, Pt

from outcomes.report.office_text import FACE, Weight, office_lines
from outcomes.report.tables.model import Table
from outcomes.report.tables.print_layout import Room, described, fitted_widths, squeezed_widths, unbroken
from outcomes.report.traced_text import plain

PLAIN_STYLE = "{2D5ABB26-0587-4C30-8999-92F81FD0307C}"  # the open format's own name for a table without style or grid
INK = RGBColor(0x22, 0x22, 0x22)  # type: ignore[no-untyped-call]
RULE, THIN = 19050, 9525
LINE = 1.22  # height of a line in parts of its letters
PAD, SIDE = 0.06, 0.07  # inches above and below, and beside, a cell's text
POINTS_IN_INCH, EMU_IN_INCH = 72, 914400
SIZES = (26, 24, 22, 20, 18)
LEAST = SIZES[-1]
"""No letter on a slide is smaller; a table that does not fit goes on over the next slide."""
HAIR = 1e-6  # inches, for rounding
MOST_AIR = 0.22
"""By how many inches a row is made higher, at most, where the table would leave its place empty."""


@dataclass(frozen=True)
class Area:
    """A place on a slide, in inches."""

    left: float
    top: float
    width: float
    height: float

    def below(self, height: float) -> Area:
        """What is left of the place under something of this height."""
        return Area(self.left, self.top + height, self.width, self.height - height)


@dataclass(frozen=True)
class Layout:
    """A table laid out on a slide: its size of letters, the widths of its columns and the heights of its lines, in inches."""

    size: float
    across: tuple[float, ...]
    heights: tuple[float, ...]

    @property
    def height(self) -> float:
        """The height of the whole table."""
        return sum(self.heights)


def add_slide_table(slide: Any, table: Table, area: Area, *, message: str) -> None:  # noqa: ANN401 - the library's own slide
    """Add the table in the largest letters with which it fits the place; rows have air where there is room for it."""
    laid = laid_out(table, area)
    lines = _lines(table)
    frame = slide.shapes.add_table(
        len(lines), len(table.columns), *map(_emu, (area.left, area.top, area.width, laid.height))
    )
    frame.name = f"table {table.id}"
    frame._element.nvGraphicFramePr.cNvPr.set("descr", f"{message}. {described(table)}")  # noqa: SLF001 - the library has no way of its own
    grid = frame.table
    _bare(grid)
    for number, width in enumerate(laid.across):
        grid.columns[number].width = Emu(_emu(width))
    for number, height in enumerate(laid.heights):
        grid.rows[number].height = Emu(_emu(height))
    for number, line in enumerate(lines):
        _fill_row(grid, number, line, table, laid.size)
    _rules(grid, table, lines)


def _emu(inches: float) -> int:
    return round(inches * EMU_IN_INCH)


def in_parts(table: Table, area: Area) -> tuple[Table, ...]:
    """The table in as many even parts as it needs to fit the place in letters that can be read."""
    for parts in range(1, len(table.rows) + 1):
        size = math.ceil(len(table.rows) / parts)
        held = [replace(table, rows=table.rows[at : at + size]) for at in range(0, len(table.rows), size)]
        if all(laid_out(part, area).height <= area.height + HAIR for part in held):
            break
    return tuple(held)


def laid_out(table: Table, area: Area) -> Layout:
    """The largest letters with which no word is broken and the table fits its place, or the smallest of all."""
    rooms = [Room(area.width * POINTS_IN_INCH, size, 2 * SIDE * POINTS_IN_INCH) for size in SIZES]
    tried = [(room.size, across) for room in rooms if (across := fitted_widths(table, room))]
    for size, points in tried or [(LEAST, squeezed_widths(table, rooms[-1]))]:
        across = [each / POINTS_IN_INCH for each in points]
        heights = [_height(line, table, across, size) for line in _lines(table)]
        if sum(heights) <= area.height:
            break
    air = max(min((area.height - sum(heights)) / len(heights), MOST_AIR), 0)
    return Layout(size, tuple(across), tuple(height + air for height in heights))


Line = tuple[str, tuple[str, ...]]  # spanner, heading, band or row; and its cells


def _lines(table: Table) -> list[Line]:
    lines: list[Line] = []
    if table.spanners:
        lines.append(("spanner", tuple(text for name, width in table.spanners for text in (name, *[""] * (width - 1)))))
    lines.append(("heading", tuple(column.label for column in table.columns)))
    for band, rows in table.bands:
        if band:
            lines.append(("band", (band, *[""] * (len(table.columns) - 1))))
        lines.extend(("row", tuple(unbroken(plain(cell)) for cell in row.cells)) for row in rows)
    return lines


def _weight(kind: str) -> Weight:
    return "regular" if kind == "row" else "bold"


def _height(line: Line, table: Table, across: Sequence[float], size: float) -> float:
    kind, cells = line
    if kind == "band":
        rooms = [sum(across)] * len(cells)
    elif kind == "spanner":
        rooms = _spanner_rooms(table, across)
    else:
        rooms = list(across)
    most = max(
        office_lines(text, (room - 2 * SIDE) * POINTS_IN_INCH, size, _weight(kind)) if text else 1
        for text, room in zip(cells, rooms, strict=True)
    )
    return most * size * LINE / POINTS_IN_INCH + 2 * PAD


def _spanner_rooms(table: Table, across: Sequence[float]) -> list[float]:
    rooms: list[float] = []
    for _, width in table.spanners:
        rooms.extend([sum(across[len(rooms) : len(rooms) + width])] * width)
    return rooms


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
    cell.margin_left = cell.margin_right = Emu(_emu(SIDE))
    cell.margin_top = cell.margin_bottom = Emu(_emu(PAD * 0.8))
    cell.vertical_anchor = MSO_ANCHOR.BOTTOM if bold else MSO_ANCHOR.MIDDLE
    paragraph = cell.text_frame.paragraphs[0]
    paragraph.alignment = PP_ALIGN.RIGHT if right else PP_ALIGN.LEFT
    run = paragraph.add_run()
    run.text, run.font.size, run.font.bold, run.font.name = text, Pt(size), bold, FACE
    run.font.color.rgb, run.font.language_id = INK, MSO_LANGUAGE_ID.ENGLISH_UK


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
