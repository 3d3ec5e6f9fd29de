"""The page opens offline, holds every part in order, and prints the numbers of the comparison."""

import functools
import http.server
import itertools
import json
import re
import shutil
import subprocess
import threading
from dataclasses import replace

import pytest
from lxml import html

from outcomes.findings.results import DECIDED, Caution, Fact
from outcomes.protocol import default_protocol
from outcomes.report import Charts, write_report
from outcomes.report.finding_index import of_family, seen
from outcomes.report.headline import answers
from outcomes.report.sentences import verdict_words
from outcomes.report.traced_text import plain
from tests.report.addresses import printed_value
from tests.report.invented import empty_comparison, invented_comparison, one_sided_comparison

pytestmark = pytest.mark.slow

PROTOCOL = default_protocol()
COMPARISONS = {"whole": invented_comparison(), "one-sided": one_sided_comparison(), "empty": empty_comparison()}
FOLDS = [
    "reasons",
    "words",
    "planned",
    "time",
    "grades",
    "timed",
    "lids",
    "learning",
    "days_shut",
    "who",
    "followed",
    "flow",
    "more",
    "findings",
    "methods",
    "definitions",
    "glossary",
]
SOURCES = [
    "Wilson",
    "Newcombe",
    "Bell & McCaffrey",
    "Brunner & Munzel",
    "Obuchowski",
    "Li, Morgan & Zaslavsky",
    "Mao, Li & Greene",
    "Greenland & Mansournia",
    "Holm",
    "Benjamini & Hochberg",
    "Carpenter, Roger & Kenward",
    "Liublinska & Rubin",
    "Aalen & Johansen",
    "Turnbull",
    "Schemper & Smith",
    "Clark, Altman & De Stavola",
    "VanderWeele & Ding",
]
# Words that may not appear, and why: riddles, personified data, or a second word for one thing.
UNWANTED = [
    "told as",
    "nought",
    "dealing the covers",
    "bear it",
    "legal but odd",
    "owner",
    "shared out",
    "the value itself",
]


@pytest.fixture(params=COMPARISONS)
def page(request, files):
    text = files[request.param][0].read_text(encoding="utf-8")
    return request.param, text, html.document_fromstring(text.encode(), parser=html.HTMLParser(encoding="utf-8"))


def test_the_page_asks_for_nothing_from_outside_itself(page):
    _, text, tree = page
    assert not tree.xpath(
        "//script[@src] | //link[@rel!='icon'] | //iframe | //img | //object | //embed | //base | //form"
    )
    assert not [name for name in text.split() if re.match(r"on[a-z]+=", name)]
    asked = [
        value
        for element in tree.iter()
        for name, value in element.items()
        if name.rpartition("}")[2].rpartition(":")[2] in {"href", "src", "srcset", "action", "data", "poster"}
    ]
    assert asked
    ours = ("tables/findings.html", "tables/findings-since-operation.html")
    assert all(each.startswith("#") or each in {"data:,", *ours} for each in asked)
    assert all(each.startswith(('"data:font', "#")) for each in re.findall(r"url\(([^)]*)\)", text))
    assert "@import" not in text
    assert not re.findall(r"https?://(?!www\.w3\.org/)", text)


def test_the_answer_comes_first_and_everything_further_is_folded(page):
    _, _, tree = page
    assert tree.xpath("//main/*[1]/@id") == ["answer"]
    assert tree.xpath("//details/@id") == FOLDS
    assert not tree.xpath("//details[@open]")
    for fold in tree.xpath("//details"):
        assert len("".join(fold.itertext()).split()) > 5, fold.get("id")


def test_the_first_screen_has_the_main_table_one_picture_and_five_answers(files):
    tree = html.fromstring(files["whole"][0].read_bytes())
    first = tree.xpath("//section[@id='answer']")[0]
    assert first.xpath(".//table/@id") == ["table-main"]
    assert first.xpath(".//figure/@id") == ["chart-overview"]
    assert first.xpath(".//div/@data-answer") == ["differs", "alike", "open", "doubt", "unseen"]


def test_every_planned_difference_is_named_on_the_first_screen(files):
    first = " ".join(html.fromstring(files["whole"][0].read_bytes()).xpath("string(//section[@id='answer'])").split())
    decided = [each for each in of_family(COMPARISONS["whole"], "planned") if each.verdict in DECIDED]
    assert decided
    for each in decided:
        assert f"{PROTOCOL.measure(each.measure).label}: {each.verdict}" in first


def test_an_exploratory_row_carries_no_verdict():
    for each in COMPARISONS["whole"].findings:
        if each.family == "exploratory":
            assert verdict_words(each) == "–"


@pytest.mark.parametrize("word", UNWANTED)
def test_no_page_table_or_chart_uses_an_unwanted_word(files, word):
    for file in files["whole"]:
        if file.suffix in {".html", ".csv", ".svg"}:
            text = re.sub(r"base64,[^)]*|[\w+/=]{5000,}", "", file.read_text(encoding="utf-8"))
            assert word not in text.lower(), file.name


def test_headings_never_skip_a_level_and_ids_are_unique(page):
    _, _, tree = page
    levels = [int(element.tag[1]) for element in tree.xpath("//h1 | //h2 | //h3 | //h4")]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
    ids = tree.xpath("//@id")
    assert len(ids) == len(set(ids))


