"""Does the page open offline, hold every part in order, and print the numbers of the comparison?"""

import functools
import http.server
import itertools
import json
import re
import shutil
import subprocess
import threading

import pytest
from lxml import html

from outcomes.protocol import default_protocol
from outcomes.report import write_report
from outcomes.report.finding_index import finding_place, main_findings, seen
from outcomes.report.sentences import measure_words
from tests.report.addresses import printed_value
from tests.report.invented import empty_comparison, invented_comparison, one_sided_comparison

PROTOCOL = default_protocol()
COMPARISONS = {"whole": invented_comparison(), "one-sided": one_sided_comparison(), "empty": empty_comparison()}
SECTIONS = [
    "says",
    "flow",
    "who",
    "main",
    "time",
    "grades",
    "when",
    "followed",
    "findings",
    "methods",
    "definitions",
    "cautions",
    "stamp",
]
SOURCES = [
    "Wilson",
    "Newcombe",
    "Hodges & Lehmann",
    "Aalen & Johansen",
    "Turnbull",
    "Schemper & Smith",
    "Clark, Altman & De Stavola",
    "Li, Morgan & Zaslavsky",
    "Firth",
    "VanderWeele & Ding",
    "Holm",
]


@pytest.fixture(params=COMPARISONS)
def page(request, files):
    text = files[request.param][0].read_text(encoding="utf-8")
    return request.param, text, html.document_fromstring(text.encode(), parser=html.HTMLParser(encoding="utf-8"))


def test_the_page_asks_for_nothing_from_outside_itself(page):
    _, text, tree = page
    assert not tree.xpath("//script | //link[@rel!='icon'] | //iframe | //img | //object | //embed | //base | //form")
    assert not [name for name in text.split() if re.match(r"on[a-z]+=", name)]
    asked = [
        value
        for element in tree.iter()
        for name, value in element.items()
        if name.rpartition("}")[2].rpartition(":")[2] in {"href", "src", "srcset", "action", "data", "poster"}
    ]
    assert asked
    assert all(each.startswith("#") or each == "data:," for each in asked)
    assert all(each.startswith(('"data:font', "#")) for each in re.findall(r"url\(([^)]*)\)", text))
    assert "@import" not in text
    assert not re.findall(r"https?://(?!www\.w3\.org/)", text)


def test_the_page_has_every_part_in_the_order_in_which_a_surgeon_thinks(page):
    _, _, tree = page
    assert tree.xpath("//section/@id") == SECTIONS
    assert tree.xpath("//nav//a/@href") == [f"#{name}" for name in SECTIONS]
    for section in tree.xpath("//section"):
        assert len("".join(section.itertext()).split()) > 5, section.get("id")


def test_headings_never_skip_a_level_and_ids_are_unique(page):
    _, _, tree = page
    levels = [int(element.tag[1]) for element in tree.xpath("//h1 | //h2 | //h3 | //h4")]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
    ids = tree.xpath("//@id")
    assert len(ids) == len(set(ids))


def test_cells_name_a_heading_that_exists(page):
    _, _, tree = page
    ids = set(tree.xpath("//th/@id"))
    assert set(tree.xpath("//td/@headers")) <= ids


def test_every_number_on_the_page_is_the_number_at_its_address(page):
    name, _, tree = page
    figures = tree.xpath("//span[@data-id]")
    assert len(figures) > (10 if name == "empty" else 500)
    for figure in figures:
        value = printed_value(COMPARISONS[name], PROTOCOL, figure.get("data-id"))
        assert_prints(figure.get("data-id"), figure.text, value)


def assert_prints(address, text, value):
    if value is None:
        assert text == "not estimated", address
        return
    if text == "<0.001":
        assert 0 <= value < 0.001, address
        return
    number = re.search(r"\d+(?:\.\d+)?", text).group()
    decimals = len(number.partition(".")[2])
    assert abs(abs(value) - float(number)) <= 0.5 * 10**-decimals + 1e-9, (address, text, value)
    negative = text.startswith("−") or text.endswith(("fewer", "less"))
    assert negative == (value < 0 and float(number) != 0), (address, text, value)


def test_warnings_stand_beside_what_is_supported_before_any_table(page):
    name, text, tree = page
    assert [each.get("data-code") for each in tree.xpath("//section[@id='says']//li[@data-code]")] == [
        each.code for each in COMPARISONS[name].warnings
    ]
    assert text.index('id="says"') < text.index('id="main"')


