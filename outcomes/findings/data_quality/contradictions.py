"""Recorded values that cannot all be right."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from outcomes.findings.case_records import CaseRecord, Values, day_of, number_of
from outcomes.findings.data_quality.queries import DataQuery
from outcomes.protocol import Measure, Protocol

RECURRENCE, LASHES = "recurrence", "lash_loss_percent"
LASH_LOSS_SLACK_POINTS = 15
EARLY_DAYS = 3


def contradictions(record: CaseRecord, protocol: Protocol) -> Iterator[DataQuery]:
    """Every contradiction within one case."""
    yield from _division(record)
    for review in record.reviews:
        yield from _masked_by_surgeon(record, review)
        yield from _lashes(record, review)
        yield from _no_recurrence(record, review)
        for measure in protocol.measures:
            yield from _entered(record, review, measure, protocol)


def _of_review(record: CaseRecord, review: Values, kind: str, field: str, **facts: str | float) -> DataQuery:
    on, assessor = day_of(review, "reviewed_on"), str(review.get("assessor", ""))
    return DataQuery(kind, "contradiction", "reviews", record.case_id, on, field, assessor, tuple(facts.items()))


def _entered(record: CaseRecord, review: Values, measure: Measure, protocol: Protocol) -> Iterator[DataQuery]:
    """A value entered beside the two from which it is computed, and more than a step away from their difference."""
    names = (measure.field, measure.operated, measure.fellow)
    entered, operated, fellow = (number_of(review, name) if name else None for name in names)
    if entered is None or operated is None or fellow is None:
        return
    computed = round(operated - fellow, 3)
    if abs(entered - computed) > protocol.field("reviews", measure.field).step:
        yield _of_review(record, review, "entered_against_computed", measure.field, entered=entered, computed=computed)


def _masked_by_surgeon(record: CaseRecord, review: Values) -> Iterator[DataQuery]:
    surgeon = record.text("surgeon")
    if surgeon and review.get("masked") == "yes" and review.get("assessor") == surgeon:
        yield _of_review(record, review, "masked_surgeon", "masked", surgeon=surgeon)


def _lashes(record: CaseRecord, review: Values) -> Iterator[DataQuery]:
    """The rebuilt part of the margin grows no lashes, so the share without lashes is at least its share of the lid."""
    width, lid = (number_of(record.case, name) for name in ("defect_width_mm", "lid_width_mm"))
    lost = number_of(review, LASHES)
    if lost is None or not width or not lid:
        return
    rebuilt = 100 * min(1.0, width / lid)
    if lost + LASH_LOSS_SLACK_POINTS < rebuilt:
        yield _of_review(record, review, "lashes_on_rebuilt_margin", LASHES, lost=lost, rebuilt=round(rebuilt))


def _no_recurrence(record: CaseRecord, review: Values) -> Iterator[DataQuery]:
    on, known = day_of(review, "reviewed_on"), record.first_event(RECURRENCE)
    if on is not None and known is not None and on > known and review.get(RECURRENCE) == 0:
        yield _of_review(record, review, "none_after_recurrence", RECURRENCE, known=known.isoformat())


def _division(record: CaseRecord) -> Iterator[DataQuery]:
    planned, divided, reason = (
        record.day("division_planned_on"),
        record.day("divided_on"),
        record.text("division_early_reason"),
    )
    if planned is None or divided is None:
        return
    days = (planned - divided).days
    if reason and days <= 0:
        yield _of_case(record, "reason_without_early_division", (planned, divided), days, reason)
    if not reason and days >= EARLY_DAYS:
        yield _of_case(record, "early_division_without_reason", (planned, divided), days, "")


def _of_case(record: CaseRecord, kind: str, dates: tuple[date, date], days: int, reason: str) -> DataQuery:
    facts = (
        ("planned", dates[0].isoformat()),
        ("divided", dates[1].isoformat()),
        ("days", float(days)),
        ("reason", reason),
    )
    field = "division_early_reason"
    return DataQuery(kind, "contradiction", "reconstructions", record.case_id, None, field, facts=facts)
