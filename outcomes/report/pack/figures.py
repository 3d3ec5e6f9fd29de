"""The figures of the pack, each in the width of one column and of two."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from outcomes.findings.results import Comparison
from outcomes.findings.study_facts import Congress
from outcomes.protocol import Protocol
from outcomes.report.charts.catalogue import all_figures
from outcomes.report.charts.drawing import Figure, Forms, Picture, picture, write_picture
from outcomes.report.charts.flow import flow_figures
from outcomes.report.charts.theme import PRINT
from outcomes.report.traced_text import Phrase, plain

FORMS = Forms(font=True, pdf=True, ppi=600)


@dataclass(frozen=True)
class FigureOfPack:
    """A figure of the pack: its id, what it shows, a caption that stands alone, and its drawings by width in mm."""

    id: str
    title: str
    caption: tuple[Phrase, ...]
    pictures: dict[int, Picture]
    figure: Figure


def pack_figures(comparison: Comparison, facts: Congress, protocol: Protocol) -> tuple[Figure, ...]:
    """Every figure of the main measures that shows no single lid."""
    figures = (
        each
        for each in all_figures(comparison, protocol)
        if not each.single_lids and not each.further and each.id != "flow"
    )
    return *flow_figures(comparison, protocol, facts), *figures


def in_print(figure: Figure) -> FigureOfPack:
    """Draw one figure in both widths."""
    sizes = {width: size for width, size in PRINT.items() if figure.narrow or size.columns > 1}
    drawn = {width: picture(figure, size) for width, size in sizes.items()}
    return FigureOfPack(figure.id, figure.title, figure.caption, drawn, figure)


def write_figure(figure: Figure, folder: Path, stamp: str) -> FigureOfPack:
    """Draw the figure and write it in every width and form; after a failure some files may be missing."""
    made = in_print(figure)
    for width, drawn in made.pictures.items():
        write_picture(drawn, folder / f"{figure.id}-{width}mm", stamp=stamp, forms=FORMS)
    return made


def caption_of(figure: FigureOfPack) -> str:
    """The caption as text."""
    return " ".join(plain(each) for each in figure.caption)


def curve_names(protocol: Protocol) -> list[str]:
    """The ids of figures of events in time, the first that is drawn to be shown first: states seen at reviews lead."""
    seen_at_reviews = [timed for timed in protocol.timed if timed.origin == "reviews"]
    return [*(f"curve-{timed.id.replace('_', '-')}" for timed in (*seen_at_reviews, *protocol.timed)), "timing"]
