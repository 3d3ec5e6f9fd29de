"""The schedule as an iCalendar file (RFC 5545): whole days, study codes only."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from outcomes.findings.schedule import Schedule, ScheduledReview, UndividedPedicle
from outcomes.protocol import Protocol
from outcomes.report.schedule_tables import days_late_words

LINE_OCTETS = 75


def write_calendar(schedule: Schedule, protocol: Protocol, path: Path, *, software: str) -> int:
    """Write every division and review that can still take place; gives how many entries were written."""
    entries = [_division(each, schedule.as_of) for each in schedule.pedicles]
    entries += [_review(each, protocol, schedule.as_of) for each in schedule.with_status("due", "overdue")]
    head = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:-//{_escaped(software)}//EN", "CALSCALE:GREGORIAN"]
    lines = [*head, *(line for entry in entries for line in entry), "END:VCALENDAR"]
    path.write_bytes("".join(f"{_folded(line)}\r\n" for line in lines).encode())
    return len(entries)


def _division(pedicle: UndividedPedicle, as_of: date) -> list[str]:
    late = f", {days_late_words(pedicle.days_late)}" if pedicle.days_late > 0 else ""
    return _entry((pedicle.case.case, "division"), f"division of the pedicle{late}", pedicle.planned_on, as_of)


def _review(review: ScheduledReview, protocol: Protocol, as_of: date) -> list[str]:
    late = f", {days_late_words(review.days_late)}" if review.days_late > 0 else ""
    words = f"review {protocol.window(review.window).label}{late}, window until {review.last_on.isoformat()}"
    return _entry((review.case.case, review.window), words, review.nominal_on, as_of)


def _entry(key: tuple[str, str], words: str, planned_on: date, as_of: date) -> list[str]:
    """One whole day: the planned one, or `as_of` when that is past."""
    day = max(planned_on, as_of)
    case, what = key
    return [
        "BEGIN:VEVENT",
        f"UID:{_escaped(case.replace(' ', '_'))}-{what}@outcomes.invalid",
        f"DTSTAMP:{as_of:%Y%m%d}T000000Z",
        f"DTSTART;VALUE=DATE:{day:%Y%m%d}",
        f"DTEND;VALUE=DATE:{day + timedelta(days=1):%Y%m%d}",
        f"SUMMARY:{_escaped(f'{case}: {words}')}",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]


def _escaped(text: str) -> str:
    for sign in ("\\", ";", ","):
        text = text.replace(sign, f"\\{sign}")
    return text.replace("\n", "\\n")


def _folded(line: str) -> str:
    """The line in parts of at most 75 octets, each later one after a space."""
    parts, part = [], ""
    for sign in line:
        if len(f"{part}{sign}".encode()) > LINE_OCTETS:
            parts.append(part)
            part = " "
        part += sign
    return "\r\n".join([*parts, part])
