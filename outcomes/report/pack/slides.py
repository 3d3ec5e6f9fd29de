"""The slides of a paper of six minutes: text, native tables and sharp pictures, with the numbers in the notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from pptx import Presentation
from pptx.dml.color import RGBColor
from pptx.enum.text import MSO_ANCHOR
from pptx.util import Emu, Inches, Pt

from outcomes.findings.results import Comparison
from outcomes.findings.study_facts import Congress
from outcomes.protocol import Protocol
from outcomes.report.finding_index import is_public
from outcomes.report.headline import limits_sentences, message, who_sentence
from outcomes.report.pack import tables as made
from outcomes.report.pack.figures import FigureOfPack, caption_of, curve_names
from outcomes.report.pack.manuscript import gap, is_told, limitations, notes_for, shown_results, verdicts
from outcomes.report.tables.baseline import adjustment_sentences
from outcomes.report.tables.model import Table
from outcomes.report.tables.reproducible_zip import as_property, written_again
from outcomes.report.tables.sensitivity import UNSEEN_NOTE
from outcomes.report.tables.writers.slide import FACE, Area, add_slide_table
from outcomes.report.text_layout import OFFICE, lines_of
from outcomes.report.traced_text import Phrase, plain

WIDTH, HEIGHT, EDGE = 13.333, 7.5, 0.6
TITLE = Area(EDGE, 0.4, WIDTH - 2 * EDGE, 1.0)
BODY = Area(EDGE, 1.5, WIDTH - 2 * EDGE, 5.1)
FOOT = Area(EDGE, 7.0, WIDTH - 2 * EDGE, 0.32)
INK, QUIET, BLUE = (RGBColor.from_string(each) for each in ("222222", "5C5C5C", "173F6B"))  # type: ignore[no-untyped-call]
BLANK = 6
LINE = 1.2


@dataclass(frozen=True)
class Slide:
    """One slide: its title, what it shows, and what the speaker is told."""

    title: str
    points: tuple[Phrase, ...] = ()
    table: Table | None = None
    picture: FigureOfPack | None = None
    notes: tuple[Phrase, ...] = ()


def slides(
    comparison: Comparison, facts: Congress, protocol: Protocol, figures: Sequence[FigureOfPack]
) -> tuple[Slide, ...]:
    """The slides in the order of a six-minute paper."""
    drawn = {figure.id: figure for figure in figures}
    window = protocol.window(protocol.primary_window).label
    primary = [each for each in shown_results(comparison, protocol) if is_told(each)]
    curve = next((drawn[name] for name in curve_names(protocol) if name in drawn), None)
    who = who_sentence(comparison)
    held = [
        Slide(
            "Skin graft or advanced skin over a tarsoconjunctival flap of the lower lid",
            (gap("names, place, interests declared"), who),
            notes=(who, gap("opening words")),
        ),
        Slide(
            "The question",
            (
                gap("why it matters"),
                ("Does a free skin graft or advanced lower-lid skin leave the better lid?",),
                (f"Main results: {_listed(protocol)}, {window} after division of the pedicle.",),
            ),
            notes=(gap("one sentence on what is known"),),
        ),
        Slide(
            "Who was counted",
            table=_or_none(made.talk_flow_table(facts)),
            notes=(("Every step with its reasons is in figures/flow and tables/flow.",),),
        ),
        Slide(
            "How alike the cohorts were",
            table=_or_none(made.talk_baseline_table(comparison, protocol)),
            notes=adjustment_sentences(comparison),
        ),
        Slide(
            "How the covers were compared",
            (
                (f"Day 0 is the day of division; the main review is {window} after it.",),
                ("Lids of one patient are not independent: every interval allows for it.",),
                ("Differences are adjusted for the characteristics recorded before operation.",),
                (
                    "Verdicts allow for how many comparisons were planned; may be better means that they would not survive that.",
                ),
            ),
            notes=limits_sentences(comparison),
        ),
        Slide(
            "Main results",
            table=_or_none(made.talk_main_table(comparison, protocol)),
            notes=notes_for(primary, protocol),
        ),
        Slide(
            message(comparison, protocol),
            picture=drawn.get("overview"),
            notes=notes_for(primary, protocol),
        ),
        Slide(
            "What the lids not seen could change",
            table=_or_none(made.talk_unseen_table(comparison, protocol)),
            notes=((UNSEEN_NOTE,),),
        ),
        Slide(
            f"In time: {curve.title[0].lower()}{curve.title[1:]}" if curve else "In time",
            picture=curve,
            notes=curve.caption if curve else (),
        ),
        Slide(
            "Events",
            table=_or_none(made.talk_happened_table(comparison, facts, protocol)),
            notes=made.happened_table(facts, protocol, public=is_public(comparison)).notes,
        ),
        Slide("What limits this series", limitations(comparison)[:-1], notes=limitations(comparison)),
        Slide(
            "What may be said",
            (*verdicts(comparison, protocol), gap("what follows from this, and what does not")),
            notes=(
                ("The verdicts are those of the register's fixed rule. They report past cases and give no advice.",),
            ),
        ),
    ]
    return tuple(each for each in held if each.points or each.table or each.picture)


def _listed(protocol: Protocol) -> str:
    from outcomes.report.formats import in_list

    return in_list([measure.label.lower() for measure in protocol.main_measures])


def _or_none(table: Table) -> Table | None:
    return table if table.rows else None


def write_talk(held: Sequence[Slide], path: Path, *, stamp: str, as_of: date, sharp: Path) -> Path:
    """Write the slides; pictures are taken from the folder of figures for print."""
    show = Presentation()
    show.slide_width, show.slide_height = Inches(WIDTH), Inches(HEIGHT)
    for number, each in enumerate(held, start=1):
        _add(show, each, number, stamp, sharp)
    told = show.core_properties
    told.title, told.author, told.comments = as_property(held[0].title), "", as_property(stamp)
    told.last_modified_by, told.revision = "", 1
    told.created = told.modified = _noon(as_of)
    show.save(str(path))
    return written_again(path)


def _noon(day: date) -> Any:  # noqa: ANN401 - what the library asks for is a datetime without a zone
    from datetime import datetime

    return datetime(day.year, day.month, day.day, 12)  # noqa: DTZ001 - the library takes no zone


def _add(show: Any, held: Slide, number: int, stamp: str, sharp: Path) -> None:  # noqa: ANN401 - the library's own show
    slide = show.slides.add_slide(show.slide_layouts[BLANK])
    _band(slide)
    _write(slide, "title", TITLE, ((held.title,),), Letters(28, bold=True))
    if held.points:
        _write(slide, "points", BODY, held.points, Letters(_fitting(held.points, BODY), air=0.6))
    if held.table:
        add_slide_table(slide, held.table, BODY)
    if held.picture:
        _picture(slide, held.picture, sharp)
    _write(slide, "stamp", FOOT, ((f"{number}   {stamp}",),), Letters(8, colour=QUIET))
    slide.notes_slide.notes_text_frame.text = "\n".join(plain(each) for each in (*held.notes, (stamp,)))


def _band(slide: Any) -> None:  # noqa: ANN401 - the library's own slide
    shape = slide.shapes.add_shape(1, 0, 0, Inches(0.14), Inches(HEIGHT))
    shape.fill.solid()
    shape.fill.fore_color.rgb = BLUE
    shape.line.fill.background()
    shape.name = "edge"


@dataclass(frozen=True)
class Letters:
    """How some text is written: its size, whether bold, its colour, and the air after a paragraph in parts of the size."""

    size: float
    bold: bool = False
    colour: RGBColor = INK
    air: float = 0.0


def _write(slide: Any, name: str, area: Area, phrases: Sequence[Phrase], letters: Letters) -> None:  # noqa: ANN401 - the library's own slide
    box = slide.shapes.add_textbox(Inches(area.left), Inches(area.top), Inches(area.width), Inches(area.height))
    box.name = name
    frame = box.text_frame
    frame.word_wrap, frame.vertical_anchor = True, MSO_ANCHOR.TOP
    frame.margin_left = frame.margin_right = Emu(0)
    for number, phrase in enumerate(phrases):
        paragraph = frame.paragraphs[0] if not number else frame.add_paragraph()
        paragraph.space_after = Pt(letters.size * letters.air)
        run = paragraph.add_run()
        run.text = plain(phrase)
        run.font.size, run.font.bold, run.font.name = Pt(letters.size), letters.bold, FACE
        run.font.color.rgb = letters.colour


def _fitting(phrases: Sequence[Phrase], area: Area) -> float:
    """The largest letters with which the paragraphs fit."""
    for size in (24, 22, 20, 18, 16, 15, 14, 13, 12, 11):
        lines = sum(lines_of(plain(each), area.width * 72, OFFICE * size) for each in phrases)
        if (lines * LINE + 0.6 * len(phrases)) * size / 72 <= area.height:
            return size
    return 10


def _picture(slide: Any, figure: FigureOfPack, sharp: Path) -> None:  # noqa: ANN401 - the library's own slide
    wide = max(figure.pictures)
    held = figure.pictures[wide].plate
    scale = min(BODY.width / held.width, BODY.height / held.height)
    width, height = held.width * scale, held.height * scale
    left = EDGE + (BODY.width - width) / 2
    shown = slide.shapes.add_picture(
        str(sharp / f"{figure.id}-{wide}mm.png"), Inches(left), Inches(BODY.top), Inches(width), Inches(height)
    )
    shown.name = f"figure {figure.id}"
    words = f"{figure.title}. {caption_of(figure)}"
    shown._element._nvXxPr.cNvPr.set("descr", words)  # noqa: SLF001 - the library has no way of its own
