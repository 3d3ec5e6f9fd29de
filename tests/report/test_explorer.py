"""A chart of the page becomes one to explore when asked to, and stays the drawing that it is until then."""

import re
import shutil
import subprocess

import pytest
from lxml import html
from pypdf import PdfReader

from outcomes.report.charts.drawing import Picture, Plate
from outcomes.report.charts.interactive import explorable, packed_explorer
from tests.report.explorer import unpacked

pytestmark = pytest.mark.slow

BROWSER = shutil.which("chromium")
PRESS = """<script type="module">
for (const fold of document.querySelectorAll("details")) fold.open = true;
for (const button of document.querySelectorAll("figure button")) button.click();
</script></body>"""


@pytest.fixture(scope="module")
def page(files):
    return files["whole"][0]


def test_the_page_holds_every_chart_once_and_the_program_once(files, page):
    held = unpacked(page)
    charts = {file.name.removesuffix(".vl.json") for file in files["whole"] if file.name.endswith(".vl.json")}
    assert set(held["specs"]) == charts
    assert len(charts) > 15
    assert all(each["datasets"] for each in held["specs"].values())
    assert held["program"].count("window.vegaEmbed=") == 1
    tree = html.fromstring(page.read_bytes())
    assert {each.get("id").removeprefix("chart-") for each in tree.xpath("//figure[@data-explorable]")} == charts
    assert len(tree.xpath("//script")) == 2
    assert page.stat().st_size < 3_000_000


def test_the_same_charts_are_packed_into_the_same_bytes():
    plate = Plate(10, 10, "")
    held = [Picture("one", "One", (), "One.", plate, {"mark": "point", "datasets": {}})]
    assert packed_explorer(held) == packed_explorer(held)


def test_a_click_on_a_legend_leaves_its_marks_strong():
    shape = {"field": "cohort", "type": "nominal"}
    layer = {"mark": {"type": "point", "opacity": 0.6}, "encoding": {"shape": shape}, "data": {"name": "rows-0"}}
    spec = {"layer": [layer, {"mark": "rule", "data": {"name": "rows-1"}}], "datasets": {"rows-0": [{"cohort": "a"}]}}
    made = explorable(spec)
    assert made["layer"][0]["params"][0]["bind"] == "legend"
    assert made["layer"][0]["params"][0]["select"]["fields"] == ["cohort"]
    assert made["layer"][0]["encoding"]["opacity"] == {"condition": {"param": "picked0", "value": 0.6}, "value": 0.08}
    assert made["layer"][1] == spec["layer"][1]
    assert "params" not in layer


def test_a_click_on_a_legend_reaches_marks_whose_rows_stand_above_them():
    line = {"mark": {"type": "line"}, "encoding": {"stroke": {"field": "cohort", "type": "nominal"}}}
    unseen = {"mark": {"type": "point", "opacity": 0}, "encoding": {}}
    spec = {
        "data": {"name": "rows-0"},
        "concat": [{"layer": [line, unseen]}],
        "datasets": {"rows-0": [{"cohort": "a"}]},
    }
    drawn, pointed_at = explorable(spec)["concat"][0]["layer"]
    assert drawn["encoding"]["opacity"]["condition"] == {"param": "picked0", "value": 1}
    assert pointed_at == unseen


def opened(page, folder, *, press):
    """The page as a browser has it a minute of its own time later, with or without every button pressed."""
    text = page.read_text(encoding="utf-8")
    (folder / "shown.html").write_text(text.replace("</body>", PRESS) if press else text, encoding="utf-8")
    quiet = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", f"--user-data-dir={folder / 'browser'}"]
    command = [BROWSER, *quiet, "--virtual-time-budget=60000", "--dump-dom", (folder / "shown.html").as_uri()]
    made = subprocess.run(command, check=True, capture_output=True, timeout=300).stdout
    return html.document_fromstring(made, parser=html.HTMLParser(encoding="utf-8", huge_tree=True))


@pytest.mark.skipif(BROWSER is None, reason="no browser here to open the page with")
def test_every_chart_is_drawn_anew_in_a_browser_when_its_button_is_pressed(page, tmp_path):
    before = opened(page, tmp_path, press=False)
    charts = before.xpath("//figure[@data-explorable]/@id")
    assert len(before.xpath("//figure[@data-explorable]/button")) == len(charts) > 15
    assert not before.xpath("//*[contains(@class, 'explored')]")
    after = opened(page, tmp_path, press=True)
    assert after.xpath("//figure[div[contains(@class, 'explored')]//*[local-name()='svg']]/@id") == charts
    assert len(after.xpath("//*[local-name()='svg'][@class='still']")) == len(charts)


@pytest.mark.skipif(BROWSER is None, reason="no browser here to print the page with")
def test_with_every_fold_open_the_page_prints_on_twelve_sheets_at_most_and_closed_on_one_or_two(page, tmp_path):
    text = page.read_text(encoding="utf-8")
    pages = {}
    for name, shown in {"closed": text, "open": text.replace("<details ", "<details open ")}.items():
        (tmp_path / "shown.html").write_text(shown, encoding="utf-8")
        quiet = ["--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path / 'browser'}"]
        printed = tmp_path / f"{name}.pdf"
        command = [BROWSER, *quiet, f"--print-to-pdf={printed}", (tmp_path / "shown.html").as_uri()]
        subprocess.run(command, check=True, capture_output=True, timeout=300)
        pages[name] = len(PdfReader(printed).pages)
    assert pages["closed"] <= 2 < pages["open"] <= 12


def test_without_scripts_every_chart_is_the_drawing(page):
    figures = html.fromstring(page.read_bytes()).xpath("//figure")
    assert figures
    for figure in figures:
        assert figure.xpath("./svg//text"), figure.get("id")


def test_print_shows_the_drawing_and_no_button(page):
    style = page.read_text(encoding="utf-8").rpartition("@media print")[2]
    assert re.search(r"button[^{]*\.explored[^{]*\{ display: none; }", style)
    assert re.search(r"svg\.still[^{]*\{ display: block; }", style)
