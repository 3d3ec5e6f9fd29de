"""The schedule on a given day: pedicles to divide, reviews due, overdue and missed, and confirmations outstanding."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import takewhile
from typing import Literal

from outcomes.errors import WrongUsage
from outcomes.findings.case_records import CaseRecord, HeldRows, Values, case_records, day_of, number_of
from outcomes.protocol import Protocol, Window

DEHISCENCE, RECURRENCE = "pedicle dehiscence", "recurrence"
SUSPECTED, CONFIRMED = 1, 2
ReviewStatus = Literal["due", "overdue", "missed"]
ConfirmationKind = Literal["suspected_recurrence", "confirmed_without_event", "involved_margin"]


@dataclass(frozen=True)
class ScheduledCase:
    """The codes by which the clinic finds a case again."""

    case: str
    side: str
    cover: str
    surgeon: str
    site: str


@dataclass(frozen=True)
class UndividedPedicle:
    """A pedicle not yet divided. `days_late` is over 0 past the planned day; `planned` tells where that day comes from."""

    case: ScheduledCase
    operated_on: date
    planned_on: date
    planned: Literal["entered", "by cover"]
    days_shut: int
    days_late: int
    fellow_sees_poorly: bool
    dehisced_on: date | None


@dataclass(frozen=True)
class ScheduledReview:
    """One review of the schedule that has not taken place; `days_late` is over 0 past its nominal day."""

    case: ScheduledCase
    window: str
    nominal_on: date
    first_on: date
    last_on: date
    status: ReviewStatus
    days_late: int


@dataclass(frozen=True)
class Confirmation:
    """One finding that still needs histology, an event or an operation; since when it has been open."""

    case: ScheduledCase
    kind: ConfirmationKind
    since: date


@dataclass(frozen=True)
class Schedule:
    """What is open on `as_of`; reviews whose nominal day comes within `within` days are due already."""

    as_of: date
    within: int
    cases: int
    pedicles: tuple[UndividedPedicle, ...]
    reviews: tuple[ScheduledReview, ...]
    confirmations: tuple[Confirmation, ...]

    def with_status(self, *statuses: ReviewStatus) -> tuple[ScheduledReview, ...]:
        """The reviews of some statuses."""
        return tuple(review for review in self.reviews if review.status in statuses)

    @property
    def missed_by_window(self) -> dict[str, int]:
        """How many reviews were missed in each window."""
        return dict(Counter(review.window for review in self.with_status("missed")))


def schedule(
    held: HeldRows,
    protocol: Protocol,
    as_of: date,
    *,
    within: int = 14,
    only: tuple[tuple[str, tuple[str, ...]], ...] = (),
) -> Schedule:
    """The schedule of all cases, or `only` of those whose field has one of the values; WrongUsage for an unknown value.

    Cases whose follow-up has ended (death, withdrawn, moved away, for either lid of the patient) have nothing due.
    """
    records = case_records(held, protocol, as_of)
    for name, values in only:
        _check_codes(name, values, records)
        records = tuple(record for record in records if not values or record.text(name) in values)
    followed = [record for record in records if record.ended is None]
    pedicles = [_pedicle(record, protocol, as_of) for record in followed if record.day("divided_on") is None]
    reviews = [review for record in followed for review in _reviews(record, protocol, as_of, within)]
    confirmations = [confirmation for record in followed for confirmation in _confirmations(record)]
    return Schedule(
        as_of,
        within,
        len(records),
        tuple(sorted(pedicles, key=lambda each: (each.planned_on, each.case.case))),
        tuple(sorted(reviews, key=lambda each: (each.nominal_on, each.case.case))),
        tuple(sorted(confirmations, key=lambda each: (each.since, each.case.case))),
    )


def _check_codes(name: str, values: Iterable[str], records: Iterable[CaseRecord]) -> None:
    known = sorted({record.text(name) for record in records} - {""})
    for value in values:
        if value not in known:
            near = difflib.get_close_matches(value, known, n=1)
            hint = f' Did you mean "{near[0]}"?' if near else ""
            raise WrongUsage(f'there is no {name} "{value}".{hint} Known: {", ".join(known)}')


def _scheduled(record: CaseRecord) -> ScheduledCase:
    return ScheduledCase(*(record.text(name) for name in ("case_id", "side", "cover", "surgeon", "site")))


def planned_division(record: CaseRecord, protocol: Protocol) -> tuple[date, Literal["entered", "by cover"]]:
    """The day planned for division: as entered, or the protocol's days for the cover."""
    entered = record.day("division_planned_on")
    if entered is not None:
        return entered, "entered"
    return record.operated_on + timedelta(days=protocol.cover(record.text("cover")).division_days), "by cover"


def _pedicle(record: CaseRecord, protocol: Protocol, as_of: date) -> UndividedPedicle:
    planned_on, planned = planned_division(record, protocol)
    fellow = number_of(record.case, "fellow_logmar")
    return UndividedPedicle(
        _scheduled(record),
        record.operated_on,
        planned_on,
        planned,
        (as_of - record.operated_on).days,
        (as_of - planned_on).days,
        fellow is not None and fellow >= protocol.rules.fellow_poor_logmar,
        record.first_event(DEHISCENCE),
    )


def _reviews(record: CaseRecord, protocol: Protocol, as_of: date, within: int) -> Iterator[ScheduledReview]:
    """The reviews without a visit in their window, up to those that are due."""
    divided = record.day("divided_on")
    if divided is None:
        return
    days = [(seen - divided).days for review in record.reviews if (seen := day_of(review, "reviewed_on"))]
    for window in protocol.windows:
        last_on = divided + timedelta(days=window.days[1])
        status = _status(window, (as_of - divided).days, within)
        if status is not None and not any(window.holds(day) for day in days):
            nominal_on = divided + timedelta(days=window.nominal_days)
            first_on = divided + timedelta(days=window.days[0])
            late = (as_of - nominal_on).days
            yield ScheduledReview(_scheduled(record), window.id, nominal_on, first_on, last_on, status, late)


def _status(window: Window, day: int, within: int) -> ReviewStatus | None:
    """The status of a review that has not taken place, so many days after division; None while it is not due."""
    if day > window.days[1]:
        return "missed"
    if day > window.nominal_days:
        return "overdue"
    return "due" if day + within >= window.nominal_days else None


def _confirmations(record: CaseRecord) -> Iterator[Confirmation]:
    graded = [review for review in record.reviews if review.get(RECURRENCE) is not None]
    if graded and record.first_event(RECURRENCE) is None:
        last = graded[-1]
        kinds: dict[object, ConfirmationKind] = {
            SUSPECTED: "suspected_recurrence",
            CONFIRMED: "confirmed_without_event",
        }
        kind = kinds.get(last[RECURRENCE])
        if kind is not None:
            yield Confirmation(_scheduled(record), kind, _since(graded, last[RECURRENCE]))
    if record.text("histology_margin") == "involved" and record.text("re_excised") != "yes":
        yield Confirmation(_scheduled(record), "involved_margin", record.operated_on)


def _since(graded: list[Values], grade: object) -> date:
    """The day of the first of the latest reviews that all say the same."""
    *_, first = takewhile(lambda review: review[RECURRENCE] == grade, reversed(graded))
    return day_of(first, "reviewed_on") or date.max
