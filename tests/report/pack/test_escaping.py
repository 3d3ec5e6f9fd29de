"""What came from a register or a clinic's own protocol is only ever shown, in every form, and never obeyed."""

import re
from dataclasses import replace

import pytest
from docx import Document
from lxml import etree
from pptx import Presentation
from pypdf import PdfReader

from outcomes.cohort import Choice
from outcomes.findings.results import Caution, Fact
from outcomes.report.pack.assembly import write_pack
from tests.report.pack.conftest import silent

# What a spreadsheet, a page, a typesetter and LaTeX would each obey.
HOSTILE = '=1+1 <b>bold</b> #strike[typed] $x$ *star* _under_ \\textbf{tex} & "quote" 50 % `code` @ref'


@pytest.fixture(scope="module")
def hostile(helds, tmp_path_factory):
    """The pack of a comparison whose labels, codes and warnings were written by somebody with a grudge."""
    held = helds[False]
    whole = held.comparison
    balance = (replace(whole.balance[0], label=HOSTILE), *whole.balance[1:])
    warnings = (Caution("imbalance", (Fact("cohorts_differed", (HOSTILE,)),)), *whole.warnings[1:])
    mark = replace(whole.stamp, selection=(Choice("sites", (HOSTILE,)),))
    folder = tmp_path_factory.mktemp("hostile") / "pack"
    write_pack(replace(held, comparison=replace(whole, balance=balance, warnings=warnings, stamp=mark)), folder, silent)
    return folder


def squeezed(text):
    """Text without spaces, as the lines of a page are broken anywhere; and without the hyphens of such breaks."""
    return re.sub(r"[\s\u00ad]+", "", text)


def test_a_word_processor_shows_it_letter_for_letter(hostile):
    baseline = Document(str(hostile / "tables" / "baseline.docx"))
    assert any(HOSTILE in cell.text for row in baseline.tables[0].rows for cell in row.cells)
    assert HOSTILE in baseline.sections[0].footer.paragraphs[0].text
    told = "\n".join(each.text for each in Document(str(hostile / "words" / "limitations.docx")).paragraphs)
    assert f"{HOSTILE}." in told


def test_a_slide_shows_it_letter_for_letter(hostile):
    show = Presentation(str(hostile / "slides" / "talk.pptx"))
    texts = [shape.text_frame.text for slide in show.slides for shape in slide.shapes if shape.has_text_frame]
    assert any(f"{HOSTILE}." in text for text in texts)
    assert sum(HOSTILE in text for text in texts) > len(show.slides)  # in the stamp of each, and as a warning


def test_the_typesetter_shows_it_letter_for_letter(hostile):
    page = PdfReader(hostile / "poster" / "poster.pdf").pages[0].extract_text()
    assert squeezed(HOSTILE) in squeezed(page)
    assert HOSTILE in PdfReader(hostile / "figures" / "balance-175mm.pdf").metadata["/Subject"]


def test_pages_and_drawings_hold_it_as_text(hostile):
    for path in hostile.rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        assert "<b>bold" not in text, path.name
    drawn = etree.fromstring((hostile / "figures" / "balance-175mm.svg").read_bytes())
    assert HOSTILE in " ".join(drawn.itertext())
    assert not drawn.xpath("//*[local-name()='b']")


def test_latex_gets_no_command_of_it(hostile):
    text = (hostile / "tables" / "baseline.tex").read_text(encoding="utf-8")
    assert "\\textbf{tex}" not in text
    assert re.search(r"\\textbackslash(\{\})? ?textbf", text)
    assert not re.search(r"(?<!\\)\$x", text)


def test_a_spreadsheet_gets_no_formula_of_it(hostile):
    for path in hostile.rglob("*.csv"):
        cells = path.read_text(encoding="utf-8-sig")
        assert not re.search(r'(?m)(^|,)"?=1\+1', cells), path.name
