"""What the patient's sheet reports: results of past lids, rules of likeness, and figures of published series."""

from __future__ import annotations

from pydantic.dataclasses import dataclass

from outcomes.protocol.entries import STRICT
from outcomes.protocol.value_types import Count, Line, Number, OptionalNumber, Reach, Whole, Word, Words


@dataclass(frozen=True, config=STRICT)
class CounselItem:
    """One result of the sheet: a `measure` in a `window`, a `timed` event, or a `characteristic` that counts days.

    Results of one `section` stand together under its heading, after those of none.
    """

    id: Word
    words: Line
    measure: Line = ""
    window: Line = ""
    timed: Line = ""
    within_months: Whole = 0
    characteristic: Line = ""
    section: Line = ""


@dataclass(frozen=True, config=STRICT)
class Likeness:
    """One rule of likeness: fields that are the same, and how far characteristics may lie from the patient's."""

    id: Word
    same: Words = ()
    within: Reach = ()


@dataclass(frozen=True, config=STRICT)
class Published:
    """One figure of a published series, beside which result of the sheet it may stand, and from where it comes.

    `percent`, `low` and `high` are as printed or as worked out from the count when the table was made; 0 to 100.
    `followed_months` is the mean follow-up, None where it is not known.
    """

    id: Word
    what: Word
    count: Whole
    of: Count
    percent: Number
    source: Word
    told: Line = ""
    followed_months: OptionalNumber = None
    note: Line = ""
    low: OptionalNumber = None
    high: OptionalNumber = None
