"""Every number that the pack prints, in every file, is the number of comparison.json at its address."""

import csv
import io
import json
import re

import pytest
from docx import Document
from lxml import etree
from pptx import Presentation
from pypdf import PdfReader

from outcomes.protocol import default_protocol
from outcomes.report.pack.citations import SOURCES
from tests.report.pack.reading import (
    NUMBER,
    agrees,
    csv_table,
    html_table,
    in_print,
    latex_cells,
    same,
    slide_tables,
    value_at,
    word_table,
)

PROTOCOL = default_protocol()
TABLES = (
    "flow",
    "baseline",
    "main",
    "planned",
    "further",
    "timing",
    "means",
    "events",
    "cohorts",
    "followed",
    "checks",
    "unseen",
)


def tree_of(folder):
    return json.loads((folder / "comparison.json").read_text(encoding="utf-8"))


def numbers_of(folder):
    return list(csv.DictReader(io.StringIO((folder / "numbers.csv").read_text(encoding="utf-8-sig"), newline="")))


@pytest.fixture(params=[False, True, "journal"], ids=["own eyes", "public", "journal"])
def folder(packs, request):
    return packs[request.param]


def test_every_listed_number_is_the_value_at_its_address(folder):
    tree, rows = tree_of(folder), numbers_of(folder)
    assert len(rows) > 300
    wrong = []
    for row in rows:
        value = value_at(tree, row["id"])
        if isinstance(value, dict):
            continue
        if not agrees(row["printed"], in_print(tree, row["id"])):
            wrong.append((row["id"], row["printed"], value))
    assert wrong == []


def test_no_cell_of_a_table_holds_a_digit_that_is_neither_listed_nor_a_word_of_the_protocol(folder):
    listed = {}
    for row in numbers_of(folder):
        listed.setdefault(row["file"], set()).add(same(row["printed"]))
    for path in sorted((folder / "tables").glob("*.csv")):
        if path.stem in {"definitions", "timed_definitions"}:
            continue
        known = sorted(listed.get(f"tables/{path.stem}", ()), key=len, reverse=True)
        for row in csv_table(path):
            for cell in row:
                left = cell
                for words in (*PROTOCOL_WORDS, *known):
                    left = left.replace(words, " ")
                assert not re.search(r"\d", left), (path.name, cell, left)


def _protocol_words():
    """Everything with a digit that a table takes from the protocol, from labels and from the names of cases' characteristics."""
    words = {PROTOCOL.poor_words(measure) for measure in PROTOCOL.measures}
    words |= {level for field in PROTOCOL.fields for level in field.levels}
    words |= (
        {f"assessor {number}" for number in range(1, 9)} | {f"surgeon {number}" for number in range(1, 9)} | {"in 100"}
    )
    return sorted((same(word) for word in words if re.search(r"\d", word)), key=len, reverse=True)


PROTOCOL_WORDS = _protocol_words()


def test_the_forms_of_a_table_say_the_same_cell_by_cell(folder):
    found = 0
    for path in sorted((*(folder / "tables").glob("*.csv"), *(folder / "checklists").glob("*.csv"))):
        rows = csv_table(path)
        page, figures = html_table(path.with_suffix(".html"), len(rows[0]))
        assert page == rows, path.name
        assert word_table(path.with_suffix(".docx")) == rows, path.name
        assert latex_cells(path.with_suffix(".tex").read_text(encoding="utf-8")) == rows, path.name
        tree = tree_of(folder)
        for address, text in figures:
            value = value_at(tree, address)
            assert isinstance(value, dict) or agrees(text, in_print(tree, address)), (path.name, address, text)
        found += 1
    assert found >= 10


def test_the_tables_on_slides_are_those_numbers_too(folder):
    listed = {same(row["printed"]) for row in numbers_of(folder) if row["file"] == "slides/talk"}
    found = slide_tables(folder / "slides" / "talk.pptx")
    assert {"talk-flow", "talk-baseline"} <= set(found)
    assert any(name.startswith("talk-results") for name in found)
    for name, rows in found.items():
        for row in rows[1:]:
            for cell in row[1:]:
                left = cell
                for words in (*PROTOCOL_WORDS, *sorted(listed, key=len, reverse=True)):
                    left = left.replace(words, " ")
                if "(n" not in cell:
                    assert not re.search(r"\d", left), (name, cell)


