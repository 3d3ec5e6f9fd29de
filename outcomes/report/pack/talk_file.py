"""The file of the slides: native text and tables, sharp pictures, nothing smaller than 18 points but the stamp."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path
from typing import Any

from pptx import Presentation
from pptx.dml.color import RGBColor
from pptx.enum.lang import MSO_LANGUAGE_ID
from pptx.enum.text import MSO_ANCHOR, PP_ALIGN
from pptx.oxml.ns import qn
from pptx.util import Emu, Inches, Pt

from outcomes.findings.results import Stamp
from outcomes.report.charts.drawing import Figure, Picture, picture, standing_alone
from outcomes.report.charts.theme import SLIDE
from outcomes.report.office_text import FACE, Weight, office_lines
from outcomes.report.pack.slides import Slide
from outcomes.report.stamp import stamp_line
from outcomes.report.tables.reproducible_zip import as_property, noon, written_again
from outcomes.report.tables.writers.slide import LEAST, LINE, Area, add_slide_table, in_parts
from outcomes.report.traced_text import Phrase, plain
from outcomes.report.typst_render import drawing, png

WIDTH, HEIGHT, EDGE, FOOT = 13.333, 7.5, 0.6, 7.05
ACROSS = WIDTH - 2 * EDGE
TITLE = Area(EDGE, 0.35, ACROSS, 1.05)
OPENING = Area(EDGE, 1.6, ACROSS, 1.9)
BENEATH_TITLE, ABOVE_STAMP, BETWEEN = 0.2, 0.15, 0.25
INK, QUIET, BLUE = (RGBColor.from_string(each) for each in ("222222", "5C5C5C", "173F6B"))  # type: ignore[no-untyped-call]
TEXT_LAYOUT, TITLE_LAYOUT = 1, 5
TITLE_PLACE, BODY_PLACE = 0, 1
PPI, POINTS_IN_INCH = 220, 72
TITLES = (32, 30, 28, 26, 24, 22, 20)
TEXTS = (30, 28, 26, 24, 22, 20, 18)
BENEATH = (22, 20, 18)
LETTERS = (26, 24, 22, 20, 18)
LEAST_AIR, MOST_AIR = 0.5, 1.1
TITLE_LINES = 2
FULL = 0.95  # how much of a place its text may fill before the air between paragraphs is less
INSET = 0.1  # what the frame of a text keeps free above and below it


@dataclass(frozen=True)
class Letters:
    """How some text is written: its size, its weight, its colour, and the air after a paragraph in parts of the size."""

    size: float
    weight: Weight = "regular"
    colour: RGBColor = INK
    air: float = 0.0


STAMPS = tuple(Letters(size, colour=QUIET) for size in (8, 7, 6, 5))
STAMP_POINTS, STAMP_EDGE = 24, 0.1  # how high a stamp may become; what stays free below it, in inches


def write_talk(shown: Sequence[Slide], path: Path, stamp: Stamp) -> Path:
    """Write the slides in layouts with a place for the title, the text under it, and the stamp at the foot."""
    show, line = _template(), stamp_line(stamp)
    for number, each in enumerate(shown, start=1):
        _add(show, each, f"{number}   {line}", line)
    properties = show.core_properties
    properties.title, properties.author, properties.comments = as_property(plain(shown[0].title)), "", as_property(line)
    properties.last_modified_by, properties.revision, properties.language = "", 1, "en-GB"
    properties.created = properties.modified = noon(stamp.as_of)
    show.save(str(path))
    return written_again(path)


def fitted(slides: Sequence[Slide]) -> tuple[Slide, ...]:
    """The slides as they can be shown, in letters that can be read.

    A table or text that is too high goes on over the next slide, words under a table go where it needs their room, and a picture
    whose letters would be too small is left out.
    """
    parts = (part for slide in slides for part in _parts(slide))
    return tuple(part for part in parts if part.points or part.table or part.picture)


def _parts(slide: Slide) -> list[Slide]:
    if slide.picture is not None:
        drawn = slide_picture(slide.picture.figure, body_of(slide))
        return [replace(slide, picture=slide.picture if drawn else None, drawn=drawn)]
    held = _table_parts(slide) if slide.table is not None else _text_parts(slide)
    return [
        replace(part, title=slide.title if not at else (*slide.title, " (continued)")) for at, part in enumerate(held)
    ]


def _table_parts(slide: Slide) -> list[Slide]:
    if slide.table is None:
        return [slide]
    body = body_of(slide)
    whole, beside = in_parts(slide.table, body), in_parts(slide.table, _table_area(slide))
    points = slide.points if len(beside) == len(whole) else ()
    return [replace(slide, table=part, points=points) for part in (beside if points else whole)]


def _text_parts(slide: Slide) -> list[Slide]:
    for parts in range(1, len(slide.points) + 1):
        size = -(-len(slide.points) // parts)
        held = [slide.points[at : at + size] for at in range(0, len(slide.points), size)]
        if all(_text_height(each, ACROSS, TEXTS[-1]) <= body_of(slide).height for each in held):
            break
    return [replace(slide, points=each) for each in held] if slide.points else [slide]


def body_of(slide: Slide) -> Area:
    """The place under the title of a slide."""
    place = _title_area(slide)
    letters = _title_letters(slide)
    below = place.top + _lines((slide.title,), ACROSS, letters) * letters.size * LINE / POINTS_IN_INCH + BENEATH_TITLE
    return Area(EDGE, below, ACROSS, FOOT - ABOVE_STAMP - below)


def _title_area(slide: Slide) -> Area:
    return OPENING if slide.opening else TITLE


def _title_letters(slide: Slide) -> Letters:
    sizes = (44, 40, 36, *TITLES) if slide.opening else TITLES
    for size in sizes:
        letters = Letters(size, "bold", BLUE)
        if _lines((slide.title,), ACROSS, letters) <= TITLE_LINES:
            break
    return letters


def _beneath(slide: Slide) -> float:
    """How high the words under a table are."""
    return _text_height(slide.points, ACROSS, BENEATH[-1]) + BETWEEN if slide.points else 0.0


def _table_area(slide: Slide) -> Area:
    body = body_of(slide)
    return replace(body, height=body.height - _beneath(slide))


def _lines(phrases: Sequence[Phrase], width: float, letters: Letters) -> int:
    return sum(office_lines(plain(each), width * POINTS_IN_INCH, letters.size, letters.weight) for each in phrases)


def _text_height(phrases: Sequence[Phrase], width: float, size: float) -> float:
    lines = _lines(phrases, width, Letters(size))
    return (lines * LINE + LEAST_AIR * (len(phrases) - 1)) * size / POINTS_IN_INCH + INSET


def _fitting(phrases: Sequence[Phrase], area: Area, sizes: Sequence[int]) -> Letters:
    """The largest letters with which the paragraphs fit, and the air between these where there is room."""
    size = next((each for each in sizes if _text_height(phrases, area.width, each) <= area.height), sizes[-1])
    spare = (FULL * area.height - _text_height(phrases, area.width, size)) * POINTS_IN_INCH / size
    return Letters(size, air=min(LEAST_AIR + max(spare, 0) / max(len(phrases), 1), MOST_AIR))


def _add(show: Any, shown: Slide, foot: str, stamp: str) -> None:  # noqa: ANN401 - the library's own show
    slide = show.slides.add_slide(show.slide_layouts[TEXT_LAYOUT if shown.points else TITLE_LAYOUT])
    _band(slide)
    body = body_of(shown)
    title = slide.shapes.title
    title.name = "title"
    top = _title_area(shown)
    _put(title, replace(top, height=body.top - BENEATH_TITLE - top.top))
    _write(title, (shown.title,), _title_letters(shown))
    if shown.table:
        area = _table_area(shown)
        add_slide_table(slide, shown.table, area, message=plain(shown.title))
        body = body.below(area.height + BETWEEN)
    if shown.points:
        place = slide.placeholders[BODY_PLACE]
        place.name = "points"
        _put(place, body)
        _write(place, shown.points, _fitting(shown.points, body, BENEATH if shown.table else TEXTS))
    if shown.drawn:
        _picture(slide, shown, shown.drawn, stamp)
    _stamp(slide, foot)
    slide.notes_slide.notes_text_frame.text = "\n".join(plain(each) for each in (*shown.notes, (stamp,)))


def _stamp(slide: Any, foot: str) -> None:  # noqa: ANN401 - the library's own slide
    """The stamp at the foot; a long one grows upwards, into what is kept free above it."""
    box = slide.shapes.add_textbox(0, 0, 0, 0)
    box.name = "stamp"
    letters = next(
        (each for each in STAMPS if _lines(((foot,),), ACROSS, each) * each.size <= STAMP_POINTS), STAMPS[-1]
    )
    high = _lines(((foot,),), ACROSS, letters) * letters.size * LINE / POINTS_IN_INCH
    _put(box, Area(EDGE, min(FOOT, HEIGHT - STAMP_EDGE - high), ACROSS, high))
    _write(box, ((foot,),), letters)
    box.text_frame.margin_top = box.text_frame.margin_bottom = Emu(0)


def _put(shape: Any, area: Area) -> None:  # noqa: ANN401 - the library's own shape
    shape.left, shape.top, shape.width, shape.height = map(Inches, (area.left, area.top, area.width, area.height))


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
        run.font.size, run.font.bold, run.font.name = Pt(letters.size), letters.weight == "bold", FACE
        run.font.color.rgb, run.font.language_id = letters.colour, MSO_LANGUAGE_ID.ENGLISH_UK


def _without_bullet(paragraph: Any) -> None:  # noqa: ANN401 - the library's own paragraph
    held = paragraph._p.get_or_add_pPr()  # noqa: SLF001 - the library has no way of its own
    held.set("marL", "0")
    held.set("indent", "0")
    held.append(held.makeelement(qn("a:buNone"), {}))


def _band(slide: Any) -> None:  # noqa: ANN401 - the library's own slide
    shape = slide.shapes.add_shape(1, 0, 0, Inches(0.14), Inches(HEIGHT))
    shape.fill.solid()
    shape.fill.fore_color.rgb = BLUE
    shape.line.fill.background()
    shape.name = "edge"
    shape._element.nvSpPr.cNvPr.set("descr", "")  # noqa: SLF001 - an ornament


def slide_picture(figure: Figure, area: Area) -> Picture | None:
    """The figure as wide as the place, in the largest letters with which it is no higher; none where they would be too small."""
    room = area.height * POINTS_IN_INCH
    smallest = _drawn(figure, area, LETTERS[-1])
    if smallest.plate.height > room:
        return None
    likely = LETTERS[-1] * room / smallest.plate.height  # a drawing grows as its letters do
    for size in (each for each in LETTERS[:-1] if each <= likely):
        drawn = _drawn(figure, area, size)
        if drawn.plate.height <= room:
            return drawn
    return smallest


def _drawn(figure: Figure, area: Area, size: int) -> Picture:
    width = area.width * POINTS_IN_INCH
    return picture(figure, replace(SLIDE, width=width, text=size, small=max(size - 2, LEAST)))


def _picture(slide: Any, shown: Slide, drawn: Picture, stamp: str) -> None:  # noqa: ANN401 - the library's own slide
    body, extent = body_of(shown), (drawn.plate.width, drawn.plate.height)
    alt = f"{plain(shown.title)}. {drawn.description}"
    compiler = drawing(standing_alone(drawn, stamp, font=False), extent, title=drawn.title, alt=alt, stamp=stamp)
    width, height = (each / POINTS_IN_INCH for each in extent)
    place = (EDGE + (ACROSS - width) / 2, body.top + (body.height - height) / 2, width, height)
    placed = slide.shapes.add_picture(BytesIO(png(compiler, ppi=PPI, stamp=stamp)), *map(Inches, place))
    placed.name = f"figure {drawn.id}"
    placed._element._nvXxPr.cNvPr.set("descr", alt)  # noqa: SLF001 - the library has no way of its own


def _template() -> Any:  # noqa: ANN401 - the library's own show
    """A wide show whose two layouts have their places where ours are, and no others."""
    show = Presentation()
    show.slide_width, show.slide_height = Inches(WIDTH), Inches(HEIGHT)
    body = Area(EDGE, TITLE.top + TITLE.height, ACROSS, FOOT - ABOVE_STAMP - TITLE.top - TITLE.height)
    places = {TITLE_PLACE: TITLE, BODY_PLACE: body}
    for owner in (show.slide_master, *(show.slide_layouts[at] for at in (TEXT_LAYOUT, TITLE_LAYOUT))):
        for shape in list(owner.placeholders):
            area = places.get(shape.placeholder_format.idx)
            if area is None:
                shape._element.getparent().remove(shape._element)  # noqa: SLF001 - the library has no way of its own
                continue
            _put(shape, area)
    return show
