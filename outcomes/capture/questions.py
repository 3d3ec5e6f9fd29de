"""The questions of prompted entry: which fields are asked in which order, how each is put, and how an answer is read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from outcomes.capture.cells import RowReader
from outcomes.capture.chronology import REMOTE_MODES
from outcomes.capture.columns import Columns
from outcomes.capture.raw_sheets import SheetForm
from outcomes.protocol import Field, Protocol, Value

TODAY = "today"
_CONTEXT = ("case_id", "reviewed_on", "assessor")
_BY_RULER = "mm"


@dataclass(frozen=True)
class EntryContext:
    """What is known before the questions: the protocol, the day, and the case's division where there is a case."""

    protocol: Protocol
    as_of: date
    divided_on: Value = None


def case_questions(protocol: Protocol) -> tuple[Field, ...]:
    """The fields of a case, the patient's first; the patient's are left out where the register holds the patient."""
    return (
        *protocol.sheet("patients"),
        *(field for field in protocol.sheet("reconstructions") if field.id != "patient_id"),
    )


def review_questions(protocol: Protocol) -> tuple[tuple[Field, ...], tuple[Field, ...]]:
    """The fields of a review: those that are always asked, the main measures among them, and the further ones."""
    fields = {field.id: field for field in protocol.sheet("reviews")}
    main = [
        name for measure in protocol.main_measures for name in (measure.operated, measure.fellow, measure.field) if name
    ]
    first = dict.fromkeys((*_CONTEXT, *main, "recurrence"))
    rest = [name for name in fields if name not in first and name != "date_precision"]
    return tuple(fields[name] for name in first if name in fields), tuple(fields[name] for name in rest)


def is_asked(field: Field, answers: Mapping[str, Value], context: EntryContext) -> bool:
    """Tell whether a field can have a value beside the answers so far."""
    if field.only_with_field and answers.get(field.only_with_field) not in field.only_with_values:
        return False
    if field.sheet != "reviews":
        return True
    if field.observed and not field.before_division and _before_division(answers.get("reviewed_on"), context):
        return False
    if answers.get("mode") in REMOTE_MODES and field.unit == _BY_RULER:
        return False
    return not _is_computed(field, answers, context.protocol)


def _before_division(day: Value, context: EntryContext) -> bool:
    divided = context.divided_on
    return not isinstance(divided, date) or (isinstance(day, date) and day < divided)


def _is_computed(field: Field, answers: Mapping[str, Value], protocol: Protocol) -> bool:
    """Tell whether the field is the difference of two fields that were both answered."""
    return any(
        measure.field == field.id and measure.operated in answers and measure.fellow in answers
        for measure in protocol.measures
        if measure.operated
    )


def question_lines(field: Field, last: str) -> tuple[list[str], str]:
    """The lines that list the choices by number, and the prompt with unit, limits and last value."""
    choices = field.levels or field.allowed
    start = 0 if field.levels else 1
    bare = all(word == str(number) for number, word in enumerate(choices))
    numbered = (f"{number} {word}" for number, word in enumerate(choices, start=start))
    listed = [] if bare or not choices else ["     " + "   ".join(numbered)]
    parts = [] if listed else [_limits(field)]
    parts += [f"last {last}"] if last else []
    parts += ["required"] if field.required else []
    shown = "; ".join(part for part in parts if part)
    return listed, f"{field.label} ({shown})" if shown else field.label


def _limits(field: Field) -> str:
    if field.kind == "date":
        return f"year-month-day, or {TODAY}" if not field.future else "year-month-day"
    return "" if field.kind == "code" else field.says().removeprefix("a ")


def read_answer(field: Field, text: str, context: EntryContext) -> tuple[Value, str]:
    """The value of one answer, None for not recorded, and what is wrong with it.

    A choice may be given by its number, and a word of the trade is read as the protocol's own.
    """
    text = " ".join(text.split())
    if field.kind == "date" and text.casefold() == TODAY:
        return context.as_of, ""
    if text.isdigit() and field.allowed and 1 <= int(text) <= len(field.allowed):
        return field.allowed[int(text) - 1], ""
    synonyms = context.protocol.synonyms
    if synonyms.is_missing(text) and not field.required:
        return None, ""
    reader = RowReader(
        field.sheet, Columns({0: field}, ()), context.as_of, SheetForm(decimal_comma=True), context.protocol.synonyms
    )
    reading = reader.read_cell(field, synonyms.word(field, text) or text)
    return reading.value, reading.problem
