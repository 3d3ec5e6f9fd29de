"""Which pictures does a comparison have?"""

from __future__ import annotations

from collections.abc import Iterator

from outcomes.findings.results import Comparison
from outcomes.protocol import Protocol
from outcomes.report.charts.balance import balance_picture
from outcomes.report.charts.curves import curves_pictures
from outcomes.report.charts.differences import differences_picture
from outcomes.report.charts.followed import followed_picture, seen_picture
from outcomes.report.charts.grades import grades_pictures
from outcomes.report.charts.lids import lids_picture
from outcomes.report.charts.picture import Picture
from outcomes.report.charts.windows import windows_pictures


def all_pictures(comparison: Comparison, protocol: Protocol) -> Iterator[Picture]:
    """Draw every picture that has something to show, one after the other in the order of the page."""
    for draw in (balance_picture, differences_picture, lids_picture):
        yield from _there(draw(comparison, protocol))
    for draw_all in (windows_pictures, grades_pictures, curves_pictures):
        yield from draw_all(comparison, protocol)
    for draw in (seen_picture, followed_picture):
        yield from _there(draw(comparison, protocol))


def _there(drawn: Picture | None) -> tuple[Picture, ...]:
    return (drawn,) if drawn else ()
