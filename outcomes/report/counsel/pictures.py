"""Pictures of 100 people and of a number of days, as SVG.

Drawn by hand as SVG. A dark dot and an open ring differ in shape and in darkness, so that they stay apart in grey print
and to every eye; ten to a row, so that they can be counted.
"""

from __future__ import annotations

from html import escape

INK, EDGE, PALE = "#14365c", "#5c5c5c", "#8fa9c4"
PEOPLE, TO_A_ROW, PITCH = 100, 10, 12
WEEK = 7
LINE_WIDTH, LINE_HEIGHT, MARGIN = 200, 26, 8


def people(had: int, alt: str) -> str:
    """Draw 100 people, the first `had` of them as dark dots and the others as rings."""
    drawn = "".join(_person(place, dark=place < had) for place in range(PEOPLE))
    side = TO_A_ROW * PITCH
    return _drawing(side, side, alt, drawn)


def _person(place: int, *, dark: bool) -> str:
    row, column = divmod(place, TO_A_ROW)
    x, y = PITCH * column + PITCH / 2, PITCH * row + PITCH / 2
    if dark:
        return f'<circle class="had" cx="{x:g}" cy="{y:g}" r="4.5" fill="{INK}"/>'
    return f'<circle class="had-not" cx="{x:g}" cy="{y:g}" r="3.9" fill="#ffffff" stroke="{EDGE}" stroke-width="1"/>'


def days(low: int, middle: int, high: int, *, longest: int, alt: str) -> str:
    """Draw a line of days from none to the longest, ticked by the week, with a bar for the middle half."""
    scale = (LINE_WIDTH - 2 * MARGIN) / (longest * 1.08)
    at = [MARGIN + scale * day for day in (low, middle, high)]
    y = LINE_HEIGHT / 2
    ticks = "".join(
        f'<path d="M{MARGIN + scale * day:.1f} {y - 4}v8" stroke="{EDGE}" stroke-width="0.8"/>'
        for day in range(0, longest + WEEK, WEEK)
        if scale * day <= LINE_WIDTH - 2 * MARGIN
    )
    return _drawing(
        LINE_WIDTH,
        LINE_HEIGHT,
        alt,
        f'<path d="M{MARGIN} {y}H{LINE_WIDTH - MARGIN}" stroke="{EDGE}" stroke-width="0.8"/>{ticks}'
        f'<rect x="{at[0]:.1f}" y="{y - 6}" width="{max(at[2] - at[0], 1):.1f}" height="12" fill="{PALE}" stroke="{INK}"/>'
        f'<path d="M{at[1]:.1f} {y - 9}v18" stroke="{INK}" stroke-width="3"/>',
    )


def _drawing(width: float, height: float, alt: str, drawn: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{width:g}" height="{height:g}" '
        f'viewBox="0 0 {width:g} {height:g}"><title>{escape(alt)}</title>{drawn}</svg>'
    )
