"""An office program opens every file without mending it, and keeps the text of a slide above its stamp in its own letters."""

import shutil
import subprocess

import pytest
from docx import Document
from pptx import Presentation
from pypdf import PdfReader

OFFICE = shutil.which("soffice")
PATIENCE_SECONDS = 300

pytestmark = pytest.mark.skipif(OFFICE is None, reason="no office program at hand")


@pytest.fixture(scope="module", params=[False, True], ids=["own eyes", "public"])
def opened(packs, request, tmp_path_factory):
    """The files of a pack with the pages that an office program makes of them."""
    folder, out = packs[request.param], tmp_path_factory.mktemp("office")
    files = sorted((*folder.rglob("*.docx"), *folder.rglob("*.pptx")))
    profile = f"-env:UserInstallation={(out / 'profile').as_uri()}"
    command = [OFFICE, profile, "--headless", "--convert-to", "pdf", "--outdir", str(out), *map(str, files)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=PATIENCE_SECONDS)
    assert done.returncode == 0, done.stderr[-800:]
    return {path: PdfReader(out / f"{path.stem}.pdf") for path in files}


def squeezed(text):
    return "".join(text.split())


def test_every_document_opens_with_all_its_text(opened):
    for path, pages in opened.items():
        if path.suffix == ".docx":
            document = Document(str(path))
            foot = squeezed(document.sections[0].footer.paragraphs[0].text)  # between two halves of a paragraph
            text = "".join(squeezed(page.extract_text()).replace(foot, "") for page in pages.pages)
            told = [each.text for each in document.paragraphs]
            told += [cell.text for table in document.tables for row in table.rows for cell in row.cells]
            assert all(squeezed(each) in text for each in told), path.name


def test_every_slide_is_one_page_with_its_title_and_nothing_runs_into_the_stamp(opened):
    """The letters are those of this computer, mostly wider than the ones asked for."""
    ((path, pages),) = [(path, pages) for path, pages in opened.items() if path.suffix == ".pptx"]
    slides = Presentation(str(path)).slides
    assert len(pages.pages) == len(slides)
    for number, (page, slide) in enumerate(zip(pages.pages, slides, strict=True), start=1):
        held = []
        page.extract_text(
            visitor_text=lambda text, cm, tm, _font, size, held=held: held.append((cm[5] + tm[5] * cm[3], size, text))
        )
        assert squeezed(slide.shapes.title.text_frame.text) in squeezed("".join(text for *_, text in held))
        (stamp,) = [y for y, _, text in held if "register " in text and text.strip().startswith(str(number))]
        lowest = min(y for y, size, text in held if text.strip() and size > 10)
        assert lowest > stamp + 8, (number, lowest, stamp)
