"""A table as a native table of a word processor, and documents in our own plain style.

Native cells, a heading that is repeated on every page, three horizontal rules and no vertical one, notes beneath, and the stamp
at the foot of every page. The file is the same byte for byte for the same table.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import Any

from docx import Document
from docx.document import Document as Paper
from docx.enum.section import WD_ORIENT
from docx.enum.table import WD_TABLE_ALIGNMENT
from docx.enum.text import WD_ALIGN_PARAGRAPH
from docx.oxml import OxmlElement, parse_xml
from docx.oxml.ns import nsdecls, qn
from docx.shared import Emu, Mm, Pt, RGBColor
from docx.table import _Cell, _Row
from docx.text.paragraph import Paragraph

from outcomes.findings.results import Stamp
from outcomes.report.office_text import FACE
from outcomes.report.stamp import stamp_line
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.tables.print_layout import (
    Room,
    crowded,
    decimals,
    described,
    fitted_widths,
    squeezed_widths,
    unbroken,
)
from outcomes.report.tables.reproducible_zip import as_property, noon, written_again
from outcomes.report.traced_text import Phrase, plain

PORTRAIT_MM, LANDSCAPE_MM, MARGIN_MM = 210, 297, 18
WIDE, LONG = 6, 40
SIZES, LEAST_UPRIGHT = (9.5, 9.0, 8.5, 8.0, 7.5, 7.0, 6.5), 8.5
LONGEST = SIZES[1:]  # a long table begins smaller
EMU_IN_TWIP, EMU_IN_POINT = 635, 12700
POINTS_IN_MM = 72 / 25.4
DIGIT = 0.56  # the width of a digit in parts of its size
GUTTER = 6  # the room of a cell to its left and right, in points
RULE, THIN = 8, 4
LANGUAGE = "en-GB"
GAP = re.compile(r"(\[AUTHOR: [^\]]*\])")
QUIET = RGBColor(0x5C, 0x5C, 0x5C)


def write_word(table: Table, path: Path, stamp: Stamp) -> Path:
    """Write the table as one document, across the page where it is wide; after a failure the file may be incomplete."""
    paper = new_paper(stamp, table.heading, landscape=not _upright(table))
    add_table(paper, table)
    paper.save(str(path))
    return written_again(path)


def new_paper(stamp: Stamp, title: str, *, landscape: bool = False) -> Paper:
    """An empty document in our own plain style, stamped at the foot and in its properties."""
    paper = Document()
    style: Any = paper.styles["Normal"]
    style.font.name, style.font.size = FACE, Pt(10)
    style.element.rPr.rFonts.set(qn("w:eastAsia"), FACE)
    for language in paper.styles.element.iter(qn("w:lang")):
        language.set(qn("w:val"), LANGUAGE)
    for level in (1, 2):
        heading: Any = paper.styles[f"Heading {level}"]
        heading.font.name, heading.font.size, heading.font.bold = FACE, Pt(15 - 2 * level), True
        heading.font.color.rgb = RGBColor(0x22, 0x22, 0x22)
        heading.element.rPr.rFonts.set(qn("w:asciiTheme"), FACE)
        for name in ("asciiTheme", "hAnsiTheme", "eastAsiaTheme", "cstheme"):
            heading.element.rPr.rFonts.attrib.pop(qn(f"w:{name}"), None)
    section = paper.sections[0]
    _shape(section, landscape=landscape)
    line = stamp_line(stamp)
    _plain(section.footer.paragraphs[0], line, 7)
    held = paper.core_properties
    held.title, held.author, held.comments = as_property(title), "", as_property(line)
    held.created = held.modified = noon(stamp.as_of)
    held.last_modified_by, held.revision, held.language = "", 1, LANGUAGE
    return paper


def _shape(section: Any, *, landscape: bool) -> None:  # noqa: ANN401 - the library's own section
    section.orientation = WD_ORIENT.LANDSCAPE if landscape else WD_ORIENT.PORTRAIT
    width, height = (LANDSCAPE_MM, PORTRAIT_MM) if landscape else (PORTRAIT_MM, LANDSCAPE_MM)
    section.page_width, section.page_height = Mm(width), Mm(height)
    section.left_margin = section.right_margin = Mm(MARGIN_MM)
    section.top_margin = section.bottom_margin = Mm(MARGIN_MM)


def add_table(paper: Paper, table: Table) -> None:
    """Add the table with its title above and its notes beneath."""
    title = paper.add_paragraph()
    title.paragraph_format.keep_with_next = True
    _run(title, table.heading, 10.5).bold = True
    _grid(paper, table)
    for note in table.notes:
        beneath = paper.add_paragraph()
        _plain(beneath, plain(note), 8)
        beneath.paragraph_format.space_before = Pt(3)
    paper.add_paragraph()


def _grid(paper: Paper, table: Table) -> None:
    heads = 2 if table.spanners else 1
    section = paper.sections[-1]
    room = section.page_width - section.left_margin - section.right_margin  # type: ignore[operator]
    size, points = _fitted(table, room / EMU_IN_POINT)
    across = [int(width * EMU_IN_POINT) for width in points]
    grid = paper.add_table(rows=0, cols=len(table.columns))
    grid.alignment, grid.autofit = WD_TABLE_ALIGNMENT.LEFT, False
    for column, width in zip(grid.columns, across, strict=True):
        column.width = Emu(width)
    _margins(grid)
    _described(grid, table)
    lines = [_cells(grid.add_row(), across) for _ in range(heads)]
    if table.spanners:
        _spanners(lines[0], table, size)
    for cell, column in zip(lines[-1], table.columns, strict=True):
        _fill(cell, column.label, column, size, bold=True)
    tabs = [
        width - Pt(points * size * DIGIT + GUTTER) if points else 0
        for points, width in zip(decimals(table), across, strict=True)
    ]
    for band, rows in table.bands:
        if band:
            _band(_cells(grid.add_row(), across), band, size)
        for row in rows:
            grid._tbl.append(_row(table, row, size, across, tabs))  # noqa: SLF001 - the library has no way of its own
    for number, tr in enumerate(grid._tbl.tr_lst):  # noqa: SLF001 - the library has no way of its own
        _mark(tr, "w:cantSplit")
        if number < heads:
            _mark(tr, "w:tblHeader")
    _rules(lines[0], top=RULE)
    _rules(lines[heads - 1], bottom=THIN)
    _rules(list(grid.rows[-1].cells), bottom=RULE)


def _upright(table: Table) -> bool:
    """Tell whether the table stands on an upright page in letters that can be read."""
    size, _ = _fitted(table, (PORTRAIT_MM - 2 * MARGIN_MM) * POINTS_IN_MM)
    return len(table.columns) <= WIDE and size >= LEAST_UPRIGHT


def _fitted(table: Table, width: float) -> tuple[float, list[float]]:
    """The largest letters with which no word breaks and few cells do, and the widths of the columns, in points."""
    sizes = LONGEST if len(table.rows) > LONG else SIZES
    rooms = [Room(width, size, GUTTER) for size in sizes]
    held = next((room for room in rooms if fitted_widths(table, room) and not crowded(table, room)), rooms[-1])
    return held.size, fitted_widths(table, held) or squeezed_widths(table, held)


def _described(grid: Any, table: Table) -> None:  # noqa: ANN401 - the library's own table
    """Say what the table shows to those who cannot see it."""
    for name, words in (("w:tblCaption", table.heading), ("w:tblDescription", described(table))):
        element = OxmlElement(name)
        element.set(qn("w:val"), words)
        grid._tbl.tblPr.append(element)  # noqa: SLF001 - the library has no way of its own


def _cells(row: _Row, across: Sequence[int]) -> list[_Cell]:
    cells = list(row.cells)
    for cell, width in zip(cells, across, strict=True):
        cell.width = Emu(width)
    return cells


def _spanners(cells: list[_Cell], table: Table, size: float) -> None:
    at = 0
    for name, width in table.spanners:
        cell = cells[at].merge(cells[at + width - 1]) if width > 1 else cells[at]
        _fill(cell, name, Column("", "", "left"), size, bold=True)
        if name:
            cell.paragraphs[0].alignment = WD_ALIGN_PARAGRAPH.CENTER
            _edges(cell, bottom=THIN)
        at += width


def _band(cells: list[_Cell], name: str, size: float) -> None:
    cell = cells[0].merge(cells[-1])
    _fill(cell, name, Column("", ""), size, bold=True)
    cell.paragraphs[0].paragraph_format.keep_with_next = True


def _row(table: Table, held: Row, size: float, across: Sequence[int], tabs: Sequence[int]) -> Any:  # noqa: ANN401 - the library's own element
    """One row of the body as the library's own element; made at once, because a long table has thousands of cells.

    A tab is a decimal one: a word processor aligns a bare number of a cell at it without a tab being typed.
    """
    cells = "".join(
        _cell_text(unbroken(plain(phrase)), size, width, tab, right=column.align == "right")
        for (column, phrase), width, tab in zip(held.filled(table.columns), across, tabs, strict=True)
    )
    return parse_xml(f"<w:tr {nsdecls('w')}>{cells}</w:tr>")


def _cell_text(text: str, size: float, width: int, tab: int, *, right: bool) -> str:
    stop = f'<w:tabs><w:tab w:val="decimal" w:pos="{tab // EMU_IN_TWIP}"/></w:tabs>' if tab and right else ""
    side = "left" if stop or not right else "right"
    letters = f'<w:rPr><w:sz w:val="{round(2 * size)}"/></w:rPr><w:t xml:space="preserve">{escape(text)}</w:t>'
    return (
        f'<w:tc><w:tcPr><w:tcW w:w="{width // EMU_IN_TWIP}" w:type="dxa"/></w:tcPr><w:p><w:pPr>{stop}'
        f'<w:spacing w:before="0" w:after="0"/><w:jc w:val="{side}"/></w:pPr><w:r>{letters}</w:r></w:p></w:tc>'
    )


def _fill(cell: _Cell, text: str, column: Column, size: float, *, bold: bool = False) -> None:
    paragraph = cell.paragraphs[0]
    _plain(paragraph, text, size).bold = bold
    paragraph.alignment = WD_ALIGN_PARAGRAPH.RIGHT if column.align == "right" else WD_ALIGN_PARAGRAPH.LEFT


def _plain(paragraph: Paragraph, text: str, size: float) -> Any:  # noqa: ANN401 - the library's own run
    paragraph.paragraph_format.space_after = Pt(0)
    paragraph.paragraph_format.space_before = Pt(0)
    return _run(paragraph, text, size)


def _run(paragraph: Paragraph, text: str, size: float) -> Any:  # noqa: ANN401 - the library's own run
    run = paragraph.add_run(text)
    run.font.size = Pt(size)
    return run


def add_phrase(paper: Paper, phrase: Phrase, size: float = 10) -> Paragraph:
    """Add a paragraph with one phrase; a gap for the author is bold, so that none is overlooked."""
    paragraph = paper.add_paragraph()
    paragraph.paragraph_format.space_after = Pt(6)
    for part in filter(None, GAP.split(plain(phrase))):
        _run(paragraph, part, size).bold = bool(GAP.fullmatch(part))
    return paragraph


def _mark(tr: Any, name: str) -> None:  # noqa: ANN401 - the library's own element
    mark = OxmlElement(name)
    mark.set(qn("w:val"), "true")
    tr.get_or_add_trPr().append(mark)


def _rules(cells: list[_Cell], *, top: int = 0, bottom: int = 0) -> None:
    for cell in cells:
        _edges(cell, top=top, bottom=bottom)


def _edges(cell: _Cell, *, top: int = 0, bottom: int = 0) -> None:
    held = cell._tc.get_or_add_tcPr()  # noqa: SLF001 - the library has no way of its own
    borders = held.find(qn("w:tcBorders"))
    if borders is None:
        borders = OxmlElement("w:tcBorders")
        held.append(borders)
    for side, size in (("top", top), ("bottom", bottom)):
        if size:
            edge = OxmlElement(f"w:{side}")
            for name, value in (("val", "single"), ("sz", str(size)), ("space", "0"), ("color", "222222")):
                edge.set(qn(f"w:{name}"), value)
            borders.append(edge)


def _margins(grid: Any) -> None:  # noqa: ANN401 - the library's own table
    margins = OxmlElement("w:tblCellMar")
    for side, size in (("top", 25), ("left", 60), ("bottom", 25), ("right", 60)):
        edge = OxmlElement(f"w:{side}")
        edge.set(qn("w:w"), str(size))
        edge.set(qn("w:type"), "dxa")
        margins.append(edge)
    held = grid._tbl.tblPr  # noqa: SLF001 - the library has no way of its own
    look = held.find(qn("w:tblLook"))  # before which the open format has the margins
    held.append(margins) if look is None else look.addprevious(margins)
