"""The flow diagram: lids at each step, one column a cohort, with those that left in boxes at the side."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial
from html import escape

from outcomes.findings.results import Comparison
from outcomes.findings.study_facts import Congress, Count, OtherCover, Stage, analysed, stages
from outcomes.protocol import COHORTS, Protocol
from outcomes.report import formats
from outcomes.report.charts.drawing import Figure as FigureOfPage
from outcomes.report.charts.drawing import Plate, finished
from outcomes.report.charts.theme import COLOURS, DASHES, FONT, INK, QUIET, Size
from outcomes.report.finding_index import who_phrase
from outcomes.report.flow_words import reason_words, step_words
from outcomes.report.text_layout import wrapped
from outcomes.report.traced_text import Figure, Phrase, Place, joined, plain, say

ENDLESS = 100_000
MAIN = 0.5  # of the width of a cohort's part, where those that left stand at its side
WORDS = "From every lid in the register to the lids analysed, with the lids that left at each step and why."


@dataclass(frozen=True)
class Flow:
    """What the diagram shows: all lids operated and their other covers where they are known, the stages, the lids analysed.

    `traced` says that its numbers have addresses.
    """

    stages: tuple[Stage, ...]
    analysed: tuple[Stage, ...]
    operated: Count = None
    other_covers: tuple[OtherCover, ...] = ()
    traced: bool = True


def flow_figures(comparison: Comparison, protocol: Protocol, facts: Congress | None = None) -> tuple[FigureOfPage, ...]:
    """The flow diagram; nothing when the register holds no lid that could be compared."""
    if not comparison.flow or not comparison.grafted.cases + comparison.advanced.cases:
        return ()
    if facts is None:
        flow = Flow(stages(comparison), analysed(comparison, protocol), traced=False)
    else:
        flow = Flow(facts.stages, facts.analysed, facts.operated, facts.other_covers)
    return (flow_figure(flow, comparison),)


def flow_figure(flow: Flow, comparison: Comparison) -> FigureOfPage:
    """The diagram of this flow."""
    described = "; ".join(plain(line) for line in flow_text(flow))
    caption = ((WORDS,), who_phrase(comparison))
    return FigureOfPage("flow", "Patient flow", caption, f"{described}.", plate=partial(flow_plate, flow))


@dataclass(frozen=True)
class Box:
    """One box: the cohort that it belongs to, or none; the lines of its heading, and the smaller ones beneath."""

    head: tuple[Phrase, ...]
    small: tuple[Phrase, ...] = ()
    cohort: str = ""


@dataclass
class Sheet:
    """The drawing as it grows downwards."""

    size: Size
    y: float
    traced: bool
    parts: list[str] = field(default_factory=list)

    @property
    def pad(self) -> float:
        """The room inside a box, and around the drawing."""
        return self.size.em(0.5)

    @property
    def line(self) -> float:
        """The height of a line."""
        return self.size.em(1.2)

    @property
    def lane(self) -> float:
        """The width of one cohort's part of the drawing."""
        return (self.size.width - 2 * self.pad - self.size.em(1.2)) / 2

    def height(self, box: Box) -> float:
        """How high a box is."""
        return 2 * self.pad + self.line * (len(box.head) + len(box.small))

    def box(self, x: float, width: float, box: Box, height: float) -> None:
        """Put one box at the present height."""
        colour = dict(zip(COHORTS, COLOURS, strict=True)).get(box.cohort, INK)
        dash = dict(zip(COHORTS, DASHES, strict=True)).get(box.cohort, DASHES[0])
        dashed = "" if dash == DASHES[0] else f' stroke-dasharray="{dash[0]} {dash[1]}"'
        self.parts.append(
            f'<rect x="{x:.2f}" y="{self.y:.2f}" width="{width:.2f}" height="{height:.2f}" rx="{self.size.em(0.25)}" '
            f'fill="#ffffff" stroke="{colour}" stroke-width="{self.size.em(0.11)}"{dashed}/>'
        )
        sizes = [*[self.size.text] * len(box.head), *[self.size.small] * len(box.small)]
        for number, (line, size) in enumerate(zip((*box.head, *box.small), sizes, strict=True)):
            self.text(x + self.pad, self.y + self.pad + self.size.text + self.line * number - 1, line, size=size)

    def text(self, x: float, y: float, line: Phrase, *, size: float) -> None:
        """Write one line of text; its figures carry their addresses."""
        inner = "".join(
            f'<tspan data-id="{escape(piece.id)}">{escape(piece.text)}</tspan>'
            if isinstance(piece, Figure) and self.traced
            else escape(plain((piece,)))
            for piece in line
        )
        fill = INK if size == self.size.text else QUIET
        self.parts.append(
            f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size}" font-family="{FONT}" fill="{fill}" xml:space="preserve">{inner}</text>'
        )

    def arrow(self, x: float, top: float, bottom: float) -> None:
        """Draw an arrow downwards."""
        head = self.size.em(0.25)
        self.parts.append(
            f'<path d="M{x:.2f} {top:.2f}V{bottom - head:.2f}M{x - head:.2f} {bottom - 2 * head:.2f}L{x:.2f} '
            f'{bottom - 0.5:.2f}L{x + head:.2f} {bottom - 2 * head:.2f}" fill="none" stroke="{INK}" '
            f'stroke-width="{self.size.em(0.09)}"/>'
        )

    def aside(self, start: float, end: float, y: float) -> None:
        """Draw a line from a box to the box at its side."""
        self.parts.append(
            f'<path d="M{start:.2f} {y:.2f}H{end:.2f}" stroke="{INK}" stroke-width="{self.size.em(0.09)}"/>'
        )