def test_every_main_measure_is_either_supported_or_left_open_and_says_its_numbers(page):
    name, _, tree = page
    says = tree.xpath("//section[@id='says']")[0]
    asked = [each for each in main_findings(COMPARISONS[name], PROTOCOL) if seen(each)]
    supported = [each for each in asked if (each.verdict or "").startswith("better")]
    told = [" ".join(each.text_content().split()) for each in says.xpath("h3[1]/following-sibling::p")]
    for finding, sentence in zip(supported, told, strict=False):
        assert f"{finding.verdict}. " in sentence
        assert measure_words(finding, PROTOCOL) in sentence
        ids = set(says.xpath("p/span/@data-id"))
        place = finding_place(finding)
        assert {f"{place.id}.contrast.estimate", f"{place.id}.contrast.low", f"{place.id}.grafted.n"} <= ids
    left = says.xpath("ul/li/text()[1]")
    assert len(left) == len(asked) - len(supported)
    if not supported:
        assert "none can be compared" in told[0] or "On no main measure" in told[0]


def test_what_came_from_the_register_is_escaped(files):
    text = files["whole"][0].read_text(encoding="utf-8")
    assert "did not know the cover &lt;masked&gt;" in text
    assert "<masked>" not in text


def test_every_method_has_its_source_and_every_scale_its_origin(page):
    _, _, tree = page
    methods = " ".join(tree.xpath("string(//section[@id='methods'])").split())
    assert [source for source in SOURCES if source not in methods] == []
    definitions = tree.xpath("string(//section[@id='definitions'])")
    own = [measure for measure in PROTOCOL.measures if "own scale" in PROTOCOL.value_field(measure).source]
    assert own
    assert definitions.count("own scale") >= len(own)


@pytest.mark.parametrize("word", ["significant", "trend towards", "trending", "statistically"])
def test_the_page_claims_no_more_than_it_may(page, word):
    assert word not in page[2].text_content().lower()


def test_the_page_says_that_it_is_no_advice(page):
    cautions = page[2].xpath("string(//section[@id='cautions'])")
    for words in ("past cases", "not advice", "clinician who treats", "licensed practice", "local governance"):
        assert words in " ".join(cautions.split())


def test_an_empty_panel_is_a_sentence_instead(files):
    tree = html.fromstring(files["empty"][0].read_bytes())
    assert not tree.xpath("//figure")
    assert len(tree.xpath("//p[@class='absent']")) >= 8


def test_every_file_carries_the_stamp(files, folders):
    digest = COMPARISONS["whole"].stamp.digest[:12]
    for file in files["whole"]:
        if file.suffix != ".png":
            assert digest in file.read_text(encoding="utf-8"), file.name
            assert "2026-06-30" in file.read_text(encoding="utf-8"), file.name
    assert {file.parent.name for file in files["whole"]} == {folders["whole"].name, "charts", "tables"}


def test_the_files_that_are_named_are_the_files_that_were_written(files, folders):
    for name, folder in folders.items():
        assert sorted(files[name]) == sorted(path for path in folder.rglob("*") if path.is_file())


def test_the_same_comparison_gives_the_same_tables_byte_for_byte(files, folders, tmp_path):
    assert files["empty"]
    again = write_report(COMPARISONS["empty"], PROTOCOL, tmp_path)
    for file in again:
        assert file.read_bytes() == (folders["empty"] / file.relative_to(tmp_path)).read_bytes(), file.name


def asked_by_the_page(folder, name, log):
    """Which addresses a browser asked for on behalf of a page that a local server hands out, after the page itself."""
    handler = functools.partial(http.server.SimpleHTTPRequestHandler, directory=str(folder))
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        origin = f"http://127.0.0.1:{server.server_port}"
        quiet = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]
        places = [f"--log-net-log={log}", f"--user-data-dir={log.parent / 'browser'}"]
        command = ["chromium", *quiet, *places, "--dump-dom", f"{origin}/{name}"]
        subprocess.run(command, check=True, capture_output=True, timeout=300)
        server.shutdown()
    events = json.loads(log.read_text(encoding="utf-8"))["events"]
    return {
        event["params"]["url"]
        for event in events
        if event.get("params", {}).get("initiator") == origin and "url" in event["params"]
    }


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("chromium") is None, reason="no browser here to open the page with")
def test_a_browser_opens_the_page_without_asking_for_anything_else(files, tmp_path):
    page = files["whole"][0]
    assert asked_by_the_page(page.parent, page.name, tmp_path / "net.json") == set()
    spoilt = page.read_text(encoding="utf-8").replace("</main>", '<img src="/elsewhere.png"></main>')
    (tmp_path / "spoilt.html").write_text(spoilt, encoding="utf-8")
    assert {url.rpartition("/")[2] for url in asked_by_the_page(tmp_path, "spoilt.html", tmp_path / "again.json")} == {
        "elsewhere.png"
    }
