"""How did the cases flow from the register to the analysis? A drawing that lays itself out for any numbers, and the same as text."""

from __future__ import annotations

from dataclasses import dataclass, field
from html import escape

from outcomes.findings.study_facts import Congress, Count, Stage
from outcomes.protocol import COHORTS
from outcomes.report import formats
from outcomes.report.charts.theme import COLOURS, DASHES, FONT, INK, QUIET
from outcomes.report.flow_words import reason_words, step_words
from outcomes.report.pack.sizing import POINTS_IN_MM, SMALL, TEXT, Plate, finished
from outcomes.report.pack.text_layout import wrapped
from outcomes.report.traced_text import Figure, Phrase, Place, joined, say

LINE, GAP, PAD, CORNER = 9.5, 9, 4, 2
ENDLESS = 100_000


@dataclass(frozen=True)
class Box:
    """One box: the cohort that it belongs to, or none; the lines of its heading, and the smaller ones beneath."""

    head: tuple[Phrase, ...]
    small: tuple[Phrase, ...] = ()
    cohort: str = ""

    @property
    def height(self) -> float:
        """How high the box is."""
        return 2 * PAD + LINE * (len(self.head) + len(self.small))


@dataclass
class Sheet:
    """The drawing as it grows downwards."""

    width: float
    y: float = PAD
    parts: list[str] = field(default_factory=list)

    def box(self, x: float, width: float, box: Box, height: float) -> None:
        """Put one box at the present height."""
        colour = dict(zip(COHORTS, COLOURS, strict=True)).get(box.cohort, INK)
        dash = dict(zip(COHORTS, DASHES, strict=True)).get(box.cohort, [1, 0])
        dashed = "" if dash == [1, 0] else f' stroke-dasharray="{dash[0]} {dash[1]}"'
        self.parts.append(
            f'<rect x="{x:.2f}" y="{self.y:.2f}" width="{width:.2f}" height="{height:.2f}" rx="{CORNER}" fill="#ffffff" '
            f'stroke="{colour}" stroke-width="0.9"{dashed}/>'
        )
        sizes = [*[TEXT] * len(box.head), *[SMALL] * len(box.small)]
        for number, (line, size) in enumerate(zip((*box.head, *box.small), sizes, strict=True)):
            self.text(x + PAD, self.y + PAD + TEXT + LINE * number - 1, line, size=size)

    def text(self, x: float, y: float, line: Phrase, *, size: float) -> None:
        """Write one line of text; its figures carry their addresses."""
        inner = "".join(
            f'<tspan data-id="{escape(piece.id)}">{escape(piece.text)}</tspan>'
            if isinstance(piece, Figure)
            else escape(piece)
            for piece in line
        )
        fill = INK if size == TEXT else QUIET
        self.parts.append(
            f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size}" font-family="{FONT}" fill="{fill}" xml:space="preserve">{inner}</text>'
        )

    def arrow(self, x: float, top: float, bottom: float) -> None:
        """Draw an arrow downwards."""
        self.parts.append(
            f'<path d="M{x:.2f} {top:.2f}V{bottom - 2:.2f}M{x - 2:.2f} {bottom - 4:.2f}L{x:.2f} {bottom - 0.5:.2f}L{x + 2:.2f} '
            f'{bottom - 4:.2f}" fill="none" stroke="{INK}" stroke-width="0.7"/>'
        )


def flow_plate(facts: Congress, width_mm: int) -> Plate:
    """Draw the flow: the register at the top, then one column for each cover, down to the reviews and the analysis."""
    sheet = Sheet(width_mm * POINTS_IN_MM)
    if facts.operated is not None:
        _wide(sheet, _top(facts, sheet.width - 2 * PAD))
    for number, stage in enumerate(facts.stages):
        follows = number > 0 and _is_review(stage) and _is_review(facts.stages[number - 1])
        _pair(sheet, _stage_boxes(stage, f"congress.stages.{number}", sheet), arrow=not follows)
    if facts.analysed:
        _pair(sheet, _analysed_boxes(facts, sheet), arrow=True)
    return finished("flow", "".join(sheet.parts), (sheet.width, sheet.y + PAD))


def _is_review(stage: Stage) -> bool:
    return bool(stage.window)


