"""Find the day of a review: its own date, or a nominal day where only its month or its visit is known."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from outcomes.capture.foreign.cell_values import CellValue

_MIDDLE = 15


@dataclass(frozen=True)
class ReviewDay:
    """The day of a review, whether it is nominal, and why there is none."""

    day: date | None = None
    nominal: bool = False
    problem: str = ""


def review_day(visit: str, days: int | None, divided: object, read: CellValue | None) -> ReviewDay:
    """The day of a visit by its date cell, else so many days after division.

    A month is stored on the nominal day where that lies in it, else on its 15th, and never before the division.
    """
    after = divided + timedelta(days=days) if isinstance(divided, date) and days is not None else None
    if read is not None and read.problem:
        return ReviewDay(problem="the review has no date that can be read")
    if read is not None and isinstance(read.value, date):
        return (
            ReviewDay(_day_in_month(read.value, after, divided), nominal=True)
            if read.month_only
            else ReviewDay(read.value)
        )
    if after is not None:
        return ReviewDay(after, nominal=True)
    if not visit:
        return ReviewDay(problem="the review has no date")
    why = "the case has no date of division" if days is not None else "the mapping has no days for it"
    return ReviewDay(problem=f"the visit {visit} has no date, and {why}")


def _day_in_month(month: date, after: date | None, divided: object) -> date:
    day = after if after is not None and _same_month(after, month) else month.replace(day=_MIDDLE)
    return max(day, divided) if isinstance(divided, date) and _same_month(divided, month) else day


def _same_month(one: date, other: date) -> bool:
    return (one.year, one.month) == (other.year, other.month)
