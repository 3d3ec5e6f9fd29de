"""Every format of a table holds every cell, whatever is written in it, when it is read back by another program."""

import csv
import html
import re
from dataclasses import replace
from datetime import date

import pytest
from docx import Document
from lxml import etree

from outcomes.findings.results import Stamp
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.tables.writers.registry import FORMATS, write_table
from outcomes.report.traced_text import Figure
from tests.report.pack.reading import unescaped

STAMP = Stamp(5, "0123456789ab", "spring", date(2026, 6, 30), "outcomes 0", "default", "fedcba987654", ())


def read_html(path):
    page = etree.fromstring(path.read_bytes().split(b">", 1)[1], etree.HTMLParser(encoding="utf-8"))
    return [["".join(cell.itertext()) for cell in row.iter("td", "th")] for row in page.iter("tr")]


def read_word(path):
    (grid,) = Document(str(path)).tables
    return [list(dict.fromkeys((cell._tc, cell.text) for cell in row.cells)) for row in grid.rows]


def read_latex(path):
    rows = []
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.endswith(r"\\") and not line.startswith(r"\caption"):
            cells = re.split(r"(?<!\\)&", line.removesuffix(r"\\"))
            rows.append(
                [freed(re.sub(r"\\multicolumn\{\d+\}\{(?:@\{\})?\w\}\{|\\textbf\{", "", cell)) for cell in cells]
            )
    return rows


def freed(cell):
    for written, read in ((r"\textbackslash{}", "\0"), (r"\textasciitilde{}", "~\1"), (r"\textasciicircum{}", "^")):
        cell = cell.replace(written, read)
    cell = cell.replace("~\1", "\1").replace(r"\{", "\2").replace(r"\}", "\3")
    return unescaped(cell).rstrip("} ").replace("\0", "\\").replace("\1", "~").replace("\2", "{").replace("\3", "}")


def read_csv(path):
    with path.open(encoding="utf-8-sig", newline="") as file:
        return [[re.sub(r"^'(?=[=+\-@\t\r])", "", cell) for cell in row] for row in csv.reader(file)]


READERS = {
    "html": read_html,
    "docx": lambda path: [[text for _, text in row] for row in read_word(path)],
    "tex": read_latex,
    "csv": read_csv,
}


def test_every_format_has_a_reader_here():
    assert set(READERS) == {each.ending for each in FORMATS}


def same(text):
    """A text without what the formats write differently: kinds of minus, dash, space and quotation mark."""
    for written, read in (("\u2212", "-"), ("--", "\u2013"), ("''", '"'), ("\u00a0", " "), ("\u2003", " ")):
        text = text.replace(written, read)
    return " ".join(text.split())


NORMAL = (
    ("Lid margin position, mm", "5.50 (0.91), n\u00a0=\u00a053", "+0.05 (\u22120.37 to +0.47)", "0.82"),
    ("Colour mismatch, grades", "1.08 (0.73), n\u00a0=\u00a053", "\u22120.70 (\u22121.06 to \u22120.34)", "<0.001"),
    ("Lash loss, %", "66.0 (17.6), n\u00a0=\u00a052", "\u2013", "50%"),
)
HOSTILE = (
    ("=1+1", "+44", "-5", "@sum"),
    ("<b>bold</b> & &amp; &#60;", "<script>alert(1)</script>", "</td></tr></table>", "]]>"),
    (r"\textbf{tex} \\ \input{x}", "50 % of #1 _a_ {b} ~c ^d $e$", '"quoted"', "a & b"),
    ("a,b;c\td", "first line\nsecond line", "  spaces  ", "'"),
    ("Łódź Müller-Lüdenscheid 漢字 🙂 שלום", "W" * 300, "", "[AUTHOR: gap] [bold]x[/bold]"),
    ("\u2068isolated\u2069", "soft\u00adhyphen", "zero\u200bwidth", "e\u0301"),
)
COLUMNS = (
    Column("what", "What was measured"),
    Column("value", "Skin graft (n\u00a0=\u00a070)", "right", "Cohort"),
    Column("change", "Difference (interval)", "right", "Cohort"),
    Column("p", "p", "right"),
)


