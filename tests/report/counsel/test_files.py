"""The sheets are whole, tagged, on as many pages as they should be, and safe from what is typed."""

import re
from functools import cache

import pypdf
import pytest
from lxml import html

from outcomes.report.counsel import make_sheet, read_language, write_html_sheet, write_pdf_sheet
from outcomes.report.counsel.pdf import LARGE, NORMAL
from outcomes.report.traced_text import plain
from tests.findings.counsel.registers import PROTOCOL, counselled
from tests.report.counsel.test_sheet import EVERY, EVERYBODY, pairs, sheet


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
@pytest.mark.parametrize("large, pages", [(False, 2), (True, 4)])
def test_pages_and_paper(folder, name, language, paper, width, large, pages):
    """Both sides of one sheet of paper, of two in large print; a page is enough where nothing can be said."""
    reader = pdf(folder, name, language, paper, large=large)
    assert len(reader.pages) <= pages
    assert len(reader.pages) == pages or name == "outside"
    assert round(float(reader.pages[0].mediabox.width)) == width


@EVERY
@pytest.mark.parametrize("large", [False, True])
def test_the_text_comes_out_in_reading_order(folder, language, large):
    reader = pdf(folder, "typical", language, "a4", large=large)
    text = words(" ".join(page.extract_text() for page in reader.pages))
    made, place = sheet("typical", language), 0
    wanted = [made.title, plain(made.opening)]
    for pair in made.pairs:
        wanted += [plain(pair.label), pair.cells[0].cover, pair.cells[1].cover]
        wanted += [plain(cell.seen[0]) for cell in pair.cells] + [plain(cell.sentences[0]) for cell in pair.cells]
        wanted += [plain(pair.verdict)]
    wanted += [made.unknown.heading, plain(made.caution), plain(made.basis.paragraphs[0])]
    for sentence in wanted:
        found = text.find(words(sentence), place)
        assert found >= 0, sentence
        place = found


@pytest.mark.parametrize("large", [False, True])
def test_fields_of_100_are_at_least_35_mm_wide(folder, large):
    """Read back from the page: a field of 100 people has ten rows, so that its height is its width."""
    print_ = LARGE if large else NORMAL
    assert print_.picture >= 35
    reader = pdf(folder, "typical", "en", "a4", large=large)
    content = b"".join(page.get_contents().get_data() for page in reader.pages).decode("latin-1")
    scales = [float(each) for each in re.findall(r"(\d+\.\d+) 0 0 -?\d+\.\d+ [\d.-]+ [\d.-]+ cm", content)]
    assert any(
        abs(scale * 120 - print_.picture / 25.4 * 72) < 1 or abs(scale - print_.picture / 25.4 * 72) < 1
        for scale in scales
    )


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
    assert kinds.count("/Table") == 7
    assert {"/H1", "/H2", "/Table", "/TH"} <= set(kinds)
    alts = {str(tag["/Alt"]) for tag in tags(reader) if tag["/S"] == "/Figure"}
    assert alts == {plain(cell.alt) for pair in pairs(sheet("typical", language)) for cell in pair.cells}
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            descriptor = font["/DescendantFonts"][0]["/FontDescriptor"]
            assert "RegisterSans" in descriptor["/FontName"]
            assert {"/FontFile2", "/FontFile3"} & set(descriptor)


def children(tag, kind):
    """The elements of one kind below a structure element, in their order."""
    kids = tag.get("/K", [])
    found = []
    for kid in kids.get_object() if isinstance(kids.get_object(), list) else [kids.get_object()]:
        part = kid.get_object() if hasattr(kid, "get_object") else kid
        if isinstance(part, dict) and "/S" in part:
            found += [part] if part["/S"] == kind else children(part, kind)
    return found


@EVERY
@pytest.mark.parametrize("large", [False, True])
def test_every_count_is_a_cell_under_the_heading_of_its_cover(folder, language, large):
    """PDF/UA-1 (ISO 14289-1), 7.5: tables have headers; each column is headed by a cover, and every row has a cell for each."""
    tables = [tag for tag in tags(pdf(folder, "typical", language, "a4", large=large)) if tag["/S"] == "/Table"]
    assert len(tables) == 7
    for table in tables:
        rows = children(table, "/TR")
        heads = children(rows[0], "/TH")
        assert len(heads) == 2
        assert all(scope(head) == "/Column" for head in heads)
        assert [len(children(row, "/TD")) for row in rows[1:]] == [2, 2, 2, 2]
        assert [len(children(cell, "/Figure")) for cell in children(rows[2], "/TD")] == [1, 1]


def scope(head):
    attributes = head["/A"]
    listed = attributes if isinstance(attributes, list) else [attributes]
    return next(each.get_object()["/Scope"] for each in listed if "/Scope" in each.get_object())


@EVERY
def test_headings_go_down_step_by_step(folder, language):
    levels = [
        int(tag["/S"][2])
        for tag in reversed(tags(pdf(folder, "typical", language, "a4")))
        if re.fullmatch(r"/H\d", tag["/S"])
    ]
    assert levels.count(1) == 1
    assert set(levels) == {1, 2, 3}


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
    assert len(page.xpath("//table//*[@class='had' or @class='had-not' or @class='died']")) == 1200
    assert len(page.xpath("//table")) == 7
    for table in page.xpath("//table"):
        assert [words(each.text_content()) for each in table.xpath("./thead/tr/th[@scope='col']")] == covers(language)
        assert {len(row.xpath("./td")) for row in table.xpath("./tbody/tr")} == {2}
    text = words(page.text_content())
    for pair in pairs(sheet("typical", language)):
        assert words(plain(pair.label)) in text
        assert words(plain(pair.verdict)) in text
        for cell in pair.cells:
            assert all(words(plain(each)) in text for each in (*cell.seen, *cell.sentences))


def covers(language):
    return [cell.cover for cell in sheet("typical", language).pairs[0].cells]


def test_the_same_finding_gives_the_same_bytes(tmp_path):
    first, second = (write_pdf_sheet(sheet("typical"), tmp_path / f"{n}.pdf").read_bytes() for n in (1, 2))
    assert first == second


@EVERY
@pytest.mark.parametrize("large", [False, True])
def test_nothing_is_drawn_outside_the_tags(folder, language, large):
    """PDF/UA-1 (ISO 14289-1), 7.1: every drawing operator stands in marked content, tagged or an artifact."""
    reader = pdf(folder, "typical", language, "a4", large=large)
    drawn = 0
    for page in reader.pages:
        depth = 0
        for _, operator in pypdf.generic.ContentStream(page.get_contents(), reader).operations:
            depth += {b"BDC": 1, b"BMC": 1, b"EMC": -1}.get(operator, 0)
            if operator in {b"Tj", b"TJ", b"Do", b"S", b"f", b"f*", b"B", b"s"}:
                assert depth > 0
                drawn += 1
    assert drawn > 100