def flow_plate(flow: Flow, size: Size) -> Plate:
    """Draw the flow: the register at the top, then one column for each cohort, down to the reviews and the analysis."""
    sheet = Sheet(size, size.em(0.5), flow.traced)
    if flow.operated is not None:
        top = _top(flow, size, size.width - 4 * sheet.pad)
        sheet.box(sheet.pad, size.width - 2 * sheet.pad, top, sheet.height(top))
        sheet.y += sheet.height(top)
    for number, stage in enumerate(flow.stages):
        follows = number > 0 and bool(stage.window) and bool(flow.stages[number - 1].window)
        _stage(sheet, stage, f"congress.stages.{number}", arrow=not follows)
    if flow.analysed:
        _analysed(sheet, flow)
    return finished("flow", "".join(sheet.parts), (size.width, sheet.y + sheet.pad))


def _lefts(sheet: Sheet) -> tuple[float, float]:
    return sheet.pad, sheet.size.width - sheet.pad - sheet.lane


def _stage(sheet: Sheet, stage: Stage, name: str, *, arrow: bool) -> None:
    """One step in both cohorts, the lids that left in boxes on the outer side; narrow drawings have them inside."""
    aside = sheet.size.columns > 1
    main = sheet.lane * (MAIN if aside else 1)
    side = sheet.lane - main - sheet.size.em(1)
    room, beside = (each - 2 * sheet.pad for each in (main, side if aside else main))
    boxes = [_stage_box(stage, name, cohort, (room, sheet.size)) for cohort in COHORTS]
    losses = [_losses(stage, name, cohort, (beside, sheet.size)) for cohort in COHORTS]
    if not aside:
        boxes = [Box(box.head, small, box.cohort) for box, small in zip(boxes, losses, strict=True)]
        losses = [(), ()]
    height = max(*(sheet.height(box) for box in boxes), *(sheet.height(Box((), lines)) for lines in losses))
    top = sheet.y
    sheet.y += sheet.size.em(1.2 if arrow else 0.35)
    for box, lines, left, outer in zip(boxes, losses, _lefts(sheet), (True, False), strict=True):
        x = left + (sheet.lane - main if outer else 0)
        if arrow and top > sheet.pad:
            sheet.arrow(x + main / 2, top, sheet.y)
        sheet.box(x, main, box, height)
        if lines:
            at = left if outer else left + sheet.lane - side
            sheet.aside(*((at + side, x) if outer else (x + main, at)), sheet.y + height / 2)
            sheet.box(at, side, Box((), lines), height)
    sheet.y += height


