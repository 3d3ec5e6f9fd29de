"""The mapping of a foreign sheet: where each column goes, and what its words, dates and visits mean."""

from __future__ import annotations

import re
from collections.abc import Mapping as MappingOf
from dataclasses import dataclass, field

UNMAPPED, LINK, UNKNOWN, BLANK = "unmapped", "link", "?", "blank"
EVENT, SIZE = "event ", " x "
TWO_NUMBERS = re.compile(r"(\d+(?:[.,]\d+)?) ?(?:mm)? ?[x×*] ?(\d+(?:[.,]\d+)?) ?(?:mm)?", re.IGNORECASE)

# How a column is read that does not simply hold its field.
PLAIN, SERIAL, BIRTH_DATE, AGE = "", "serial", "year of date", "age at operation"
DAYS_AFTER, DECIMAL_ACUITY = "days after operation", "decimal acuity"
READS = (PLAIN, SERIAL, BIRTH_DATE, AGE, DAYS_AFTER, DECIMAL_ACUITY)

# How the code of a case and of a patient is found.
BY_COLUMN, BY_PATIENT_AND_SIDE, BY_CASE, BY_LINK = "column", "patient and side", "case", "link file"


@dataclass(frozen=True)
class ColumnRule:
    """One column, counted from 1: its heading, its target, and the visit or the eye that it is of."""

    column: int
    heading: str
    to: str
    visit: str = ""
    eye: str = ""
    read: str = PLAIN


def word_field(rule: ColumnRule) -> str:
    """The field under which the words of a column are explained."""
    return "happened_on" if rule.to.startswith(EVENT) else rule.to.partition(SIZE)[0]


@dataclass(frozen=True)
class TableRule:
    """One table of a sheet: the rows of its headings, its first and last row of data, and rows that are no data."""

    sheet: str
    header: tuple[int, ...]
    rows: tuple[int, int]
    columns: tuple[ColumnRule, ...]
    skip: tuple[int, ...] = ()
    codes_continue: bool = False


@dataclass(frozen=True)
class Mapping:
    """A whole mapping. `visits` gives the days after division where a visit has no date, None where that is unknown."""

    tables: tuple[TableRule, ...]
    dates: str = ""
    missing: tuple[str, ...] = ()
    case_code: str = BY_COLUMN
    patient_code: str = BY_COLUMN
    visits: MappingOf[str, int | None] = field(default_factory=dict)
    words: MappingOf[str, MappingOf[str, str]] = field(default_factory=dict)