def _column(sheet: Sheet) -> float:
    return (sheet.width - 2 * PAD - GAP) / 2


def _wide(sheet: Sheet, box: Box) -> None:
    sheet.box(PAD, sheet.width - 2 * PAD, box, box.height)
    sheet.y += box.height


def _pair(sheet: Sheet, boxes: tuple[Box, ...], *, arrow: bool) -> None:
    """Put the boxes of both cohorts side by side, with arrows from what stands above; reviews follow without one."""
    width, height = _column(sheet), max(box.height for box in boxes)
    lefts = [PAD, PAD + width + GAP]
    top = sheet.y
    sheet.y += GAP if arrow else 2.5
    for x, box in zip(lefts, boxes, strict=True):
        if arrow:
            sheet.arrow(x + width / 2, top, sheet.y)
        sheet.box(x, width, box, height)
    sheet.y += height


def _top(facts: Congress, width: float) -> Box:
    head = say("{} lids operated by the as-of date", Place("congress", facts).figure("operated", formats.count))
    others = [
        say("{} {}", Place(f"congress.other_covers.{number}", each).figure("lids", formats.count), each.cover.lower())
        for number, each in enumerate(facts.other_covers)
    ]
    small = say("Another cover, so in neither cohort: {}", joined(others, "; ")) if others else ()
    room = width - 2 * PAD
    return Box(wrapped(head, room, TEXT), wrapped(small, room, SMALL) if small else ())


def _stage_boxes(stage: Stage, name: str, sheet: Sheet) -> tuple[Box, ...]:
    return tuple(_stage_box(stage, name, cohort, _column(sheet) - 2 * PAD) for cohort in COHORTS)


def _stage_box(stage: Stage, name: str, cohort: str, width: float) -> Box:
    place = Place(name, stage)
    head = say(
        "{} {}",
        place.figure(cohort, formats.count),
        f"lids {cohort}" if name.endswith("stages.0") else f"lids: {step_words(stage)}",
    )
    lost = [
        say("{} {}", Place(f"{name}.lost.{number}", each).figure(cohort, formats.count), reason_words(each))
        for number, each in enumerate(stage.lost)
        if _any(getattr(each, cohort))
    ]
    small = wrapped(("not counted: ", *joined(lost, "; ")), width, SMALL) if lost else ()
    return Box(wrapped(head, width, TEXT), small, cohort)


def _any(number: Count) -> bool:
    return number is None or number > 0


def _analysed_boxes(facts: Congress, sheet: Sheet) -> tuple[Box, ...]:
    return tuple(_analysed_box(facts, cohort, _column(sheet) - 2 * PAD) for cohort in COHORTS)


def _analysed_box(facts: Congress, cohort: str, width: float) -> Box:
    head: Phrase = ("lids analysed for each main measure",)
    lines = (
        line
        for number in range(len(facts.analysed))
        for line in wrapped(_analysed_line(facts, number, cohort), width, SMALL)
    )
    return Box(wrapped(head, width, TEXT), tuple(lines), cohort)


def _analysed_line(facts: Congress, number: int, cohort: str) -> Phrase:
    stage = facts.analysed[number]
    label = stage.label[0].lower() + stage.label[1:]
    return say("{} {}", Place(f"congress.analysed.{number}", stage).figure(cohort, formats.count), label)


def flow_text(facts: Congress) -> tuple[Phrase, ...]:
    """The same flow as lines of text."""
    boxes = [_top(facts, ENDLESS)] if facts.operated is not None else []
    for number, stage in enumerate(facts.stages):
        boxes.extend(_stage_box(stage, f"congress.stages.{number}", cohort, ENDLESS) for cohort in COHORTS)
    if facts.analysed:
        boxes.extend(_analysed_box(facts, cohort, ENDLESS) for cohort in COHORTS)
    return tuple(line for box in boxes for line in _told(box))


def _told(box: Box) -> tuple[Phrase, ...]:
    named = box.cohort and not any(box.cohort in piece for piece in box.head[0] if isinstance(piece, str))
    head: Phrase = (f"{box.cohort}: ", *box.head[0]) if named else box.head[0]
    return (head, *(("   ", *line) for line in box.small))
