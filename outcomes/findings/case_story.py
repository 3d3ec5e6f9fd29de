"""The course of one case: its measures over time beside the fellow lid, what happened, and what is open."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from outcomes.findings.case_records import CaseRecord, HeldRows, Values, case_records, day_of, record_of
from outcomes.findings.schedule import Schedule, schedule
from outcomes.protocol import Field, Measure, Protocol, Value

DECIMALS = 3


@dataclass(frozen=True)
class Point:
    """One value of a measure at one review; `poor` is None where the protocol has no rule for that day."""

    on: date
    days: int
    value: float
    fellow: float | None
    poor: bool | None
    assessor: str
    masked: bool


@dataclass(frozen=True)
class Course:
    """One measure of the case over its reviews, in order of time."""

    measure: str
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Happening:
    """One dated thing: the operation, the division, an event or a review. `days` counts from division, if divided."""

    on: date
    kind: Literal["operation", "division", "event", "review"]
    days: int | None
    values: Values


@dataclass(frozen=True)
class CaseStory:
    """Everything known of one case on the as-of day."""

    as_of: date
    record: CaseRecord
    days_shut: int | None
    courses: tuple[Course, ...]
    happenings: tuple[Happening, ...]
    open: Schedule


def case_story(held: HeldRows, protocol: Protocol, case_id: str, as_of: date) -> CaseStory:
    """The course of the case of that code; OutcomesError with near codes when there is none."""
    record = record_of(case_records(held, protocol, as_of), case_id)
    divided = record.day("divided_on")
    courses = (Course(measure.id, tuple(_points(record, measure, protocol))) for measure in protocol.measures)
    return CaseStory(
        as_of,
        record,
        (divided - record.operated_on).days if divided else None,
        tuple(course for course in courses if course.points),
        tuple(_happenings(record)),
        schedule(held, protocol, as_of, only=(("case_id", (record.case_id,)),)),
    )


def fellow_field(measure: Measure, protocol: Protocol) -> str:
    """The review field of the fellow lid that stands beside the measure's own field; empty when there is none."""
    return next((other.fellow for other in protocol.measures if other.operated and other.operated == measure.field), "")


def _points(record: CaseRecord, measure: Measure, protocol: Protocol) -> Iterator[Point]:
    divided = record.day("divided_on")
    if divided is None:
        return
    fellow = fellow_field(measure, protocol)
    for review in record.reviews:
        on = day_of(review, "reviewed_on")
        value = measure_value(review, measure, protocol)
        if on is not None and on >= divided and value is not None:
            days = (on - divided).days
            beside = _number(review, protocol.field("reviews", fellow)) if fellow else None
            poor = is_poor(measure, value, days, protocol)
            yield Point(on, days, value, beside, poor, str(review.get("assessor", "")), review.get("masked") == "yes")


def measure_value(review: Values, measure: Measure, protocol: Protocol) -> float | None:
    """The value of a measure at a review: computed where both lids were measured, else as entered."""
    if measure.computed:
        both = [_number(review, protocol.field("reviews", name)) for name in (measure.operated, measure.fellow)]
        if both[0] is not None and both[1] is not None:
            return round(both[0] - both[1], DECIMALS)
    return _number(review, protocol.field("reviews", measure.field)) if measure.field else None


def _number(review: Values, field: Field) -> float | None:
    value: Value = review.get(field.id)
    return field.number(value)


def is_poor(measure: Measure, value: float, days: int, protocol: Protocol) -> bool | None:
    """Whether a value so many days after division is poor; None without a rule, or before the rule begins to hold."""
    if measure.poor is None or (measure.poor_from and days < protocol.window(measure.poor_from).days[0]):
        return None
    cut = measure.poor
    return value >= cut.bound if cut.at_least is not None else value <= cut.bound


def _happenings(record: CaseRecord) -> Iterator[Happening]:
    divided = record.day("divided_on")
    happenings = [Happening(record.operated_on, "operation", None, record.case)]
    happenings += [Happening(divided, "division", 0, record.case)] if divided else []
    for kind, rows, name in (("event", record.events, "happened_on"), ("review", record.reviews, "reviewed_on")):
        for row in rows:
            on = day_of(row, name) or date.max
            happenings.append(Happening(on, kind, (on - divided).days if divided else None, row))  # type: ignore[arg-type]
    order = ("operation", "division", "event", "review")
    return iter(sorted(happenings, key=lambda each: (each.on, order.index(each.kind))))


def planned_reviews(story: CaseStory, protocol: Protocol) -> Iterator[tuple[str, date]]:
    """The reviews of the schedule that still lie ahead, each with its nominal day."""
    divided = story.record.day("divided_on")
    if divided is not None and story.record.ended is None:
        for window in protocol.windows:
            nominal_on = divided + timedelta(days=window.nominal_days)
            if nominal_on > story.as_of:
                yield window.id, nominal_on
