"""The files of the pack are what they say: native tables, sharp pictures, embedded letters, true sizes."""

import re
import shutil
import struct
import subprocess

import pytest
from docx import Document
from lxml import etree
from pptx import Presentation
from pptx.util import Inches
from pypdf import PdfReader
from pypdf._codecs.core_font_metrics import CORE_FONT_METRICS

from outcomes.report.pack.abstract import abstract
from outcomes.report.pack.poster import poster_data, write_poster

POINTS_IN_MM = 72 / 25.4


@pytest.fixture(params=[False, True, "journal"], ids=["own eyes", "public", "journal"])
def folder(packs, request):
    return packs[request.param]


def test_word_tables_repeat_their_heading_and_have_no_vertical_rule(folder):
    documents = sorted((*(folder / "tables").glob("*.docx"), *(folder / "checklists").glob("*.docx")))
    for path in documents:
        (grid,) = Document(str(path)).tables
        marked = [bool(tr.trPr is not None and tr.trPr.xpath("./w:tblHeader")) for tr in grid._tbl.tr_lst]
        assert marked[0]
        assert marked == sorted(marked, reverse=True)
        assert 1 <= sum(marked) <= 2
        assert not grid._tbl.xpath(".//w:tcBorders/w:left | .//w:tcBorders/w:right | .//w:tblBorders/w:insideV")
        assert grid._tbl.xpath(".//w:tcBorders/w:top")
        assert len(grid._tbl.xpath("./w:tr[last()]//w:tcBorders/w:bottom")) == len(grid.rows[-1].cells)


def test_no_word_of_a_word_table_is_wider_than_its_cell_in_letters_a_tenth_wider_than_arial(folder):
    """So no "<0.001" and no heading breaks; the widths are those that Adobe published for Helvetica, as carried by pypdf."""
    seen = 0
    for path in sorted((*(folder / "tables").glob("*.docx"), *(folder / "checklists").glob("*.docx"))):
        (grid,) = Document(str(path)).tables
        for cell in grid._tbl.xpath(".//w:tc[not(w:tcPr/w:gridSpan)]"):
            room = int(cell.xpath("./w:tcPr/w:tcW/@w:w")[0]) / 20 - 6  # twentieths of a point; what the cell keeps free
            for run in cell.xpath(".//w:r[w:t]"):
                size = int(run.xpath("./w:rPr/w:sz/@w:val")[0]) / 2
                widths = CORE_FONT_METRICS[
                    "Helvetica-Bold" if run.xpath("./w:rPr/w:b") else "Helvetica"
                ].character_widths
                for word in run.xpath("./w:t")[0].text.split(" ") if run.xpath("./w:t")[0].text else ():
                    wide = sum(widths.get(letter.replace("\u00a0", " "), 1000) for letter in word) * size / 1000
                    assert 1.1 * wide <= room + 0.1, (path.name, word, wide, room)
                    seen += 1
    assert seen > 1000


def test_the_tables_of_a_paper_are_numbered_in_its_order_and_say_what_they_show(folder):
    numbered = {}
    for path in (folder / "tables").glob("*.docx"):
        document = Document(str(path))
        title = document.paragraphs[0].text
        numbered[int(re.match(r"Table (\d+)\. \w", title)[1])] = path.stem
        properties = document.tables[0]._tbl.tblPr
        assert properties.xpath("./w:tblCaption/@w:val") == [title]
        assert properties.xpath("./w:tblDescription/@w:val")[0].startswith(title)
    assert sorted(numbered) == list(range(1, len(numbered) + 1))
    assert numbered[1] == "flow"


def test_bare_numbers_of_a_word_table_stand_on_decimal_tabs_that_lie_inside_their_cells(folder):
    (grid,) = Document(str(folder / "tables" / "baseline.docx")).tables
    tabs = grid._tbl.xpath(".//w:tc[.//w:tab[@w:val='decimal']]")
    assert len(tabs) > 10
    for cell in tabs:
        (width,), (at,) = cell.xpath("./w:tcPr/w:tcW/@w:w"), cell.xpath(".//w:tab/@w:pos")
        assert 0 < int(at) < int(width)


