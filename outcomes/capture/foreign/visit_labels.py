"""Read labels of visits, such as `6M`, `12 Mo`, `FU2` or `1 Jahr`, out of column headings."""

from __future__ import annotations

import re
from dataclasses import dataclass

from outcomes.protocol import Window

_UNITS = {
    "d day days tag tage tagen": 1.0,
    "w wk wks week weeks wo woche wochen": 7.0,
    "m mo mos mon mth mths month months monat monate monaten": 30.4375,
    "y yr yrs year years j jahr jahre jahren": 365.25,
}
_DAYS = {unit: days for units, days in _UNITS.items() for unit in units.split()}
_TIMED = re.compile(
    r"(?<![\w/.,])(\d{1,3})[ .-]?(" + "|".join(sorted(_DAYS, key=len, reverse=True)) + r")\b\.?", re.IGNORECASE
)
# British shorthand: 6/12 is six months, 3/52 three weeks.
_FRACTION = re.compile(r"(?<![\w/])(\d{1,2})/(12|52|7)(?![\w/])")
_FRACTION_DAYS = {"12": 30.4375, "52": 7.0, "7": 1.0}
_NUMBERED = re.compile(
    r"(?<!\w)(fu|f/u|follow[ -]?up|visit|review|kontrolle|ko|nk|termin|untersuchung)[ .#-]*(\d{1,2})(?!\w)",
    re.IGNORECASE,
)
_BEFORE = re.compile(r"(?<!\w)(pre[ -]?op\w*|prä[ -]?op\w*|praeop\w*|baseline|vor op)(?!\w)", re.IGNORECASE)
BEFORE_OPERATION = "before operation"
_NEAR_DAYS = 12


@dataclass(frozen=True)
class VisitLabel:
    """A label as it is written, its days after division where it says them, and the heading without it."""

    label: str
    days: int | None
    rest: str


def read_visit_label(heading: str, windows: tuple[Window, ...]) -> VisitLabel | None:
    """The visit that a heading names, or None.

    The days are the nominal day of the window that is near, else the time that the label says.
    """
    if found := _BEFORE.search(heading):
        return VisitLabel(BEFORE_OPERATION, None, _without(heading, found))
    for shape, factors in ((_TIMED, _DAYS), (_FRACTION, _FRACTION_DAYS)):
        if found := shape.search(heading):
            days = int(found[1]) * factors[found[2].casefold()]
            return VisitLabel(found[0].strip(" ."), _nominal(days, windows), _without(heading, found))
    if found := _NUMBERED.search(heading):
        return VisitLabel(" ".join(found[0].split()), None, _without(heading, found))
    return None


def _nominal(days: float, windows: tuple[Window, ...]) -> int:
    near = min(windows, key=lambda window: abs(window.nominal_days - days), default=None)
    if near is not None and abs(near.nominal_days - days) <= min(_NEAR_DAYS, days / 4):
        return near.nominal_days
    return round(days)


def _without(heading: str, found: re.Match[str]) -> str:
    return " ".join((heading[: found.start()] + " " + heading[found.end() :]).split()).strip(" /-–:,")
