"""Awkward study codes come through the iCalendar file whole, as the package icalendar reads it (RFC 5545)."""

from datetime import date

import icalendar
import pytest

from outcomes.findings.schedule import schedule
from outcomes.protocol import default_protocol
from outcomes.report.calendar import write_calendar
from tests.rows import case, held_rows, sheets


@pytest.mark.parametrize("code", ["A,1;B", "A\\n1", "A: B", "ÄÖÜß" * 15, "A 1"])
def test_codes_come_through_whole(code, tmp_path):
    protocol = default_protocol()
    listed = schedule(held_rows(sheets([case(code, divided_on=None)])), protocol, date(2024, 1, 2))
    path = tmp_path / "due.ics"
    assert write_calendar(listed, protocol, path, software="outcomes 1, test") == 1
    lines = path.read_bytes().split(b"\r\n")
    assert max(map(len, lines)) <= 75
    for line in lines:
        line.decode()  # no letter is cut in two
    [entry] = icalendar.Calendar.from_ical(path.read_bytes()).walk("VEVENT")
    assert str(entry["SUMMARY"]) == f"{code}: division of the pedicle"
    assert entry["DTSTART"].dt == date(2024, 1, 22)