def _analysed(sheet: Sheet, flow: Flow) -> None:
    boxes = [_analysed_box(flow, cohort, (sheet.lane - 2 * sheet.pad, sheet.size)) for cohort in COHORTS]
    height, top = max(map(sheet.height, boxes)), sheet.y
    sheet.y += sheet.size.em(1.2)
    aside = sheet.size.columns > 1
    centres = (1 - MAIN / 2, MAIN / 2) if aside else (0.5, 0.5)
    for box, x, centre in zip(boxes, _lefts(sheet), centres, strict=True):
        sheet.arrow(x + sheet.lane * centre, top, sheet.y)
        sheet.box(x, sheet.lane, box, height)
    sheet.y += height


Room = tuple[float, Size]


def _top(flow: Flow, size: Size, width: float) -> Box:
    head = say("{} lids operated by the as-of date", Place("congress", flow).figure("operated", formats.count))
    others = [
        say("{} {}", Place(f"congress.other_covers.{number}", each).figure("lids", formats.count), each.cover.lower())
        for number, each in enumerate(flow.other_covers)
    ]
    small = say("Another cover, so in neither cohort: {}", joined(others, "; ")) if others else ()
    return Box(wrapped(head, width, size.text), wrapped(small, width, size.small) if small else ())


def _stage_box(stage: Stage, name: str, cohort: str, room: Room) -> Box:
    width, size = room
    words = f"lids {cohort}" if name.endswith("stages.0") else f"lids: {step_words(stage)}"
    head = say("{} {}", Place(name, stage).figure(cohort, formats.count), words)
    return Box(wrapped(head, width, size.text), (), cohort)


def _losses(stage: Stage, name: str, cohort: str, room: Room) -> tuple[Phrase, ...]:
    width, size = room
    lost = [
        say("{} {}", Place(f"{name}.lost.{number}", each).figure(cohort, formats.count), reason_words(each))
        for number, each in enumerate(stage.lost)
        if _any(getattr(each, cohort))
    ]
    return wrapped(joined(lost, ", "), width, size.small) if lost else ()


def _any(number: Count) -> bool:
    return number is None or number > 0


def _analysed_box(flow: Flow, cohort: str, room: Room) -> Box:
    width, size = room
    lines = (
        line
        for number in range(len(flow.analysed))
        for line in wrapped(_analysed_line(flow, number, cohort), width, size.small)
    )
    return Box(wrapped(("lids analysed for each main measure",), width, size.text), tuple(lines), cohort)


def _analysed_line(flow: Flow, number: int, cohort: str) -> Phrase:
    stage = flow.analysed[number]
    return say(
        "{} {}",
        Place(f"congress.analysed.{number}", stage).figure(cohort, formats.count),
        formats.uncapitalised(stage.label),
    )


def flow_text(flow: Flow) -> tuple[Phrase, ...]:
    """The same flow as lines of text."""
    room = (ENDLESS, Size("text", ENDLESS, 1, 1, 1))
    top = _top(flow, room[1], ENDLESS) if flow.operated is not None else Box(())
    lines: list[Phrase] = [*top.head, *top.small]
    for number, stage in enumerate(flow.stages):
        name = f"congress.stages.{number}"
        for cohort in COHORTS:
            (head,) = _stage_box(stage, name, cohort, room).head
            lines.append((f"{cohort}: ", *head) if number else head)
            lines.extend(("   not counted: ", *line) for line in _losses(stage, name, cohort, room))
    for cohort in COHORTS if flow.analysed else ():
        box = _analysed_box(flow, cohort, room)
        lines.extend(((f"{cohort}: ", *box.head[0]), *(("   ", *line) for line in box.small)))
    return tuple(lines)