def test_words_hold_no_number_but_those_listed_those_of_the_protocol_and_the_stamp(folder):
    stamp = same((folder / "words" / "limitations.txt").read_text(encoding="utf-8").strip().splitlines()[-1])
    for name in ("abstract", "limitations"):
        listed = sorted(
            {same(r["printed"]) for r in numbers_of(folder) if r["file"] == f"words/{name}"}, key=len, reverse=True
        )
        text = same((folder / "words" / f"{name}.txt").read_text(encoding="utf-8")).replace(stamp, "")
        warnings = [same(each["text"]) for each in tree_of(folder)["warnings"]]
        for words in (*warnings, *PROTOCOL_WORDS, *(same(each) for each in SOURCES.values()), *listed):
            text = text.replace(words, " ")
        assert not re.search(r"\d", text.replace("Day 0", "")), (name, text)


def test_the_word_forms_of_the_words_say_what_the_text_says(folder):
    for path in sorted((folder / "words").glob("*.txt")):
        said = same(" ".join(p.text for p in Document(str(path.with_suffix(".docx"))).paragraphs))
        text = same(" ".join(path.read_text(encoding="utf-8").strip().splitlines()[:-1]))
        assert said == text


def test_every_number_drawn_in_a_figure_is_the_value_at_its_address(folder):
    tree, drawn = tree_of(folder), 0
    for path in sorted((folder / "figures").glob("*.svg")):
        for element in etree.parse(path).iter():
            address = element.get("data-id")
            if not address or not (element.text or "").strip():
                continue
            value, text = value_at(tree, address), same(element.text)
            if isinstance(value, dict):
                parts = [in_print(tree, f"{address}.{part}") for part in ("estimate", "low", "high")]
                said = NUMBER.findall(text)
                assert len(said) in {1, 3}, text
                assert all(agrees(one, part) for one, part in zip(said, parts, strict=False)), (path.name, text, parts)
            else:
                assert agrees(text, in_print(tree, address)), (path.name, text, value)
            drawn += 1
    assert drawn > 60


def test_the_figures_at_both_widths_draw_the_same_numbers(folder):
    for narrow in sorted((folder / "figures").glob("*-85mm.svg")):
        wide = narrow.with_name(narrow.name.replace("-85mm", "-175mm"))
        both = [{e.get("data-id") for e in etree.parse(path).iter() if e.get("data-id")} for path in (narrow, wide)]
        assert both[0] <= both[1], narrow.name


def test_the_poster_prints_only_numbers_of_the_pack(folder):
    text = same(" ".join(page.extract_text() for page in PdfReader(folder / "poster" / "poster.pdf").pages))
    listed = {same(row["printed"]) for row in numbers_of(folder)}
    allowed = {number.lstrip("+-<") for each in listed for number in NUMBER.findall(each)}
    allowed |= {number.lstrip("+-<") for words in PROTOCOL_WORDS for number in NUMBER.findall(words)}
    allowed |= {number for each in tree_of(folder)["warnings"] for number in NUMBER.findall(each["text"])}
    stamp = (folder / "figures" / "captions.txt").read_text(encoding="utf-8").strip().splitlines()[-1]
    allowed |= {number.lstrip("+-<") for number in NUMBER.findall(same(stamp) + " 30 June 2026 2026-06-30")}
    axis = {f"{number:g}" for number in (*range(0, 101, 5), *(n / 10 for n in range(40)))} | {
        f"{n / 10:.1f}" for n in range(40)
    }
    months = {str(n) for n in range(121)}
    found = {number.lstrip("+-<") for number in NUMBER.findall(text)}
    assert found - allowed - axis - months - {"1w", "6m"} == set()


def test_speaker_notes_hold_the_exact_numbers_of_every_main_result(packs):
    tree = tree_of(packs[False])
    notes = " ".join(
        s.notes_slide.notes_text_frame.text for s in Presentation(str(packs[False] / "slides" / "talk.pptx")).slides
    )
    primary = [each for each in tree["findings"] if each["family"] == "planned"]
    assert len(primary) == 3
    for each in primary:
        for cohort in ("grafted", "advanced"):
            measured = each[cohort].get("events", "")
            said = f"{measured} of {each[cohort]['n']} lids" if measured != "" else f"in {each[cohort]['n']} lids"
            assert said in notes
