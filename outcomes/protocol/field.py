"""One column of one sheet: its kind, limits and words, the reading of raw cells, and the sentences for both.

A cell that cannot be read gives a problem: what is wrong and what to do. Nothing is raised.
"""

from __future__ import annotations

import difflib
import math
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated

from pydantic.dataclasses import dataclass as checked_dataclass

from outcomes.protocol.acuity import snellen_to_logmar
from outcomes.protocol.entries import STRICT, Scale, with_unit
from outcomes.protocol.value_types import Flag, Line, Name, Number, OptionalNumber, Word, Words, allowing, one_of

Raw = str | int | float | bool | date | datetime | None
Value = str | int | float | date | None

YES_NO = ("yes", "no")
SHEETS = ("patients", "reconstructions", "reviews", "events")
KINDS = ("code", "choice", "cover", "yes_no", "grade", "number", "acuity", "year", "date")
_ISO = re.compile(r"^(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]00:00(?::00(?:\.0+)?)?)?$")
_NUMBER = re.compile(r"^[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?$")
_ERROR_CELL = re.compile(r"^#(N/A|DIV/0!|VALUE!|REF!|NAME\?|NUM!|NULL!|SPILL!|CALC!)", re.IGNORECASE)
CODE_LENGTH = 60


@dataclass(frozen=True)
class Reading:
    """The value read from a cell, or the problem with it. A blank cell has the value None: not recorded."""

    value: Value = None
    problem: str = ""


@checked_dataclass(frozen=True, config=STRICT)
class OnlyWith:
    """Another field of the same sheet, and the values of it beside which a field may be recorded."""

    field: Word
    values: Words


@checked_dataclass(frozen=True, config=STRICT)
class Field:
    """One column: its kind, unit, limits and words. `step`: to what its numbers are recorded."""

    id: Name
    sheet: Annotated[str, one_of(*SHEETS)]
    kind: Annotated[str, one_of(*KINDS)]
    label: Word
    definition: Line
    required: Flag = False
    observed: Flag = False
    before_division: Flag = False
    future: Flag = False
    unit: Line = ""
    low: OptionalNumber = None
    high: OptionalNumber = None
    jump: OptionalNumber = None
    step: Number = 0.0
    values: Words = ()
    scale: Scale | None = None
    only_with: Annotated[OnlyWith | None, allowing('{ field = "FIELD", values = ["WORD"] }')] = None

    @property
    def only_with_field(self) -> str:
        """The other field beside whose values this one may be recorded; empty when it always may."""
        return self.only_with.field if self.only_with else ""

    @property
    def only_with_values(self) -> tuple[str, ...]:
        """The values of the other field beside which this one may be recorded."""
        return self.only_with.values if self.only_with else ()

    @property
    def levels(self) -> tuple[str, ...]:
        """The words of a grade, counted from 0; empty for other kinds."""
        return self.scale.levels if self.scale else ()

    @property
    def source(self) -> str:
        """Where the grading was published; empty for other kinds."""
        return self.scale.source if self.scale else ""

    @property
    def limits(self) -> tuple[float, float]:
        """The least and the greatest number that this field takes; a grade runs from 0 to its last level, no to yes from 0 to 1."""
        if self.kind == "yes_no":
            return 0.0, 1.0
        if self.levels:
            return 0.0, float(len(self.levels) - 1)
        return (
            -math.inf if self.low is None else self.low,
            math.inf if self.high is None else self.high,
        )

    @property
    def allowed(self) -> tuple[str, ...]:
        """The closed list of words that this field takes; empty for numbers, dates and codes."""
        return YES_NO if self.kind == "yes_no" else self.values

    def read(self, raw: Raw, *, as_of: date) -> Reading:
        """Read one raw cell; dates after `as_of` are in the future. Blank gives None and is never a problem here."""
        if isinstance(raw, str):
            raw = raw.replace("\u00a0", " ").strip()
        if raw is None or raw == "":
            return Reading()
        if isinstance(raw, str) and _ERROR_CELL.match(raw):
            return Reading(problem=f'"{raw}": a formula ended in an error; type the value or leave the cell blank')
        return _READERS[self.kind](self, raw, as_of)

    def says(self) -> str:
        """Say in words what the field takes."""
        return _SAYINGS[self.kind](self)

    def number(self, value: Value) -> float | None:
        """Turn a value that was read into the number that is kept in an observation: yes 1, no 0, a grade its level."""
        if value is None:
            return None
        if self.kind == "yes_no":
            return 1.0 if value == "yes" else 0.0
        return float(value)  # type: ignore[arg-type]

    def word(self, number: float) -> str:
        """Say an observed number as the user writes it: a level name, yes or no, or the number itself."""
        if self.kind == "yes_no":
            return "yes" if number else "no"
        if self.levels:
            return self.levels[round(number)]
        return f"{number:g}"


def _plain(raw: Raw) -> str:
    """The raw value as typed: a spreadsheet keeps 1234567 as 1234567.0."""
    return f"{raw:.0f}" if isinstance(raw, float) and raw.is_integer() else str(raw)


def _shown(raw: Raw) -> str:
    text = _plain(raw.date() if isinstance(raw, datetime) else raw)
    return text if len(text) <= CODE_LENGTH else text[:CODE_LENGTH] + "…"


def _wrong(raw: Raw, allowed: str, remedy: str = "") -> Reading:
    return Reading(problem=f'"{_shown(raw)}": must be {allowed}' + (f"; {remedy}" if remedy else ""))


