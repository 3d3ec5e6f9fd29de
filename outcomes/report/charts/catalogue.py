"""Which pictures does a comparison have?"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from pathlib import Path

from outcomes.findings.results import Comparison
from outcomes.protocol import Protocol
from outcomes.report.charts.balance import balance_picture
from outcomes.report.charts.curves import curves_pictures
from outcomes.report.charts.differences import differences_picture
from outcomes.report.charts.follow_up import followed_picture, seen_picture
from outcomes.report.charts.grades import grades_pictures
from outcomes.report.charts.individual_values import lids_picture
from outcomes.report.charts.rendering import Picture, write_picture
from outcomes.report.charts.windows import windows_pictures

Draw = Callable[[Comparison, Protocol], Picture | tuple[Picture, ...] | None]
Written = tuple[Picture, Path, Path]

IN_ORDER_OF_PAGE: tuple[Draw, ...] = (
    balance_picture, differences_picture, lids_picture, windows_pictures,
    grades_pictures, curves_pictures, seen_picture, followed_picture,
)  # fmt: skip
MANY = (windows_pictures, grades_pictures, curves_pictures)
"""These take longest, so they are begun first."""


def all_pictures(comparison: Comparison, protocol: Protocol) -> tuple[Picture, ...]:
    """Draw every picture that has something to show, in the order of the page."""
    return tuple(picture for draw in IN_ORDER_OF_PAGE for picture in _drawn(draw, comparison, protocol))


def write_pictures(
    comparison: Comparison, protocol: Protocol, folder: Path, *, stamp: str, elsewhere: Executor
) -> list[Written]:
    """Draw every picture that has something to show, and give each with its SVG and its PNG, in the order of the page."""
    asked = {
        draw: elsewhere.submit(_write, draw, comparison, protocol, folder, stamp)
        for draw in sorted(IN_ORDER_OF_PAGE, key=lambda draw: draw not in MANY)
    }
    return [written for draw in IN_ORDER_OF_PAGE for written in asked[draw].result()]


def _write(draw: Draw, comparison: Comparison, protocol: Protocol, folder: Path, stamp: str) -> list[Written]:
    return [(each, *write_picture(each, folder, stamp=stamp)) for each in _drawn(draw, comparison, protocol)]


def _drawn(draw: Draw, comparison: Comparison, protocol: Protocol) -> tuple[Picture, ...]:
    drawn = draw(comparison, protocol)
    if isinstance(drawn, Picture):
        return (drawn,)
    return drawn or ()