def test_every_page_of_a_document_carries_the_stamp(folder):
    for path in folder.rglob("*.docx"):
        document = Document(str(path))
        assert "data lock “spring”" in document.sections[0].footer.paragraphs[0].text
        assert "data lock “spring”" in document.core_properties.comments


def test_the_talk_has_eight_to_fourteen_wide_slides_with_notes_and_titles_in_their_places(folder):
    show = Presentation(str(folder / "slides" / "talk.pptx"))
    assert 8 <= len(show.slides) <= 14
    assert show.slide_width * 9 == pytest.approx(show.slide_height * 16, rel=1e-3)
    for slide in show.slides:
        names = [shape.name for shape in slide.shapes]
        assert names.count("title") == 1
        assert names.count("stamp") == 1
        assert slide.notes_slide.notes_text_frame.text.strip()
        assert slide.shapes.title.text_frame.text.strip()
        assert not [shape.name for shape in slide.placeholders if not shape.text_frame.text.strip()]


def test_no_letter_of_a_slide_but_the_stamp_is_smaller_than_18_points(folder):
    for slide in Presentation(str(folder / "slides" / "talk.pptx")).slides:
        for shape in slide.shapes:
            frames = [shape.text_frame] if shape.has_text_frame and shape.name != "stamp" else []
            if shape.has_table:
                frames += [cell.text_frame for row in shape.table.rows for cell in row.cells]
            sizes = [
                run.font.size.pt for frame in frames for p in frame.paragraphs for run in p.runs if run.text.strip()
            ]
            assert all(size >= 18 for size in sizes), (shape.name, sizes)


def test_nothing_on_a_slide_lies_outside_it_or_over_the_stamp(folder):
    show = Presentation(str(folder / "slides" / "talk.pptx"))
    for number, slide in enumerate(show.slides, start=1):
        for shape in slide.shapes:
            assert shape.left >= 0
            assert shape.left + shape.width <= show.slide_width, (number, shape.name)
            if shape.name != "edge":
                assert shape.top + shape.height <= show.slide_height, (number, shape.name)
            if shape.has_table or shape.shape_type == 13:
                assert shape.top + shape.height <= Inches(7.0), (number, shape.name)


def test_pictures_on_slides_are_sharp_and_say_what_they_show(folder):
    pictures = [
        s
        for slide in Presentation(str(folder / "slides" / "talk.pptx")).slides
        for s in slide.shapes
        if s.shape_type == 13
    ]
    assert pictures
    for picture in pictures:
        assert picture.image.size[0] / (picture.width / 914400) > 200
        assert len(picture._element._nvXxPr.cNvPr.get("descr")) > 40


def test_figures_have_their_true_width_in_every_form(folder):
    drawn = sorted((folder / "figures").glob("*.svg"))
    assert len(drawn) >= 10
    for path in drawn:
        width = float(re.search(r"-(\d+)mm", path.name)[1])
        root = etree.parse(path).getroot()
        assert float(root.get("width").removesuffix("mm")) == pytest.approx(width, abs=0.9), path.name
        page = PdfReader(path.with_suffix(".pdf")).pages[0]
        assert float(page.mediabox.width) / POINTS_IN_MM == pytest.approx(width, abs=0.9)
        head = path.with_suffix(".png").read_bytes()
        pixels = struct.unpack(">I", head[16:20])[0]
        assert pixels / (width / 25.4) == pytest.approx(600, rel=0.01)
        at = head.index(b"pHYs")
        assert struct.unpack(">IIB", head[at + 4 : at + 13]) == (23622, 23622, 1)