def _read_code(field: Field, raw: Raw, as_of: date) -> Reading:  # noqa: ARG001 - one signature for all readers
    if isinstance(raw, bool | date):
        return _wrong(raw, field.says(), "format the column as text")
    text = unicodedata.normalize("NFC", _plain(raw))
    if len(text) > CODE_LENGTH:
        return _wrong(raw, field.says(), "shorten it")
    if any(unicodedata.category(letter) in {"Cc", "Cf"} for letter in text):
        return Reading(
            problem="holds a control character (a line break, a tab or one that does not show); type it again"
        )
    return Reading(" ".join(text.split()))


def _nearest(word: str, allowed: tuple[str, ...]) -> str:
    near = difflib.get_close_matches(word.lower(), [each.lower() for each in allowed], n=1, cutoff=0.5)
    meant = next((each for each in allowed if near and each.lower() == near[0]), "")
    return f'did you mean "{meant}"?' if meant else ""


def _read_choice(field: Field, raw: Raw, as_of: date) -> Reading:  # noqa: ARG001
    if isinstance(raw, bool) and field.allowed[:2] == YES_NO:
        return Reading("yes" if raw else "no")
    word = " ".join(str(raw).split())
    for each in field.allowed:
        if each.lower() == word.lower():
            return Reading(each)
    return _wrong(raw, field.says(), _nearest(word, field.allowed))


def _read_grade(field: Field, raw: Raw, as_of: date) -> Reading:
    if isinstance(raw, bool | date):
        return _wrong(raw, field.says())
    word = " ".join(str(raw).split()).lower()
    named = [level for level, name in enumerate(field.levels) if name.lower() == word]
    if named:
        return Reading(named[0])
    number = _read_number(field, raw, as_of)
    if number.problem or not float(number.value or 0).is_integer():  # type: ignore[arg-type]
        return _wrong(raw, field.says(), _nearest(word, field.levels))
    return Reading(int(number.value or 0))  # type: ignore[arg-type]


def _as_number(raw: Raw) -> float | None:
    if isinstance(raw, bool | date):
        return None
    if isinstance(raw, int | float):
        return float(raw)
    text = str(raw).replace("\u2212", "-")
    return float(text) if _NUMBER.match(text) else None


def _read_number(field: Field, raw: Raw, as_of: date) -> Reading:  # noqa: ARG001
    number = _as_number(raw)
    if number is None:
        return _wrong(raw, field.says(), "type a plain number without its unit")
    low, high = field.limits
    if number != number or not low <= number <= high:  # noqa: PLR0124 - not a number
        return _wrong(raw, field.says())
    return Reading(number + 0.0)  # a minus before zero is no other value


def _read_acuity(field: Field, raw: Raw, as_of: date) -> Reading:
    if isinstance(raw, date):
        return _wrong(raw, field.says(), "the spreadsheet turned a fraction into a date: format the cell as text")
    logmar = snellen_to_logmar(str(raw))
    return _read_number(field, raw if logmar is None else logmar, as_of)


def _read_year(field: Field, raw: Raw, as_of: date) -> Reading:
    number = _as_number(raw)
    low = int(field.limits[0])
    if number is None or not number.is_integer() or not low <= number <= as_of.year:
        return _wrong(raw, f"a year from {low} to {as_of.year}")
    return Reading(int(number))


def _read_date(field: Field, raw: Raw, as_of: date) -> Reading:
    read = _as_date(raw)
    if isinstance(read, str):
        return Reading(problem=f'"{_shown(raw)}": {read}')
    if read > as_of and not field.future:
        return Reading(problem=f'"{read.isoformat()}": lies in the future (after {as_of.isoformat()}); check the year')
    if read.year < 1900:
        return Reading(problem=f'"{read.isoformat()}": lies before 1900; check the year')
    return Reading(read)


def _as_date(raw: Raw) -> date | str:
    if isinstance(raw, datetime):
        return raw.date() if raw.time() == datetime.min.time() else "has a time of day; keep only the date"
    if isinstance(raw, date):
        return raw
    if isinstance(raw, bool | int | float):
        return "is a bare number; format the cell as a date or type it as 2024-03-05"
    found = _ISO.match(str(raw))
    if found is None:
        return "is not a clear date; type it as year-month-day, such as 2024-03-05"
    try:
        return date(*(int(part) for part in found.groups()))
    except ValueError:
        return "is no day of the calendar; type it as year-month-day, such as 2024-03-05"


def _say_number(field: Field) -> str:
    low, high = field.limits
    return f"a number from {low:g} to {with_unit(f'{high:g}', field.unit)}"


def _say_grade(field: Field) -> str:
    if all(name == str(level) for level, name in enumerate(field.levels)):
        return f"a whole number from 0 to {len(field.levels) - 1}"
    return "one of " + ", ".join(f"{level} {name}" for level, name in enumerate(field.levels))


_READERS: dict[str, Callable[[Field, Raw, date], Reading]] = {
    "code": _read_code,
    "choice": _read_choice,
    "cover": _read_choice,
    "yes_no": _read_choice,
    "grade": _read_grade,
    "number": _read_number,
    "acuity": _read_acuity,
    "year": _read_year,
    "date": _read_date,
}
_SAYINGS: dict[str, Callable[[Field], str]] = {
    "code": lambda field: f"text of at most {CODE_LENGTH} characters",  # noqa: ARG005
    "choice": lambda field: "one of " + ", ".join(field.allowed),
    "cover": lambda field: "one of " + ", ".join(field.allowed),
    "yes_no": lambda field: "yes or no",  # noqa: ARG005
    "grade": _say_grade,
    "number": _say_number,
    "acuity": lambda field: _say_number(field) + ", or a Snellen fraction such as 6/12 or 20/40",
    "year": lambda field: f"a year from {field.limits[0]:g} to this year",
    "date": lambda field: (
        "a date as year-month-day" + (", which may lie ahead" if field.future else ", not in the future")
    ),
}
