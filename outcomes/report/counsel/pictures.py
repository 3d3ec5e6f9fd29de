"""Pictures of 100 people and of a number of days, as SVG.

A dark dot, an open ring and a grey square differ in shape and in darkness, so that they stay apart in grey print and to every
eye; ten to a row, so that they can be counted.
"""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from typing import Literal

INK, EDGE, PALE, GREY = "#14365c", "#5c5c5c", "#8fa9c4", "#9a9a9a"
PEOPLE, TO_A_ROW, PITCH = 100, 10, 12
WEEK = 7
LINE_WIDTH, LINE_HEIGHT, MARGIN = 230, 46, 14

Fate = Literal["had", "had-not", "died"]


def people(had: int, died: int, alt: str) -> str:
    """Draw 100 people: the first `had` as dark dots, the last `died` as grey squares, the others as rings."""
    counts: tuple[tuple[Fate, int], ...] = (("had", had), ("had-not", PEOPLE - had - died), ("died", died))
    fates = [fate for fate, number in counts for _ in range(number)]
    side = TO_A_ROW * PITCH
    return _drawing(
        side, side, alt, "".join(_person(fate, *divmod(place, TO_A_ROW)) for place, fate in enumerate(fates))
    )


def person(fate: Fate) -> str:
    """Draw one person of the key to the pictures; the words stand beside it."""
    return _drawing(PITCH, PITCH, "", _person(fate, 0, 0))


def _person(fate: Fate, row: int, column: int) -> str:
    x, y = PITCH * column + PITCH / 2, PITCH * row + PITCH / 2
    if fate == "had":
        return f'<circle class="had" cx="{x:g}" cy="{y:g}" r="4.6" fill="{INK}"/>'
    if fate == "died":
        return f'<rect class="died" x="{x - 2.6:g}" y="{y - 2.6:g}" width="5.2" height="5.2" fill="{GREY}"/>'
    return f'<circle class="had-not" cx="{x:g}" cy="{y:g}" r="3.9" fill="#ffffff" stroke="{EDGE}" stroke-width="1"/>'


def days(low: int, middle: int, high: int, *, longest: int, alt: str) -> str:
    """Draw a line of days from none to the longest, with the days written at each week and a bar for the middle half."""
    weeks = longest // WEEK + 1
    scale = (LINE_WIDTH - 2 * MARGIN) / (weeks * WEEK)
    start, end, centre = (MARGIN + scale * day for day in (low, high, middle))
    y = 14
    return _drawing(
        LINE_WIDTH,
        LINE_HEIGHT,
        alt,
        f'<path d="M{MARGIN} {y}H{LINE_WIDTH - MARGIN}" stroke="{EDGE}" stroke-width="1"/>{"".join(_scale(weeks, scale, y))}'
        f'<rect x="{start:.1f}" y="{y - 7}" width="{max(end - start, 1):.1f}" height="14" fill="{PALE}" stroke="{INK}"/>'
        f'<path d="M{centre:.1f} {y - 11}v22" stroke="{INK}" stroke-width="3"/>',
    )


def _scale(weeks: int, scale: float, y: float) -> Iterator[str]:
    """A tick at each week; a number of days at every week, or at every other where there are many."""
    step = 1 if weeks <= 6 else 2
    for week in range(weeks + 1):
        x = MARGIN + scale * WEEK * week
        yield f'<path d="M{x:.1f} {y - 5}v10" stroke="{EDGE}" stroke-width="1"/>'
        if week % step == 0:
            yield (
                f'<text x="{x:.1f}" y="{LINE_HEIGHT - 6}" text-anchor="middle" font-family="Register Sans, Arial, sans-serif" '
                f'font-size="14" fill="#111111">{WEEK * week}</text>'
            )


def _drawing(width: float, height: float, alt: str, drawn: str) -> str:
    says = f'role="img"><title>{escape(alt)}</title>' if alt else 'aria-hidden="true">'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
        f'viewBox="0 0 {width:g} {height:g}" {says}{drawn}</svg>'
    )