def test_no_letter_of_a_figure_is_smaller_than_seven_points(folder):
    for path in (folder / "figures").glob("*.svg"):
        text = path.read_text(encoding="utf-8")
        root = etree.fromstring(text.encode())
        scale = float(root.get("width").removesuffix("mm")) * POINTS_IN_MM / float(root.get("viewBox").split()[2])
        sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)(?:px)?"', text)]
        assert sizes
        assert min(sizes) * scale >= 6.99, path.name
        assert "bold" not in text.split("</style>", 1)[-1]  # only the regular face is inside the file


def test_every_pdf_embeds_its_letters_and_holds_no_bitmap(folder):
    for path in (*(folder / "figures").glob("*.pdf"), folder / "poster" / "poster.pdf"):
        reader = PdfReader(path)
        assert len(reader.pages) == 1
        page = reader.pages[0]
        fonts = page["/Resources"].get("/Font", {})
        inside = [_descriptor(font.get_object()) for font in fonts.values()]
        inside += [_descriptor(font.get_object()) for font in _fonts_of_forms(page["/Resources"])]
        assert inside, path.name
        assert all("/FontFile3" in each or "/FontFile2" in each for each in inside), path.name
        assert not page.images
        assert "data lock “spring”" in str(reader.metadata.get("/Subject", "")) + page.extract_text()


def _fonts_of_forms(resources):
    for form in resources.get("/XObject", {}).values():
        held = form.get_object()
        if held.get("/Subtype") == "/Form":
            yield from held.get("/Resources", {}).get("/Font", {}).values()
            yield from _fonts_of_forms(held.get("/Resources", {}))