def table_of(rows, *, band=""):
    return Table(
        "kept",
        "What is kept",
        COLUMNS,
        tuple(Row(tuple((cell,) for cell in row), band) for row in rows),
        (("A note.",),),
    )


@pytest.mark.parametrize("ending", [each.ending for each in FORMATS])
@pytest.mark.parametrize("rows", [NORMAL, HOSTILE, (), NORMAL * 40], ids=["normal", "hostile", "no rows", "long"])
@pytest.mark.parametrize("band", ["", "Main <measures> & 50%"], ids=["no band", "band"])
def test_every_cell_is_read_back(ending, rows, band, tmp_path):
    (path,) = write_table(table_of(rows, band=band), tmp_path, STAMP, ending)
    held = [[same(cell) for cell in row] for row in READERS[ending](path)]
    for row in rows:
        wanted = [same(cell) for cell in row]
        kept = [each for each in held if each[-5:-1] == wanted or each[-4:] == wanted]
        assert kept, (row, held[-1])
    assert len(held) >= len(rows)
    if band and rows and ending != "csv":
        assert any(row[0] == same(band) for row in held)
    text = html.unescape(" ".join(path.read_text(encoding="utf-8").split())) if ending != "docx" else ""
    assert ending == "docx" or not rows or STAMP.digest in text


@pytest.mark.parametrize("ending", [each.ending for each in FORMATS])
def test_a_lost_cell_is_seen(ending, tmp_path):
    (path,) = write_table(table_of(NORMAL[:1]), tmp_path, STAMP, ending)
    held = [[same(cell) for cell in row] for row in READERS[ending](path)]
    assert not any(same("+0.05 (\u22120.37 to +0.48)") in row for row in held)


@pytest.mark.parametrize("ending", [each.ending for each in FORMATS])
def test_the_same_table_is_the_same_file(ending, tmp_path):
    (first,) = write_table(table_of(NORMAL), tmp_path, STAMP, ending)
    kept = first.read_bytes()
    (again,) = write_table(table_of(NORMAL), tmp_path, STAMP, ending)
    assert again.read_bytes() == kept


def test_a_numbered_table_bears_its_number_where_a_reader_sees_it(tmp_path):
    page, word = write_table(replace(table_of(NORMAL), number=3), tmp_path, STAMP, "docx", "html")
    assert "Table 3. What is kept" in [each.text for each in Document(str(word)).paragraphs]
    assert "Table 3. What is kept</caption>" in page.read_text(encoding="utf-8")


def test_word_keeps_numbers_whole_and_says_its_language_and_what_the_table_shows(tmp_path):
    (path,) = write_table(table_of(NORMAL), tmp_path, STAMP, "docx")
    document = Document(str(path))
    texts = [cell.text for row in document.tables[0].rows for cell in row.cells]
    assert "\u22120.70 (\u22121.06\u00a0to\u00a0\u22120.34)" in texts
    assert document.core_properties.language == "en-GB"
    assert document.styles.element.xpath("//w:lang/@w:val") == ["en-GB"]
    properties = document.tables[0]._tbl.tblPr
    assert properties.xpath("./w:tblCaption/@w:val") == ["What is kept"]
    assert properties.xpath("./w:tblDescription/@w:val")[0].startswith("What is kept")
    # Order of the open format (ECMA-376, CT_TblPr): margins before the look, caption and description after it.
    names = [etree.QName(each).localname for each in properties]
    assert (
        names.index("tblCellMar") < names.index("tblLook") < names.index("tblCaption") < names.index("tblDescription")
    )


def test_an_address_travels_with_its_figure_to_the_page(tmp_path):
    table = Table("kept", "What is kept", COLUMNS[:1], (Row(((Figure("53", "grafted.cases"), " lids"),)),))
    (path,) = write_table(table, tmp_path, STAMP, "html")
    assert 'data-id="grafted.cases">53</span>' in path.read_text(encoding="utf-8")
