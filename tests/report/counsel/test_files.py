"""The sheets are whole, tagged, on as many pages as they should be, and safe from what is typed."""

import re
from functools import cache

import pypdf
import pytest
from lxml import html

from outcomes.report.counsel import make_sheet, read_language, write_html_sheet, write_pdf_sheet
from outcomes.report.traced_text import plain
from tests.findings.counsel.registers import PROTOCOL, counselled
from tests.report.counsel.test_sheet import EVERY, EVERYBODY, sheet


@cache
def pdf(folder, name, language, paper, *, large=False):
    path = folder / f"{name}-{language}-{paper}-{large}.pdf"
    return pypdf.PdfReader(write_pdf_sheet(sheet(name, language), path, paper=paper, large_print=large))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("sheets")


def words(text):
    return re.sub(r"\s+", " ", text)


@EVERY
@EVERYBODY
@pytest.mark.parametrize("paper, width", [("a4", 595), ("letter", 612)])
@pytest.mark.parametrize("large, pages", [(False, 1), (True, 2)])
def test_pages_and_paper(folder, name, language, paper, width, large, pages):
    reader = pdf(folder, name, language, paper, large=large)
    assert len(reader.pages) == pages
    assert round(float(reader.pages[0].mediabox.width)) == width


@EVERY
@pytest.mark.parametrize("large", [False, True])
def test_the_text_comes_out_in_reading_order(folder, language, large):
    reader = pdf(folder, "typical", language, "a4", large=large)
    text = words(" ".join(page.extract_text() for page in reader.pages))
    made, place = sheet("typical", language), 0
    wanted = [made.title, plain(made.opening)]
    for row in made.rows:
        wanted += [plain(row.label), *(" ".join(plain(each) for each in cell.sentences) for cell in row.cells)]
    wanted += [made.unknown.heading, plain(made.caution), plain(made.basis.paragraphs[0])]
    for sentence in wanted:
        found = text.find(words(sentence), place)
        assert found >= 0, sentence
        place = found


def tags(reader):
    """Every structure element of the PDF, from its structure tree."""
    waiting, found = [reader.trailer["/Root"]["/StructTreeRoot"]], []
    while waiting:
        part = waiting.pop().get_object()
        if isinstance(part, list):
            waiting += part
        elif isinstance(part, dict):
            if "/S" in part:
                found.append(part)
            if "/K" in part:
                waiting.append(part["/K"])
    return found


@EVERY
def test_tags_title_language_and_fonts(folder, language):
    reader = pdf(folder, "typical", language, "a4")
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == read_language(language).code
    assert reader.metadata.title == sheet("typical", language).title
    assert b"<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_data()
    kinds = [tag["/S"] for tag in tags(reader)]
    assert kinds.count("/Figure") == 14
    assert {"/H1", "/H2", "/Table", "/TH"} <= set(kinds)
    alts = {str(tag["/Alt"]) for tag in tags(reader) if tag["/S"] == "/Figure"}
    assert alts == {
        plain(cell.alt)
        for row in (*sheet("typical", language).rows, *sheet("typical", language).lines)
        for cell in row.cells
    }
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            descriptor = font["/DescendantFonts"][0]["/FontDescriptor"]
            assert "RegisterSans" in descriptor["/FontName"]
            assert {"/FontFile2", "/FontFile3"} & set(descriptor)


def sizes(reader):
    """How many letters there are of each size in points."""
    counted = {}

    def seen(text, page_matrix, text_matrix, _, size):
        points = round(abs(size * text_matrix[3] * page_matrix[3]))
        counted[points] = counted.get(points, 0) + len(text.strip())

    for page in reader.pages:
        page.extract_text(visitor_text=seen)
    return counted


@pytest.mark.parametrize("large, points", [(False, 14), (True, 20)])
def test_most_letters_are_of_the_size_that_was_asked_for(folder, large, points):
    counted = sizes(pdf(folder, "typical", "en", "a4", large=large))
    assert max(counted, key=counted.get) == points


def test_what_is_typed_is_printed_and_not_obeyed(tmp_path):
    name = '#panic("typst") <script>alert(1)</script> \\{ [x] $y$ "'
    made = make_sheet(counselled("typical"), PROTOCOL, read_language("en"), printed_name=name)
    reader = pypdf.PdfReader(write_pdf_sheet(made, tmp_path / "sheet.pdf"))
    assert "<script>alert(1)</script>" in words(reader.pages[0].extract_text())
    page = write_html_sheet(made, tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert "<script" not in page
    assert name in html.fromstring(page).text_content()


@EVERY
def test_the_page_opens_without_a_network_and_says_what_the_pdf_says(folder, language):
    path = write_html_sheet(sheet("typical", language), folder / f"{language}.html")
    page = html.fromstring(path.read_text(encoding="utf-8"))
    assert page.get("lang") == read_language(language).code
    assert not page.xpath("//@src | //link | //script")
    assert not page.xpath("//@href")
    assert len(page.xpath("//svg[@role='img']/title")) == 14
    assert len(page.xpath("//*[@class='had' or @class='had-not']")) == 1200
    heads = [words(each.text_content()) for each in page.xpath("//thead/tr/*")]
    assert heads == ["", *sheet("typical", language).columns]
    assert {len(row.xpath("./*")) for row in page.xpath("//tbody/tr")} == {3}
    text = words(page.text_content())
    for row in sheet("typical", language).rows:
        assert words(plain(row.label)) in text
        for cell in row.cells:
            assert words(" ".join(plain(each) for each in cell.sentences)) in text


def test_the_same_finding_gives_the_same_bytes(tmp_path):
    first, second = (write_pdf_sheet(sheet("typical"), tmp_path / f"{n}.pdf").read_bytes() for n in (1, 2))
    assert first == second
