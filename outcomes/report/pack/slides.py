"""The slides of a paper of six minutes: text, native tables and sharp pictures, with the numbers in the notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any

from pptx import Presentation
from pptx.dml.color import RGBColor
from pptx.enum.text import MSO_ANCHOR, PP_ALIGN
from pptx.oxml.ns import qn
from pptx.util import Emu, Inches, Pt

from outcomes.findings.results import Comparison, Stamp
from outcomes.findings.study_facts import Congress
from outcomes.protocol import COHORTS, Protocol
from outcomes.report import formats
from outcomes.report.charts.drawing import picture, standing_alone
from outcomes.report.charts.theme import SLIDE
from outcomes.report.finding_index import is_public, timed_place
from outcomes.report.headline import (
    NOT_RANDOM,
    family_sentences,
    limits_sentences,
    message,
    question_sentence,
    who_sentence,
)
from outcomes.report.pack import tables as made
from outcomes.report.pack.figures import FigureOfPack, curve_names
from outcomes.report.pack.manuscript import gap, is_told, limitations, notes_for, shown_results, verdicts
from outcomes.report.stamp import stamp_line
from outcomes.report.tables.baseline import adjustment_sentences
from outcomes.report.tables.model import Table
from outcomes.report.tables.reproducible_zip import as_property, written_again
from outcomes.report.tables.sensitivity import UNSEEN_NOTE
from outcomes.report.tables.writers.slide import FACE, Area, add_slide_table, in_parts
from outcomes.report.text_layout import OFFICE, lines_of
from outcomes.report.traced_text import Phrase, Place, plain, say
from outcomes.report.typst_render import drawing, png
from outcomes.report.warning_words import caution_words

WIDTH, HEIGHT, EDGE = 13.333, 7.5, 0.6
TITLE = Area(EDGE, 0.35, WIDTH - 2 * EDGE, 1.05)
BODY = Area(EDGE, 1.5, WIDTH - 2 * EDGE, 5.4)
FOOT = Area(EDGE, 7.05, WIDTH - 2 * EDGE, 0.3)
INK, QUIET, BLUE = (RGBColor.from_string(each) for each in ("222222", "5C5C5C", "173F6B"))  # type: ignore[no-untyped-call]
TEXT_LAYOUT, TITLE_LAYOUT = 1, 5
TITLE_PLACE, BODY_PLACE = 0, 1
LINE, PPI = 1.2, 220
SIZES = (28, 26, 24, 22, 20, 18)


@dataclass(frozen=True)
class Slide:
    """One slide: its title, which says its message; what it shows; what the speaker says."""

    title: Phrase
    points: tuple[Phrase, ...] = ()
    table: Table | None = None
    picture: FigureOfPack | None = None
    notes: tuple[Phrase, ...] = ()


def slides(
    comparison: Comparison, facts: Congress, protocol: Protocol, figures: Sequence[FigureOfPack]
) -> tuple[Slide, ...]:
    """The slides in the order of a six-minute paper; a table that is too high goes on over the next slide."""
    drawn = {figure.id: figure for figure in figures}
    who, window = who_sentence(comparison), protocol.window(protocol.primary_window).label
    told = [each for each in shown_results(comparison, protocol) if is_told(each)]
    every = [
        Slide(
            ("Skin graft or advanced skin over a tarsoconjunctival flap of the lower lid",),
            (gap("names, place, interests declared"), who, (question_sentence(protocol),)),
            notes=(who, gap("opening words")),
        ),
        Slide(
            ("Does a free skin graft or advanced lower-lid skin leave the better lid?",),
            (
                gap("why it matters"),
                (f"Main measures: {_listed(protocol)}.",),
                (f"Main review: {window} after division of the pedicle, which is day 0.",),
                ("Lids of one patient are not independent: every interval allows for it.",),
                ("Differences are adjusted for the characteristics recorded before operation.",),
                ("Verdicts allow for how many comparisons were planned.",),
            ),
            notes=limits_sentences(comparison),
        ),
        Slide(
            _compared(comparison),
            table=_or_none(made.talk_flow_table(facts, protocol)),
            notes=(("Every step with its reasons is in figures/flow and tables/flow.",),),
        ),
        Slide(
            (_balance_message(comparison),),
            table=_or_none(made.talk_baseline_table(comparison, protocol)),
            notes=adjustment_sentences(comparison),
        ),
        Slide((message(comparison, protocol),), picture=drawn.get("overview"), notes=notes_for(told, protocol)),
        Slide(
            family_sentences(comparison)[0] if comparison.families else ("Main results",),
            table=_or_none(made.talk_main_table(comparison, protocol)),
            notes=notes_for(told, protocol),
        ),
        Slide(
            ("How much worse the lids not measured would have to be for a difference to vanish",),
            table=_or_none(made.talk_unseen_table(comparison, protocol)),
            notes=((UNSEEN_NOTE,),),
        ),
        *_in_time(comparison, protocol, drawn),
        Slide(
            ("Complications and revisions: counts, not rates",),
            table=_or_none(made.talk_happened_table(comparison, facts, protocol)),
            notes=made.happened_table(facts, protocol, public=is_public(comparison)).notes,
        ),
        Slide(
            ("What limits this series",),
            (*((caution_words(each),) for each in comparison.warnings[:MOST_LIMITS]), (NOT_RANDOM,)),
            notes=limitations(comparison),
        ),
        Slide(
            ("What may be said, and what not",),
            (*verdicts(comparison, protocol), (NOT_RANDOM,), gap("what follows from this, and what does not")),
            notes=(
                ("The verdicts are those of the register's fixed rule. They report past cases and give no advice.",),
            ),
        ),
    ]
    shown = [each for each in every if each.points or each.table or each.picture]
    return tuple(part for each in shown for part in _in_parts(each))


MOST_LIMITS = 4


def _in_parts(slide: Slide) -> tuple[Slide, ...]:
    if slide.table is None:
        return (slide,)
    parts = in_parts(slide.table, BODY)
    return tuple(
        replace(slide, table=part, title=slide.title if not at else (*slide.title, " (continued)"))
        for at, part in enumerate(parts)
    )


def _compared(comparison: Comparison) -> Phrase:
    counts = (Place(cohort, getattr(comparison, cohort)).figure("cases", formats.count) for cohort in COHORTS)
    return say("{} lids with a skin graft and {} with advanced skin, and those lost at each step", *counts)


def _balance_message(comparison: Comparison) -> str:
    if any(each.code == "imbalance" for each in comparison.warnings):
        return "The cohorts differed before operation; weighting makes them alike in what was recorded"
    return "The cohorts were alike before operation in what was recorded"


def _in_time(comparison: Comparison, protocol: Protocol, drawn: dict[str, FigureOfPack]) -> tuple[Slide, ...]:
    """One event in time, with its verdict in the title."""
    name = next((each for each in curve_names(protocol) if each in drawn), None)
    if name is None:
        return ()
    timed = next((each for each in protocol.timed if name == f"curve-{each.id.replace('_', '-')}"), None)
    found = next((each for each in comparison.timing if timed and each.event == timed.id and each.verdict), None)
    title: Phrase = (drawn[name].title,)
    if timed is not None and found is not None:
        title = say(
            "{} by {} months: {}",
            timed.label,
            timed_place(found).figure("at_months", formats.count),
            found.verdict or "",
        )
    return (Slide(title, picture=drawn[name], notes=drawn[name].caption),)


def _listed(protocol: Protocol) -> str:
    return formats.in_list([measure.label.lower() for measure in protocol.main_measures])


def _or_none(table: Table) -> Table | None:
    return table if table.rows else None


def write_talk(shown: Sequence[Slide], path: Path, stamp: Stamp) -> Path:
    """Write the slides in layouts with a place for the title, the text under it, and the stamp at the foot."""
    show, line = _template(), stamp_line(stamp)
    for number, each in enumerate(shown, start=1):
        _add(show, each, f"{number}   {line}", line)
    properties = show.core_properties
    properties.title, properties.author, properties.comments = as_property(plain(shown[0].title)), "", as_property(line)
    properties.last_modified_by, properties.revision, properties.language = "", 1, "en-GB"
    properties.created = properties.modified = _noon(stamp.as_of)
    show.save(str(path))
    return written_again(path)


def _noon(day: date) -> Any:  # noqa: ANN401 - what the library asks for is a datetime without a zone
    from datetime import datetime

    return datetime(day.year, day.month, day.day, 12)  # noqa: DTZ001 - the library takes no zone


def _template() -> Any:  # noqa: ANN401 - the library's own show
    """A wide show whose two layouts have their places where ours are, and no others."""
    show = Presentation()
    show.slide_width, show.slide_height = Inches(WIDTH), Inches(HEIGHT)
    places = {TITLE_PLACE: TITLE, BODY_PLACE: BODY}
    for owner in (show.slide_master, *(show.slide_layouts[at] for at in (TEXT_LAYOUT, TITLE_LAYOUT))):
        for shape in list(owner.placeholders):
            area = places.get(shape.placeholder_format.idx)
            if area is None:
                shape._element.getparent().remove(shape._element)  # noqa: SLF001 - the library has no way of its own
                continue
            shape.left, shape.top, shape.width, shape.height = (
                Inches(part) for part in (area.left, area.top, area.width, area.height)
            )
    return show


def _add(show: Any, shown: Slide, foot: str, stamp: str) -> None:  # noqa: ANN401 - the library's own show
    slide = show.slides.add_slide(show.slide_layouts[TEXT_LAYOUT if shown.points else TITLE_LAYOUT])
    _band(slide)
    title = slide.shapes.title
    title.name = "title"
    _write(title, (shown.title,), Letters(_fitting((shown.title,), TITLE, bold=True), bold=True, colour=BLUE))
    if shown.points:
        body = slide.placeholders[BODY_PLACE]
        body.name = "points"
        _write(body, shown.points, Letters(_fitting(shown.points, BODY), air=0.5))
    if shown.table:
        add_slide_table(slide, shown.table, BODY)
    if shown.picture:
        _picture(slide, shown.picture, stamp)
    box = slide.shapes.add_textbox(*(Inches(part) for part in (FOOT.left, FOOT.top, FOOT.width, FOOT.height)))
    box.name = "stamp"
    _write(box, ((foot,),), Letters(8, colour=QUIET))
    slide.notes_slide.notes_text_frame.text = "\n".join(plain(each) for each in (*shown.notes, (stamp,)))


def _band(slide: Any) -> None:  # noqa: ANN401 - the library's own slide
    shape = slide.shapes.add_shape(1, 0, 0, Inches(0.14), Inches(HEIGHT))
    shape.fill.solid()
    shape.fill.fore_color.rgb = BLUE
    shape.line.fill.background()
    shape.name = "edge"
    shape._element.nvSpPr.cNvPr.set("descr", "")  # noqa: SLF001 - an ornament


@dataclass(frozen=True)
class Letters:
    """How some text is written: its size, whether bold, its colour, and the air after a paragraph in parts of the size."""

    size: float
    bold: bool = False
    colour: RGBColor = INK
    air: float = 0.0


def _write(shape: Any, phrases: Sequence[Phrase], letters: Letters) -> None:  # noqa: ANN401 - the library's own shape
    frame = shape.text_frame
    frame.word_wrap, frame.vertical_anchor = True, MSO_ANCHOR.TOP
    frame.margin_left = frame.margin_right = Emu(0)
    for number, phrase in enumerate(phrases):
        paragraph = frame.paragraphs[0] if not number else frame.add_paragraph()
        paragraph.space_after, paragraph.alignment = Pt(letters.size * letters.air), PP_ALIGN.LEFT
        _without_bullet(paragraph)
        run = paragraph.add_run()
        run.text = plain(phrase)
        run.font.size, run.font.bold, run.font.name = Pt(letters.size), letters.bold, FACE
        run.font.color.rgb = letters.colour


def _without_bullet(paragraph: Any) -> None:  # noqa: ANN401 - the library's own paragraph
    held = paragraph._p.get_or_add_pPr()  # noqa: SLF001 - the library has no way of its own
    held.set("marL", "0")
    held.set("indent", "0")
    held.append(held.makeelement(qn("a:buNone"), {}))


def _fitting(phrases: Sequence[Phrase], area: Area, *, bold: bool = False) -> float:
    """The largest letters with which the paragraphs fit."""
    wider = 1.08 if bold else 1.0
    for size in SIZES:
        lines = sum(lines_of(plain(each), area.width * 72, wider * OFFICE * size) for each in phrases)
        if (lines * LINE + 0.5 * (len(phrases) - 1)) * size / 72 <= area.height:
            return size
    return SIZES[-1]


def _picture(slide: Any, shown: FigureOfPack, stamp: str) -> None:  # noqa: ANN401 - the library's own slide
    drawn = picture(shown.figure, SLIDE)
    compiler = drawing(
        standing_alone(drawn, stamp, font=False),
        (drawn.plate.width, drawn.plate.height),
        title=shown.title,
        alt=drawn.description,
        stamp=stamp,
    )
    scale = min(BODY.width / drawn.plate.width, BODY.height / drawn.plate.height)
    width, height = drawn.plate.width * scale, drawn.plate.height * scale
    left = EDGE + (BODY.width - width) / 2
    placed = slide.shapes.add_picture(
        BytesIO(png(compiler, ppi=PPI / scale / 72, stamp=stamp)),
        *(Inches(part) for part in (left, BODY.top, width, height)),
    )
    placed.name = f"figure {shown.id}"
    placed._element._nvXxPr.cNvPr.set("descr", f"{shown.title}. {drawn.description}")  # noqa: SLF001 - the library has no way of its own