def test_tables_scroll_by_keyboard_and_have_a_name(page):
    _, _, tree = page
    regions = tree.xpath("//div[table]")
    assert len(regions) > 1
    for region in regions:
        assert region.get("tabindex") == "0"
        assert region.get("role") == "region"
        assert tree.xpath(f"//caption[@id='{region.get('aria-labelledby')}']")


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
    if text == "less than 1":
        assert value < 0.5, address
        return
    number = re.search(r"\d+(?:\.\d+)?", text).group()
    decimals = len(number.partition(".")[2])
    assert abs(abs(value) - float(number)) <= 0.5 * 10**-decimals + 1e-9, (address, text, value)
    negative = text.startswith("−") or text.endswith(("fewer", "less"))
    assert negative == (value < 0 and float(number) != 0), (address, text, value)


def test_every_warning_stands_among_the_reasons_for_caution(page):
    name, _, tree = page
    codes = [each.get("data-code") for each in tree.xpath("//details[@id='reasons']//li[@data-code]")]
    assert codes == [each.code for each in COMPARISONS[name].warnings]


def test_every_planned_measure_stands_in_one_of_the_first_three_answers():
    held = COMPARISONS["whole"]
    said = " ".join(plain(s) for each in answers(held, PROTOCOL)[:3] for s in each.sentences).lower()
    planned = [each for each in of_family(held, "planned") if seen(each)]
    assert planned
    for each in planned:
        assert PROTOCOL.measure(each.measure).label.lower() in said


def first_answer(held, name):
    (found,) = (each for each in answers(held, PROTOCOL) if each.id == name)
    return " ".join(plain(sentence) for sentence in found.sentences)


def test_what_can_turn_a_verdict_is_a_stronger_doubt_than_an_imbalance():
    imbalance = Caution("imbalance", (Fact("cohorts_differed", ("laxity",)),))
    apart = Caution("follow_up_differs", (Fact("reviewed_apart", ("notching",), (0.96, 0.29)),))
    median = Caution("follow_up_differs", (Fact("median_apart", numbers=(34.0, 13.0)),))
    nothing = Caution("no_overlap", (Fact("no_overlap"),))
    for warnings, first in (
        ((imbalance, apart), "Of lids due"),
        ((imbalance, median), "The cohorts differed"),
        ((imbalance, apart, nothing), "The covers do not overlap"),
        ((), "Covers were chosen because of the defect"),
    ):
        assert first_answer(replace(COMPARISONS["whole"], warnings=warnings), "doubt").startswith(first)


def test_more_lids_are_asked_for_only_where_too_few_were_measured():
    """0.37 could be found and 0.25 matters: more lids would tell. With 0.20 that could be found there were lids enough."""
    whole = COMPARISONS["whole"]
    for size, asked in ((0.37, True), (0.20, False)):
        findings = tuple(
            replace(each, could_find=size, important_difference=0.25) if each.could_find else each
            for each in whole.findings
        )
        assert (
            "lids measured with each cover would be needed" in first_answer(replace(whole, findings=findings), "open")
        ) is asked


def test_a_part_of_the_register_says_on_the_first_screen_that_it_is_one():
    whole = COMPARISONS["whole"]
    every = replace(whole, stamp=replace(whole.stamp, selection=()))
    for held, said in ((whole, True), (every, False)):
        assert ("This is a part of what the register holds (sites: NORTH)" in first_answer(held, "doubt")) is said


def test_what_came_from_the_register_is_escaped(files):
    text = files["whole"][0].read_text(encoding="utf-8")
    assert "oedema of the cover at six months &lt;masked&gt;" in text
    assert "<masked>" not in text


def test_every_method_has_its_source_and_every_scale_its_origin(page):
    _, _, tree = page
    methods = " ".join(tree.xpath("string(//details[@id='methods'])").split())
    assert [source for source in SOURCES if source not in methods] == []
    definitions = tree.xpath("string(//details[@id='definitions'])")
    own = [measure for measure in PROTOCOL.measures if "own scale" in PROTOCOL.value_field(measure).source]
    assert own
    assert definitions.count("own scale") >= len(own)


@pytest.mark.parametrize("word", ["significant", "trend towards", "trending", "statistically"])
def test_the_page_claims_no_more_than_it_may(page, word):
    assert word not in page[2].text_content().lower()


def test_the_page_says_that_it_is_no_advice(page):
    cautions = " ".join(page[2].xpath("string(//section[@id='answer'])").split())
    for words in ("past cases", "not advice", "clinician who treats", "licensed practice", "local governance"):
        assert words in cautions


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


def test_without_charts_there_is_the_page_with_its_tables_alone(tmp_path):
    files = write_report(COMPARISONS["whole"], PROTOCOL, tmp_path, charts=Charts(drawn=False))
    assert {file.suffix for file in files} == {".html", ".csv"}
    page = html.fromstring(files[0].read_bytes())
    assert not page.xpath("//figure | //script")
    assert page.xpath("//table[@id='table-main']")


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
    text = re.sub('<meta http-equiv="Content-Security-Policy"[^>]*>', "", page.read_text(encoding="utf-8"))
    spoilt = text.replace("</main>", '<img src="/elsewhere.png"></main>')
    (tmp_path / "spoilt.html").write_text(spoilt, encoding="utf-8")
    assert {url.rpartition("/")[2] for url in asked_by_the_page(tmp_path, "spoilt.html", tmp_path / "again.json")} == {
        "elsewhere.png"
    }
