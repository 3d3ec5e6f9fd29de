"""A date is read only where it can be read in one way, and then as the calendar has it."""

import calendar
from datetime import date, datetime, timedelta

import pytest

from outcomes.capture.date_text import DAY_FIRST, MONTH_FIRST, read_date_text, serial_day

LATEST = date(2026, 6, 30)
ENGLISH = ["%d %b %Y", "%d %B %Y", "%B %d, %Y", "%Y/%m/%d", "%Y-%m-%d", "%Y.%m.%d", "%Y%m%d", "%d-%b-%Y", "%d.%b.%Y"]


def days_around_month_ends():
    """Every first, second, penultimate and last day of each month from 1899 to 2101: leap years and centuries too."""
    for year in range(1899, 2102):
        for month in range(1, 13):
            last = calendar.monthrange(year, month)[1]
            yield from (date(year, month, day) for day in (1, 2, last - 1, last))


@pytest.mark.parametrize("form", ENGLISH)
def test_what_the_standard_library_writes_is_read_back(form):
    days = [day for day in days_around_month_ends() if form != "%Y%m%d" or 1900 <= day.year < 2100]
    assert [read_date_text(day.strftime(form), latest=LATEST).day for day in days] == days


@pytest.mark.parametrize("order, form", [(DAY_FIRST, "%d.%m.%Y"), (DAY_FIRST, "%d/%m/%Y"), (MONTH_FIRST, "%m/%d/%Y")])
def test_a_declared_order_reads_every_day(order, form):
    days = list(days_around_month_ends())
    assert [read_date_text(day.strftime(form), order, latest=LATEST).day for day in days] == days


@pytest.mark.parametrize("form", ["%d.%m.%Y", "%m/%d/%Y", "%d-%m-%Y"])
def test_without_an_order_only_what_both_orders_agree_on_or_one_forbids_is_read(form):
    """Judged by the standard library: which of the two orders gives a day at all."""
    sign = form[2]
    for day in days_around_month_ends():
        text = day.strftime(form)
        readings = set()
        for order in (f"%d{sign}%m{sign}%Y", f"%m{sign}%d{sign}%Y"):
            try:
                readings.add(datetime.strptime(text, order).date())  # noqa: DTZ007
            except ValueError:
                continue
        expected = readings.pop() if len(readings) == 1 else None
        assert read_date_text(text, latest=LATEST).day == expected


def test_no_day_that_the_calendar_lacks_is_read():
    for year in range(1900, 2101):
        leap = calendar.isleap(year)
        assert (read_date_text(f"29.02.{year}", latest=LATEST).day is not None) is leap
        assert (read_date_text(f"{year}/02/29", latest=LATEST).day is not None) is leap
        for month in (2, 4, 6, 9, 11):
            assert read_date_text(f"31.{month}.{year}", latest=LATEST).problem


@pytest.mark.parametrize(
    "text, day",
    [
        ("30 Sep 2018", (2018, 9, 30)),
        ("3. März 2024", (2024, 3, 3)),
        ("3. Mai 2024", (2024, 5, 3)),
        ("1. Dez. 2023", (2023, 12, 1)),
        ("Sept. 5, 2019", (2019, 9, 5)),
        ("2nd of", None),
        ("13.04.2024 08:15", (2024, 4, 13)),
        ("2024-04-13T08:15:00", (2024, 4, 13)),
        ("2021/04/03", (2021, 4, 3)),
        ("0503", None),
        ("24.13.2020", None),
        ("32.01.2020", None),
        ("2020.13.01", None),
    ],
)
def test_other_ways_of_writing(text, day):
    assert read_date_text(text, latest=LATEST).day == (date(*day) if day else None)


@pytest.mark.parametrize("text", ["Mar-24", "03/2024", "2024-03", "März 2024", "March 2024", "Mrz. 2024"])
def test_a_month_is_known_as_a_month(text):
    read = read_date_text(text, latest=LATEST)
    assert read.month_only
    assert read.day == date(2024, 3, 1)


@pytest.mark.parametrize("text, year", [("13.04.24", 2024), ("13.04.26", 2026), ("13.04.27", 1927), ("13.04.99", 1999)])
def test_a_year_of_two_digits_is_the_last_that_has_been(text, year):
    read = read_date_text(text, latest=LATEST)
    assert read.day == date(year, 4, 13)
    assert read.two_digit_year


def test_an_order_that_the_date_contradicts_is_refused():
    assert "is not a date with the month first" in read_date_text("24.03.2020", MONTH_FIRST, latest=LATEST).problem


@pytest.mark.parametrize(
    "serial, day",
    [(3687, date(1910, 2, 3)), (38749, date(2006, 2, 1)), (39448, date(2008, 1, 1)), (61, date(1900, 3, 1))],
)
def test_serials_are_those_of_the_published_table(serial, day):
    """ECMA-376 part 3 (primer), dates: 3687 is 3 February 1910, 38749 is 1 February 2006. Microsoft, DATE function: 39448 is
    1 January 2008. The last follows from 1 being 1 January 1900 with a 29 February 1900."""
    assert serial_day(serial) == day
    assert serial_day(serial + 0.75) == day


def test_serials_run_on_day_by_day():
    assert [serial_day(n) for n in range(61, 73_050)] == [
        date(1900, 3, 1) + timedelta(n - 61) for n in range(61, 73_050)
    ]
    assert serial_day(60) is None
    assert serial_day(73_050) is None
