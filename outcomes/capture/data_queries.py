"""Find rows that are valid but unusual, which are stored and listed as queries."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, pairwise

from outcomes.capture.chronology import DEATH
from outcomes.capture.entry import Entries, Entry, RowQuery, row_query
from outcomes.capture.identifiers import doubtful_shape
from outcomes.protocol import Field, Protocol, Query

HISTOLOGY_MARGIN, CLOSE, CLEAR = "histology_margin", "close", "clear"
HISTOLOGY_DISTANCES = ("histology_lateral_mm", "histology_deep_mm")
NOMINAL = "month"
SAME_VISIT_DAYS = 3


def find_queries(entries: Entries, protocol: Protocol) -> list[RowQuery]:
    """Every query about a row that was read now."""
    return [
        *_of_protocol(entries, protocol),
        *_of_division(entries, protocol),
        *_of_histology(entries, protocol),
        *_of_jumps(entries, protocol),
        *_after_the_end(entries, protocol),
        *_of_shares(entries, protocol),
        *_of_codes(entries, protocol),
        *_of_same_operation(entries),
        *_of_nominal_dates(entries),
        *_of_same_visit(entries),
    ]


def _of_protocol(entries: Entries, protocol: Protocol) -> Iterator[RowQuery]:
    dated = {(event.text("case_id"), event.text("kind")) for event in entries.of("events")}
    for query in protocol.queries:
        field = protocol.field(query.sheet, query.field)
        for entry in entries.read(query.sheet):
            settled = bool(query.lacks_event) and (entry.text("case_id"), query.lacks_event) in dated
            if not settled and _matches(query, field, entry):
                yield row_query(entry, query.id, query.says)


def _matches(query: Query, field: Field, entry: Entry) -> bool:
    value = entry.values.get(field.id)
    if value is None:
        return False
    if query.over_field:
        other = entry.values.get(query.over_field)
        return other is not None and value > other  # type: ignore[operator]
    number = field.number(value) or 0.0
    return (query.under is not None and number < query.under) or (query.over is not None and number > query.over)


def _of_division(entries: Entries, protocol: Protocol) -> Iterator[RowQuery]:
    for case in entries.read("reconstructions"):
        operated, divided, cover = case.day("operated_on"), case.day("divided_on"), case.text("cover")
        if operated is None or divided is None or not cover:
            continue
        days = (divided - operated).days
        first, last = protocol.cover(cover).usual_division_days
        explained = days < first and case.text("division_early_reason")
        if not first <= days <= last and not explained:
            yield row_query(
                case, "unusual_division", f"divided after {days} days; usual for {cover} are {first} to {last}"
            )


def _of_histology(entries: Entries, protocol: Protocol) -> Iterator[RowQuery]:
    bound = protocol.rules.close_margin_mm
    for case in entries.read("reconstructions"):
        margin = case.text(HISTOLOGY_MARGIN)
        distances = [case.values.get(name) for name in HISTOLOGY_DISTANCES]
        known = [distance for distance in distances if isinstance(distance, float)]
        if margin == CLOSE and len(known) == len(distances) and min(known) >= bound:
            yield row_query(
                case, "close_yet_wide", f"the margin is called close, yet both distances are {bound:g} mm or more"
            )
        if margin == CLEAR and known and min(known) < bound:
            yield row_query(
                case, "clear_yet_narrow", f"the margin is called clear, yet a distance is less than {bound:g} mm"
            )


def _of_jumps(entries: Entries, protocol: Protocol) -> Iterator[RowQuery]:
    jumping = tuple(field for field in protocol.observed if field.jump is not None)
    for reviews in entries.grouped("reviews", "case_id").values():
        dated = sorted((each for each in reviews if each.day("reviewed_on")), key=lambda each: each.text("reviewed_on"))
        for field in jumping:
            for earlier, later in pairwise(each for each in dated if field.id in each.values):
                yield from _jump(field, earlier, later)


def _jump(field: Field, earlier: Entry, later: Entry) -> Iterator[RowQuery]:
    before, after = field.number(earlier.values[field.id]), field.number(later.values[field.id])
    if before is None or after is None or field.jump is None or abs(after - before) < field.jump:
        return
    blamed = later if later.number else earlier
    unit = f" {field.unit}" if field.unit else ""
    days = f"{earlier.text('reviewed_on')} to {later.text('reviewed_on')}"
    if blamed.number:
        yield row_query(
            blamed, f"jump_{field.id}", f"{field.id} goes from {before:g} to {after:g}{unit} between reviews ({days})"
        )


def _after_the_end(entries: Entries, protocol: Protocol) -> Iterator[RowQuery]:
    """A review after the patient was lost is a query; one after death was refused before."""
    ends = set(protocol.ends_follow_up) - {DEATH}
    first: dict[str, tuple[str, str]] = {}
    for event in entries.of("events"):
        end = event.text("happened_on"), event.text("kind")
        if end[1] in ends and all(end):
            first[event.text("case_id")] = min(end, first.get(event.text("case_id"), end))
    for review in entries.read("reviews"):
        day, kind = first.get(review.text("case_id"), ("", ""))
        if day and review.text("reviewed_on") > day:
            yield row_query(
                review, "review_after_end", f'the case was recorded as "{kind}" on {day}, before this review'
            )


def _of_shares(entries: Entries, protocol: Protocol) -> Iterator[RowQuery]:
    """A spreadsheet keeps 50 % as 0.5 when the sign is typed with it."""
    for field in protocol.fields:
        if field.unit != "%":
            continue
        for entry in entries.read(field.sheet):
            value = entry.values.get(field.id)
            if isinstance(value, float) and 0 < value <= 1:
                yield row_query(entry, f"share_{field.id}", f"{field.id} is {value:g} %; was {value * 100:g} % meant?")


def _of_codes(entries: Entries, protocol: Protocol) -> Iterator[RowQuery]:
    for field in protocol.fields:
        if field.kind == "code":
            for entry in entries.read(field.sheet):
                shape = doubtful_shape(field.id, entry.text(field.id))
                if shape:
                    yield row_query(
                        entry, f"identity_{field.id}", f"{field.id} may be {shape}; the register holds codes only"
                    )


def _of_same_operation(entries: Entries) -> Iterator[RowQuery]:
    first: dict[tuple[str, str, str], Entry] = {}
    for case in entries.of("reconstructions"):
        lid = case.text("patient_id"), case.text("side"), case.text("operated_on")
        other = first.setdefault(lid, case)
        if all(lid) and other is not case and case.number:
            yield row_query(
                case, "same_operation_twice", f"the same patient, side and day as case {other.text('case_id')}"
            )


def _of_nominal_dates(entries: Entries) -> Iterator[RowQuery]:
    """One query a load, on the first review that is known only by its month."""
    nominal = [review for review in entries.read("reviews") if review.text("date_precision") == NOMINAL]
    if nominal:
        says = (
            f"{len(nominal)} reviews of this load are on a nominal day: only their month is known, or only which visit it was, "
            "so the true day may lie half a month away, or elsewhere in the window"
        )
        yield row_query(nominal[0], "nominal_dates", says)


def _of_same_visit(entries: Entries) -> Iterator[RowQuery]:
    """Reviews of one case that lie so close that one visit may have been entered twice."""
    for reviews in entries.grouped("reviews", "case_id").values():
        dated = sorted(((day, each) for each in reviews if (day := each.day("reviewed_on"))), key=lambda pair: pair[0])
        for (first, one), (second, other) in combinations(dated, 2):
            if (second - first).days > SAME_VISIT_DAYS or not (one.number or other.number):
                continue
            assessors = {one.text("assessor"), other.text("assessor")} - {""}
            if len(assessors) <= 1:
                late, early = (other, one) if other.number else (one, other)
                says = f"the same visit twice? Another review by {early.text('assessor') or 'nobody named'}"
                yield row_query(late, "same_visit_twice", f"{says} is dated {early.text('reviewed_on')}")