def _descriptor(font):
    return (
        font["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        if "/DescendantFonts" in font
        else font["/FontDescriptor"]
    )


def test_the_poster_is_one_a0_page_upright(folder):
    (page,) = PdfReader(folder / "poster" / "poster.pdf").pages
    size = [float(each) / POINTS_IN_MM for each in (page.mediabox.width, page.mediabox.height)]
    assert size == pytest.approx([841, 1189], abs=1)


def test_the_checklists_have_no_empty_cell_and_name_only_places_that_are_there(folder):
    from tests.report.pack.reading import csv_table

    for name in ("strobe", "target", "case-series"):
        rows = csv_table(folder / "checklists" / f"{name}.csv")
        assert all(cell for row in rows for cell in row)
        for row in rows:
            for place in row[-2].split("; "):
                if place.startswith(("tables/", "figures/", "words/")):
                    assert list(folder.glob(f"{place.split(',')[0]}*")), place
    assert len(csv_table(folder / "checklists" / "target.csv")) == 21  # Cashin et al., JAMA 2025: 21 items (abstract)
    numbers = {row[0].rstrip("abcde") for row in csv_table(folder / "checklists" / "strobe.csv")}
    # STROBE has 22 items (von Elm et al., 2007).
    assert numbers == {str(number) for number in range(1, 23)}


def test_latex_is_balanced_has_as_many_cells_as_columns_and_no_vertical_rule(folder):
    for path in (*(folder / "tables").glob("*.tex"), *(folder / "checklists").glob("*.tex")):
        text = path.read_text(encoding="utf-8")
        code = "\n".join(line for line in text.splitlines() if not line.startswith("%"))
        bare = re.sub(r"\\[{}]", "", code)
        assert bare.count("{") == bare.count("}"), path.name
        spec = re.search(r"\\begin\{(?:tabular|longtable)\}\{(@\{\}.*@\{\})\}", code)[1]
        assert "|" not in spec
        columns = spec.count("p{")
        for line in code.splitlines():
            if line.endswith(r"\\") and "multicolumn" not in line and "caption" not in line:
                assert len(re.findall(r"(?<!\\)&", line)) == columns - 1, line
        begun, ended = re.findall(r"\\begin\{(\w+)\}", code), re.findall(r"\\end\{(\w+)\}", code)
        assert sorted(begun) == sorted(ended)
        assert code.count(r"\toprule") == code.count(r"\bottomrule") == code.count(r"\midrule") == 1


def test_a_letter_that_tex_would_obey_is_made_harmless():
    from outcomes.report.tables.writers.latex import escaped

    assert escaped(r"50 % & \input{x} #1 _a_ ~^$") == (
        r"50 \% \& \textbackslash{}input\{x\} \#1 \_a\_ \textasciitilde{}\textasciicircum{}\$"
    )


@pytest.mark.skipif(shutil.which("pdflatex") is None, reason="no TeX engine at hand")
def test_latex_compiles_where_an_engine_is_at_hand(folder, tmp_path):
    fragments = sorted((*(folder / "tables").glob("*.tex"), *(folder / "checklists").glob("*.tex")))
    body = "\n".join(f"\\input{{{path}}}\\clearpage" for path in fragments)
    head = r"\documentclass{article}\usepackage[margin=15mm]{geometry}\usepackage[utf8]{inputenc}\usepackage{booktabs,longtable,array}"
    (tmp_path / "all.tex").write_text(f"{head}\\begin{{document}}{body}\\end{{document}}", encoding="utf-8")
    done = subprocess.run(
        ["pdflatex", "-interaction=nonstopmode", "-halt-on-error", "all.tex"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-1500:]


def test_every_pdf_can_be_read_by_those_who_cannot_see_it(folder):
    """Tagged, with its title, its language and a description with numbers for every drawing, as ISO 14289-1 (PDF/UA-1) asks."""
    for path in (*(folder / "figures").glob("*.pdf"), folder / "poster" / "poster.pdf"):
        root = PdfReader(path).trailer["/Root"].get_object()
        assert root["/MarkInfo"]["/Marked"], path.name
        assert root["/Lang"].startswith("en"), path.name
        assert root["/ViewerPreferences"]["/DisplayDocTitle"], path.name
        assert b"pdfuaid:part" in root["/Metadata"].get_object().get_data(), path.name
        described = [each.get("/Alt", "") for each in _elements(root["/StructTreeRoot"]) if each.get("/S") == "/Figure"]
        assert described, path.name
        assert all(re.search(r"\d", words) for words in described), path.name


def _elements(element):
    held = element.get_object()
    if isinstance(held, dict):
        yield held
        kids = held.get("/K", [])
        for kid in kids if isinstance(kids, list) else [kids]:
            if not isinstance(kid, int):
                yield from _elements(kid)


def test_the_poster_has_its_message_its_places_for_the_author_and_its_stamp(folder):
    (page,) = PdfReader(folder / "poster" / "poster.pdf").pages
    text = " ".join(page.extract_text().split())
    for words in ("photograph, with consent", "ethics and consent", "contact, and a link", "data lock “spring”"):
        assert words in text
    assert text.index("What limits this series") < text.index("data lock “spring”")


@pytest.mark.parametrize("lines", [0, 5, 30])
def test_a_poster_with_little_or_much_to_say_stands_on_one_page(lines, helds, tmp_path):
    held = helds[False]
    drafted = abstract(held.comparison, held.facts, held.protocol, limit=250)
    data = poster_data(held.comparison, held.facts, held.protocol, (), drafted=drafted)
    data["limits"] = [
        "Universitätsaugenklinik-Nordwest is named here with every word of a long reason for doubt."
    ] * lines
    write_poster(tmp_path / "poster.pdf", data)
    (page,) = PdfReader(tmp_path / "poster.pdf").pages
    heights = []
    page.extract_text(
        visitor_text=lambda text, cm, tm, _font, _size: heights.append(cm[5] + tm[5] * cm[3]) if text.strip() else None
    )
    assert " ".join(page.extract_text().split()).count("Universitätsaugenklinik-Nordwest") == lines
    assert min(heights) > 15 * POINTS_IN_MM
    assert max(heights) < (1189 - 15) * POINTS_IN_MM
