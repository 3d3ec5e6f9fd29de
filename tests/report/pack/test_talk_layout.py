"""The talk keeps to its places in Arial and in letters a tenth wider, and nothing on it stands half empty.

The text is laid out again here, with the widths that Adobe published for Helvetica and another way of breaking lines.
"""

import itertools
import math
import re
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from pptx import Presentation
from pypdf import PdfReader
from pypdf._codecs.core_font_metrics import CORE_FONT_METRICS

from outcomes.cli.pack import gathered
from outcomes.cohort import Choice
from outcomes.findings import Selection
from outcomes.report.charts.catalogue import all_figures
from outcomes.report.finding_index import DECIDED
from outcomes.report.pack.abstract import abstract
from outcomes.report.pack.assembly import PackRequest
from outcomes.report.pack.figures import FigureOfPack, in_print
from outcomes.report.pack.poster import poster_data, write_poster
from outcomes.report.pack.slides import Slide, slides
from outcomes.report.pack.talk_file import LEAST, body_of, fitted, slide_picture, write_talk
from outcomes.report.pack.talk_tables import talk_result_tables, talk_unseen_table
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import plain
from outcomes.store import Source, freeze
from tests.rows import register_at
from tests.whole.planted import edges

EMU = 914400
WIDER = 1.1
LINE = 1.17  # the height of a line of Arial, and of DejaVu Sans, in parts of its size: from memory, measured in a word processor
FOOT, SLIDE_HEIGHT = 7.05, 7.5
CORE = {False: CORE_FONT_METRICS["Helvetica"], True: CORE_FONT_METRICS["Helvetica-Bold"]}


def width_of(text, size, *, bold):
    widths = CORE[bold].character_widths
    return sum(widths.get(letter.replace("\u00a0", " "), 1000) for letter in text) * WIDER * size / 1000


def broken(text, room, size, *, bold):
    """The lines of a paragraph; a word wider than the room is broken, and named."""
    lines, split = [""], []
    for word in re.split(" ", text):
        trial = f"{lines[-1]} {word}".strip(" ")
        if width_of(trial, size, bold=bold) > room and lines[-1]:
            lines.append(word)
        else:
            lines[-1] = trial
        if width_of(word, size, bold=bold) > room:
            split.append(word)
            lines.extend([""] * math.floor(width_of(word, size, bold=bold) / room))
    return lines, split


def laid(frame, width):
    """The height of a frame's text in inches, and the words that it breaks."""
    height, split = 0.0, []
    for paragraph in frame.paragraphs:
        if not paragraph.runs:
            continue
        (run,) = paragraph.runs
        size = run.font.size.pt
        lines, words = broken(run.text, width * 72, size, bold=bool(run.font.bold))
        split += words
        height += (len(lines) * LINE * size + (paragraph.space_after.pt if paragraph.space_after else 0)) / 72
    return height, split


def faults(path):
    """Where text leaves its place, a word is broken, or two places lie over each other."""
    found = []
    for number, slide in enumerate(Presentation(str(path)).slides, start=1):
        places = []
        for shape in slide.shapes:
            top, height, width = (each / EMU for each in (shape.top, shape.height, shape.width))
            if shape.has_text_frame and shape.name in {"title", "points"}:
                height, split = laid(shape.text_frame, width)
                found += [(number, shape.name, "breaks", word) for word in split]
                height += 0.05
            elif shape.has_table:
                height, split = table_height(shape.table)
                found += [(number, shape.name, "breaks", word) for word in split]
            elif shape.name == "stamp":
                height, _ = laid(shape.text_frame, width)
                if top + height > SLIDE_HEIGHT:
                    found.append((number, shape.name, "leaves", "the slide"))
            elif shape.shape_type != 13:
                continue
            places.append((top, top + height, shape.name))
        places.sort()
        for (_, end, name), (start, _, other) in itertools.pairwise(places):
            if end > start + 0.02:
                found.append((number, name, "runs into", other, round(end - start, 2)))
    return found


