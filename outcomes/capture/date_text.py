"""Read a date that is written as text, where it can be read in one way only or the order is declared."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from datetime import date, timedelta

DAY_FIRST, MONTH_FIRST = "day first", "month first"
ORDERS = (DAY_FIRST, MONTH_FIRST)
_TIME = r"(?:[T ]+\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?: ?[ap]m)?)?"
_YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})" + _TIME, re.IGNORECASE)
_COMPACT = re.compile(r"((?:19|20)\d{2})(\d{2})(\d{2})")
_YEAR_LAST = re.compile(r"(\d{1,2}) ?([-/.]) ?(\d{1,2}) ?\2 ?(\d{4}|\d{2})" + _TIME, re.IGNORECASE)
_NAMED = re.compile(
    r"(?:\w+, )?(\d{1,2})(?:st|nd|rd|th)?[.\- /]*([^\W\d_]+)[.,\- /]*(\d{4}|\d{2})" + _TIME, re.IGNORECASE
)
_NAME_FIRST = re.compile(r"([^\W\d_]+)\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})" + _TIME, re.IGNORECASE)
_MONTH = re.compile(r"(?:(\d{1,2})[-/.](\d{4})|(\d{4})[-/.](\d{1,2})|([^\W\d_]+)[.,\- /]*(\d{4}|\d{2}))")
_MONTHS = (
    "jan january januar jänner",
    "feb february februar",
    "mar march mär märz mrz maerz",
    "apr april",
    "may mai",
    "jun june juni",
    "jul july juli",
    "aug august",
    "sep sept september",
    "oct october okt oktober",
    "nov november",
    "dec december dez dezember",
)
_MONTH_NUMBERS = {name: number for number, names in enumerate(_MONTHS, start=1) for name in names.split()}
# Serial day 1 is 1900-01-01, and the serials count a 29 February 1900 that never was; from 1 March 1900 on, day 0 is thus
# 1899-12-30 (ECMA-376 part 1, 18.17.4.1).
_SERIAL_EPOCH, _FIRST_SERIAL, _LAST_SERIAL = date(1899, 12, 30), 61, 73_050
CLEAR = "type it as year-month-day, such as 2024-03-05"


@dataclass(frozen=True)
class DateText:
    """What a text says: a day, or only a month (`day` is then its first), or why it is no clear date."""

    day: date | None = None
    month_only: bool = False
    problem: str = ""
    two_digit_year: bool = False
    order: str = ""  # the order that the text itself shows, where day and month are numbers and one is over 12


def read_date_text(text: str, order: str = "", *, latest: date) -> DateText:
    """Read a date; `order` is how numbers are ordered in the file where that is declared.

    A year of two digits is the last such year that does not lie after `latest`.

    >>> read_date_text("30 Sep 2018", latest=date(2026, 1, 1)).day
    datetime.date(2018, 9, 30)
    >>> read_date_text("03/04/2020", latest=date(2026, 1, 1)).problem
    'can be read day first or month first; type it as year-month-day, such as 2024-03-05, or say the order with --dates'
    """
    text = " ".join(unicodedata.normalize("NFKC", text).split())
    if found := _YEAR_FIRST.fullmatch(text):
        return _day(found[1], found[3], found[4], latest)
    if found := _COMPACT.fullmatch(text):
        return _day(found[1], found[2], found[3], latest)
    if found := _YEAR_LAST.fullmatch(text):
        return _numeric((int(found[1]), int(found[3])), found[4], order, latest)
    for shape, day, month in ((_NAMED, 1, 2), (_NAME_FIRST, 2, 1)):
        found = shape.fullmatch(text)
        if found and (number := _MONTH_NUMBERS.get(found[month].casefold())):
            return _day(found[3], number, found[day], latest)
    return _month(text, latest)


def serial_day(number: float) -> date | None:
    """The day of a spreadsheet's serial number in the 1900 system, or None when it is none of 1900 to 2100.

    >>> serial_day(45000)
    datetime.date(2023, 3, 15)
    """
    if not _FIRST_SERIAL <= number < _LAST_SERIAL:
        return None
    return _SERIAL_EPOCH + timedelta(days=int(number))


def _numeric(numbers: tuple[int, int], year: str, order: str, latest: date) -> DateText:
    first, second = numbers
    shown = DAY_FIRST if first > 12 >= second else MONTH_FIRST if second > 12 >= first else ""
    if order and shown and order != shown:
        return DateText(problem=f"is not a date with the {order}, as the file declares; {CLEAR}")
    order = shown or order
    if not order and first != second:
        readings = [_day(year, month, day, latest).day for day, month in ((first, second), (second, first))]
        if all(readings):
            return DateText(problem=f"can be read day first or month first; {CLEAR}, or say the order with --dates")
    day, month = (second, first) if order == MONTH_FIRST else (first, second)
    read = _day(year, month, day, latest)
    return replace(read, order=shown)


def _day(year: str, month: str | int, day: str | int, latest: date) -> DateText:
    try:
        return DateText(date(_year(year, latest), int(month), int(day)), two_digit_year=len(year) == 2)
    except ValueError:
        return DateText(problem=f"is no day of the calendar; {CLEAR}")


def _year(year: str, latest: date) -> int:
    if len(year) == 4:
        return int(year)
    century = latest.year - latest.year % 100
    return century + int(year) - (100 if int(year) > latest.year % 100 else 0)


def _month(text: str, latest: date) -> DateText:
    found = _MONTH.fullmatch(text)
    if found:
        month = found[1] or found[4] or _MONTH_NUMBERS.get((found[5] or "").casefold())
        year = found[2] or found[3] or found[6]
        if month and 1 <= int(month) <= 12:
            first = date(_year(year, latest), int(month), 1)
            return DateText(first, month_only=True, two_digit_year=len(year) == 2)
    return DateText(problem=f"is not a clear date; {CLEAR}")
