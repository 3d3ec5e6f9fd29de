"""Which pictures does a comparison have?"""

from __future__ import annotations

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


def all_pictures(comparison: Comparison, protocol: Protocol) -> tuple[Picture, ...]:
    """Draw every picture that has something to show, in the order of the page."""
    single = (balance_picture, differences_picture, lids_picture)
    several = (windows_pictures, grades_pictures, curves_pictures)
    drawn = [draw(comparison, protocol) for draw in single]
    for draw_all in several:
        drawn.extend(draw_all(comparison, protocol))
    drawn.extend(draw(comparison, protocol) for draw in (seen_picture, followed_picture))
    return tuple(each for each in drawn if each)