def table_height(grid):
    across = [column.width / EMU for column in grid.columns]
    height, split = 0.0, []
    for row in grid.rows:
        least = row.height / EMU
        for at, cell in enumerate(row.cells):
            if cell.is_spanned:
                continue
            room = sum(across[at : at + (cell.span_width if cell.is_merge_origin else 1)]) - 0.14
            needs, words = laid(cell.text_frame, room)
            split += words
            least = max(least, needs + (cell.margin_top + cell.margin_bottom) / EMU)
        height += least
    return height, split


@pytest.mark.parametrize("which", [False, True, "journal"], ids=["own eyes", "public", "journal"])
def test_nothing_leaves_its_place_in_letters_a_tenth_wider_than_arial(packs, which):
    assert faults(packs[which] / "slides" / "talk.pptx") == []


def test_text_that_leaves_its_place_is_seen(packs, tmp_path):
    show = Presentation(str(packs[False] / "slides" / "talk.pptx"))
    for slide in show.slides:
        for shape in slide.shapes:
            if shape.has_text_frame and shape.name == "points":
                shape.text_frame.paragraphs[0].runs[0].text *= 12
            if shape.has_table:
                shape.table.columns[1].width //= 6
    show.save(tmp_path / "talk.pptx")
    said = {each[2] for each in faults(tmp_path / "talk.pptx")}
    assert said == {"breaks", "runs into"}


LONG = "Universitätsaugenklinik-Nordwest-mit-angeschlossener-Tagesklinik Dr. Bartholomäus-Featherstonehaugh"


def test_a_stamp_that_names_many_sites_stays_on_the_slide_and_under_the_text(helds, tmp_path):
    whole = helds[False]
    mark = replace(whole.comparison.stamp, selection=(Choice("sites", tuple(f"{LONG[:50]} {at}" for at in range(6))),))
    write_talk(fitted([Slide(("Title",), points=((LONG,),) * 40)]), tmp_path / "talk.pptx", mark)
    assert [each for each in faults(tmp_path / "talk.pptx") if each[2] != "breaks"] == []


@pytest.mark.parametrize("rows", [1, 2, 9, 40])
def test_long_names_and_many_rows_go_on_over_the_next_slide(helds, tmp_path, rows):
    columns = (
        Column("name", "Name of the site and of the surgeon"),
        *(Column(n, n.title(), "right") for n in ("grafted", "advanced")),
    )
    table = Table(
        "long", "Long", columns, tuple(Row(((f"{LONG} {at}",), ("12 of 345",), ("0",))) for at in range(rows))
    )
    shown = fitted([Slide((LONG,), table=table), Slide(("Title",), points=tuple((LONG * 2,) for _ in range(rows)))])
    write_talk(shown, tmp_path / "talk.pptx", helds[False].comparison.stamp)
    found = [each for each in faults(tmp_path / "talk.pptx") if each[2] != "breaks"]
    assert found == []
    assert sum(len(each.table.rows) for each in shown if each.table) == rows
    assert sum(len(each.points) for each in shown) == rows


@pytest.mark.parametrize("which", [False, True, "journal"], ids=["own eyes", "public", "journal"])
def test_no_letter_of_a_picture_on_a_slide_is_smaller_than_18_points(helds, packs, which):
    held = helds[which]
    figures = [
        FigureOfPack(each.id, each.title, each.caption, {}, each)
        for each in all_figures(held.comparison, held.protocol)
        if not each.single_lids
    ]
    shown = [each for each in fitted(slides(held.comparison, held.facts, held.protocol, figures)) if each.drawn]
    assert shown
    widths = {
        shape.name.removeprefix("figure "): shape.width / EMU * 72
        for slide in Presentation(str(packs[which] / "slides" / "talk.pptx")).slides
        for shape in slide.shapes
        if shape.shape_type == 13
    }
    assert set(widths) == {each.drawn.id for each in shown}
    for each in shown:
        sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)(?:px)?"', each.drawn.plate.inner)]
        assert min(sizes) * widths[each.drawn.id] / each.drawn.plate.width >= LEAST - 0.01, each.drawn.id


def test_a_picture_too_high_for_its_letters_is_left_out(helds):
    held = helds[False]
    overview = next(each for each in all_figures(held.comparison, held.protocol) if each.id == "overview")
    place = body_of(Slide(("Title",)))
    assert slide_picture(overview, place) is not None
    assert slide_picture(overview, replace(place, height=0.8)) is None


