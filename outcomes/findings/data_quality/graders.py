"""Habits of assessors: preference for whole numbers, and grades that never go above the second level."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from outcomes.findings.case_records import CaseRecord, number_of
from outcomes.findings.data_quality.queries import DataQuery
from outcomes.protocol import Field, Protocol
from outcomes.statistics.binomial_tail import binomial_tail

LEAST_VALUES, EVEN_SHARE = 30, 0.75
LEAST_GRADES = 50
ALARM = 0.01
"""The chance of any false alarm of one kind in a register without such habits, shared among all that are looked at."""


def grader_queries(records: Iterable[CaseRecord], protocol: Protocol) -> Iterator[DataQuery]:
    """Every habit of an assessor that chance hardly explains."""
    recorded = _recorded(records, protocol)
    yield from _digit_preference(recorded)
    yield from _never_above(recorded)


_Recorded = dict[tuple[Field, str], list[float]]


def _recorded(records: Iterable[CaseRecord], protocol: Protocol) -> _Recorded:
    """Every recorded number and grade, by field and assessor."""
    recorded: defaultdict[tuple[Field, str], list[float]] = defaultdict(list)
    for record in records:
        for review in record.reviews:
            for field in protocol.observed:
                value = number_of(review, field.id)
                if value is not None and review.get("assessor"):
                    recorded[field, str(review["assessor"])].append(value)
    return recorded


def _digit_preference(recorded: _Recorded) -> Iterator[DataQuery]:
    """Values recorded to a step of which every second one (whole millimetres, full tens) turns up too often.

    Zero is left out: it is a floor, not a reading. Terminal digit preference; common practice, no source.
    """
    steps = {
        (field, assessor): [round(value / field.step) for value in values if value != 0]
        for (field, assessor), values in recorded.items()
        if field.kind == "number" and field.step
    }
    judged = {key: values for key, values in steps.items() if len(values) >= LEAST_VALUES}
    for (field, assessor), values in judged.items():
        even = sum(value % 2 == 0 for value in values)
        chance = binomial_tail(even, trials=len(values), probability=0.5)
        if even >= EVEN_SHARE * len(values) and chance < ALARM / len(judged):
            facts = (("even", float(even)), ("values", float(len(values))), ("step", field.step), ("unit", field.unit))
            yield DataQuery("digit_preference", "assessor", "reviews", field=field.id, assessor=assessor, facts=facts)


def _never_above(recorded: _Recorded) -> Iterator[DataQuery]:
    """An assessor who never grades above the second level on a scale on which others do, over all fields of the scale."""
    grades: defaultdict[str, defaultdict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    words: dict[str, str] = {}
    for (field, assessor), values in recorded.items():
        if field.scale is not None and len(field.levels) > 3:
            grades[field.scale.id][assessor] += values
            words[field.scale.id] = field.levels[1]
    looked_at = sum(map(len, grades.values()))
    for scale, by_assessor in grades.items():
        for assessor, own in by_assessor.items():
            others = [value for other, values in by_assessor.items() if other != assessor for value in values]
            above = sum(value > 1 for value in others)
            if len(own) < LEAST_GRADES or max(own) > 1 or not above:
                continue
            if (1 - above / len(others)) ** len(own) < ALARM / looked_at:
                facts = (
                    ("grades", float(len(own))),
                    ("level", words[scale]),
                    ("others", round(above / len(others), 3)),
                    ("scale", scale),
                )
                yield DataQuery("never_above", "assessor", "reviews", assessor=assessor, facts=facts)
