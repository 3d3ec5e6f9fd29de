"""The schedule as tables for the terminal and as one table for a file."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from outcomes.findings.schedule import (
    Confirmation,
    ConfirmationKind,
    Schedule,
    ScheduledCase,
    ScheduledReview,
    UndividedPedicle,
)
from outcomes.protocol import Protocol
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import Figure

CONFIRMATIONS: dict[ConfirmationKind, str] = {
    "suspected_recurrence": "recurrence suspected: needs histology, or a review that says none",
    "confirmed_without_event": "recurrence confirmed at a review: its date belongs into the events",
    "involved_margin": "margin involved, and no re-excision recorded",
}
SHOWN = 12
_CASE = (
    Column("case", "Case"),
    Column("side", "Side"),
    Column("cover", "Cover"),
    Column("surgeon", "Surgeon"),
    Column("site", "Site"),
)


def schedule_tables(schedule: Schedule, protocol: Protocol, *, shown: int = SHOWN) -> tuple[Table, ...]:
    """A table for pedicles, for reviews and for confirmations, each with its first `shown` rows; empty ones are left out.

    Of overdue reviews those stand first whose window closes next.
    """
    overdue = sorted(schedule.with_status("overdue"), key=lambda each: each.last_on)
    whole = (
        _pedicles(schedule.pedicles),
        _reviews((*schedule.with_status("due"), *overdue), schedule, protocol),
        _confirmations(schedule.confirmations),
    )
    return tuple(_shortened(table, shown) for table in whole if table.rows or table.notes)


def _shortened(table: Table, shown: int) -> Table:
    more = len(table.rows) - shown
    notes = ((f"and {more} more; --out FILE.csv holds them all",),) if more > 0 else ()
    return Table(table.id, table.title, table.columns, table.rows[:shown], (*notes, *table.notes))


def _case_cells(case: ScheduledCase) -> tuple[tuple[str, ...], ...]:
    return ((case.case,), (case.side,), (case.cover,), (case.surgeon,), (case.site,))


def days_late_words(days_late: int) -> str:
    """Say how far a planned day lies behind or ahead.

    >>> days_late_words(3), days_late_words(0), days_late_words(-1)
    ('3 days late', 'today', 'in 1 day')
    """
    days = f"{abs(days_late)} day{'' if abs(days_late) == 1 else 's'}"
    return "today" if days_late == 0 else f"{days} late" if days_late > 0 else f"in {days}"


def flag_words(pedicle: UndividedPedicle) -> str:
    """Say why a pedicle must not wait; empty when nothing says so."""
    words = ["! the fellow eye sees poorly"] if pedicle.fellow_sees_poorly else []
    words += [f"! dehisced on {pedicle.dehisced_on.isoformat()}"] if pedicle.dehisced_on else []
    return "; ".join(words)


def _pedicles(pedicles: Sequence[UndividedPedicle]) -> Table:
    columns = (
        *_CASE,
        Column("planned", "Planned"),
        Column("late", "Late"),
        Column("shut", "Days shut", "right"),
        Column("note", "Note"),
    )
    rows = tuple(
        Row(
            (
                *_case_cells(each.case),
                (_planned(each),),
                (days_late_words(each.days_late),),
                (str(each.days_shut),),
                (flag_words(each),),
            )
        )
        for each in pedicles
    )
    return Table("pedicles", f"Pedicles not yet divided: {len(rows)}", columns, rows)


def _planned(pedicle: UndividedPedicle) -> str:
    return pedicle.planned_on.isoformat() + (" by cover" if pedicle.planned == "by cover" else "")


def _reviews(reviews: Sequence[ScheduledReview], schedule: Schedule, protocol: Protocol) -> Table:
    columns = (
        *_CASE,
        Column("review", "Review"),
        Column("due", "Due on"),
        Column("late", "Late"),
        Column("until", "Window until"),
    )
    rows = tuple(
        Row(
            (
                *_case_cells(each.case),
                (protocol.window(each.window).label,),
                (each.nominal_on.isoformat(),),
                (days_late_words(each.days_late),),
                (each.last_on.isoformat(),),
            )
        )
        for each in reviews
    )
    due, overdue = len(schedule.with_status("due")), len(schedule.with_status("overdue"))
    title = f"Reviews: {due} due within {schedule.within} days, {overdue} overdue with their window still open"
    missed = schedule.missed_by_window
    listed = ", ".join(f"{window.label} {missed[window.id]}" for window in protocol.windows if window.id in missed)
    notes = ((f"Missed, their window closed: {sum(missed.values())} ({listed}).",),) if missed else ()
    return Table("reviews", title, columns, rows, notes)


def _confirmations(confirmations: Sequence[Confirmation]) -> Table:
    columns = (*_CASE, Column("since", "Since"), Column("open", "Outstanding"))
    rows = tuple(
        Row((*_case_cells(each.case), (each.since.isoformat(),), (CONFIRMATIONS[each.kind],))) for each in confirmations
    )
    return Table("confirmations", f"Confirmations outstanding: {len(rows)}", columns, rows)


def schedule_file(schedule: Schedule, protocol: Protocol) -> Table:
    """Everything of the schedule in one table, missed reviews too, for a spreadsheet."""
    columns = (
        *_CASE,
        Column("what", "What"),
        Column("status", "Status"),
        Column("due_on", "Due on"),
        Column("from", "From"),
        Column("until", "Until"),
        Column("days_late", "Days late", "right"),
        Column("days_shut", "Days shut", "right"),
        Column("note", "Note"),
    )
    rows = [_pedicle_line(each) for each in schedule.pedicles]
    rows += [_review_line(each, protocol) for each in schedule.reviews]
    rows += [_confirmation_line(each, schedule.as_of) for each in schedule.confirmations]
    return Table(
        "due",
        "Due",
        columns,
        tuple(Row((*_case_cells(case), *((_cell(cell),) for cell in line))) for case, line in rows),
    )


_Line = tuple[ScheduledCase, tuple[str | int, ...]]


def _cell(value: str | int) -> str | Figure:
    return Figure(str(value), "") if isinstance(value, int) else value


def _pedicle_line(each: UndividedPedicle) -> _Line:
    status = "overdue" if each.days_late > 0 else "due"
    planned = each.planned_on.isoformat()
    note = "; ".join(
        part for part in (flag_words(each), "planned by cover" if each.planned == "by cover" else "") if part
    )
    return each.case, ("division", status, planned, "", "", each.days_late, each.days_shut, note)


def _review_line(each: ScheduledReview, protocol: Protocol) -> _Line:
    days = [day.isoformat() for day in (each.nominal_on, each.first_on, each.last_on)]
    label = protocol.window(each.window).label
    return each.case, (f"review: {label}", each.status, *days, each.days_late, "", "")


def _confirmation_line(each: Confirmation, as_of: date) -> _Line:
    since = each.since.isoformat()
    return each.case, (
        "confirmation",
        "open",
        "",
        since,
        "",
        (as_of - each.since).days,
        "",
        CONFIRMATIONS[each.kind],
    )