@pytest.mark.parametrize("which", [False, True, "journal"], ids=["own eyes", "public", "journal"])
def test_no_slide_is_half_empty(packs, which):
    for number, slide in enumerate(Presentation(str(packs[which] / "slides" / "talk.pptx")).slides, start=1):
        ends = [0.0]
        for shape in slide.shapes:
            if shape.has_text_frame and shape.name in {"title", "points"}:
                ends.append(shape.top / EMU + laid(shape.text_frame, shape.width / EMU)[0] / WIDER)
            elif shape.has_table or shape.shape_type == 13:
                ends.append((shape.top + shape.height) / EMU)
        assert max(ends) > 0.55 * FOOT, (number, slide.shapes.title.text_frame.text)


def test_titles_of_result_slides_name_the_verdict_and_each_measure_once(helds):
    for held in helds.values():
        named = []
        for group in talk_result_tables(held.comparison, held.protocol):
            title, table, findings = group.title, group.table, group.findings
            assert all(each.verdict is None or each.verdict in title.lower() for each in findings)
            named += [each.measure for each in findings]
            assert len(table.rows) == len(findings)
            assert all(held.protocol.measure(each.measure).label.lower() in title.lower() for each in findings)
        assert len(named) == len(set(named))


def test_the_slide_of_lids_not_measured_holds_only_differences_that_were_found(helds):
    for held in helds.values():
        table = talk_unseen_table(held.comparison, held.protocol)
        assert [each.id for each in table.columns][-1] == "tipping"
        told = {plain(row.cells[0]).split(",")[0].split(":")[0] for row in table.rows}
        decided = {
            held.protocol.measure(each.measure).label for each in held.comparison.findings if each.verdict in DECIDED
        }
        assert told <= decided


def test_tables_and_pictures_say_their_result_to_those_who_cannot_see_them(packs):
    show = Presentation(str(packs[False] / "slides" / "talk.pptx"))
    for slide in show.slides:
        for shape in slide.shapes:
            if shape.has_table:
                words = shape._element.nvGraphicFramePr.cNvPr.get("descr")
                assert words.startswith(slide.shapes.title.text_frame.text[:40])
            if shape.shape_type == 13:
                words = shape._element._nvXxPr.cNvPr.get("descr")
                assert words.startswith(slide.shapes.title.text_frame.text)
                assert re.search(r"\d", words)


def test_the_language_of_every_run_is_told(packs):
    name = "{http://schemas.openxmlformats.org/drawingml/2006/main}"
    for slide in Presentation(str(packs[False] / "slides" / "talk.pptx")).slides:
        runs = list(slide._element.iter(f"{name}r"))
        assert runs
        assert {run.find(f"{name}rPr").get("lang") for run in runs} == {"en-GB"}


BARE = ("no_cases", "one_cohort_empty", "everybody_lost", "nobody_divided", "one_case_each")


@pytest.mark.parametrize("edge", BARE)
def test_a_register_with_nothing_to_say_makes_a_talk_and_a_poster_that_say_so(edge, tmp_path):
    register = register_at(tmp_path / "register.duckdb", getattr(edges, edge)())
    freeze(register, "bare", source=Source("", "", "test", "for a talk"), at=datetime(2026, 6, 30, 9, tzinfo=UTC))
    chosen = Selection(date(2026, 6, 30))
    held = gathered(register, "bare", chosen, PackRequest(chosen, "own eyes", "", 250))
    figures = [in_print(each) for each in all_figures(held.comparison, held.protocol) if not each.single_lids]
    shown = fitted(slides(held.comparison, held.facts, held.protocol, figures))
    write_talk(shown, tmp_path / "talk.pptx", held.comparison.stamp)
    assert faults(tmp_path / "talk.pptx") == []
    assert plain(shown[-1].title) == "In conclusion: which cover is better cannot be told from these lids"
    drafted = abstract(held.comparison, held.facts, held.protocol, limit=250)
    write_poster(
        tmp_path / "poster.pdf", poster_data(held.comparison, held.facts, held.protocol, figures, drafted=drafted)
    )
    (page,) = PdfReader(tmp_path / "poster.pdf").pages
    assert "Which cover is better cannot be told from these lids" in " ".join(page.extract_text().split())
