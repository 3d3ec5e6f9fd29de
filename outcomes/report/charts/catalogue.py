"""Every figure of a comparison, in the order of the page, and the files of the report's charts."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from functools import partial
from pathlib import Path

from outcomes.findings.results import Comparison
from outcomes.parallel import shared
from outcomes.protocol import Protocol
from outcomes.report.charts.balance import balance_figures
from outcomes.report.charts.checks import checks_figures
from outcomes.report.charts.courses import courses_figures, pairs_figures
from outcomes.report.charts.curves import curves_figures, months_figures
from outcomes.report.charts.differences import differences_figures
from outcomes.report.charts.drawing import Figure, Forms, Picture, picture, write_picture
from outcomes.report.charts.flow import flow_figures
from outcomes.report.charts.follow_up import followed_figures, seen_figures
from outcomes.report.charts.grades import grades_figures
from outcomes.report.charts.individual_values import lids_figures
from outcomes.report.charts.learning import learning_figures
from outcomes.report.charts.overview import overview_figures
from outcomes.report.charts.theme import SCREEN
from outcomes.report.charts.windows import windows_figures

Figures = Callable[[Comparison, Protocol], tuple[Figure, ...]]
Written = tuple[Picture, tuple[Path, ...]]

FIGURES: tuple[Figures, ...] = (
    overview_figures, flow_figures, balance_figures, differences_figures, checks_figures, lids_figures, courses_figures,
    pairs_figures, windows_figures,
    grades_figures, curves_figures, months_figures, learning_figures, seen_figures,
    followed_figures,
)  # fmt: skip


def all_figures(comparison: Comparison, protocol: Protocol) -> tuple[Figure, ...]:
    """Every figure that has something to show, in the order of the page."""
    return tuple(figure for figures in FIGURES for figure in _shown(figures, comparison, protocol))


def _shown(figures: Figures, comparison: Comparison, protocol: Protocol) -> tuple[Figure, ...]:
    """The figures that may be shown at the level of the comparison: single lids to the clinic's own eyes only."""
    own = comparison.level == "own eyes"
    return tuple(each for each in figures(comparison, protocol) if own or not each.single_lids)


def write_pictures(
    comparison: Comparison, protocol: Protocol, folder: Path, *, made: tuple[str, Forms], elsewhere: Executor
) -> list[Written]:
    """Draw and write every figure with the stamp in the forms asked for, in the order of the page."""
    figures = all_figures(comparison, protocol)
    return shared(elsewhere, [partial(_write, figure, folder, made) for figure in figures])


def _write(figure: Figure, folder: Path, made: tuple[str, Forms]) -> Written:
    stamp, forms = made
    drawn = picture(figure, SCREEN)
    return drawn, write_picture(drawn, folder / drawn.id, stamp=stamp, forms=forms)
