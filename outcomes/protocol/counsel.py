"""What is told to a patient, of whom, and what has been published?

A told result is a measure that is poor in a window, a timed event within so many months, or a number of days. A
likeness rule says whole which past lids are like the patient's. A published figure keeps its own count and denominator.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class CounselRules:
    """The numbers by which local figures are given or withheld; `terms` and `ranges` name characteristics."""

    fewest_lids: int
    cases_per_term: int
    terms: tuple[str, ...]
    ranges: tuple[str, ...]
    ages: tuple[int, ...]


@dataclass(frozen=True)
class Told:
    """One thing that is told: a `measure` in a `window`, a `timed` event, or a `characteristic` that counts days."""

    id: str
    words: str
    measure: str = ""
    window: str = ""
    timed: str = ""
    within_months: int = 0
    characteristic: str = ""


@dataclass(frozen=True)
class Likeness:
    """One rule of likeness: fields that are the same, and how far characteristics may lie from the patient's."""

    id: str
    same: tuple[str, ...] = ()
    within: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Published:
    """One figure of a published series, beside which told result it may stand, and from where it comes.

    `percent`, `low` and `high` are as printed or as worked out from the count when the table was made; 0 to 100.
    `followed_months` is the mean follow-up, None where it is not known.
    """

    id: str
    what: str
    count: int
    of: int
    percent: float
    source: str
    told: str = ""
    followed_months: float | None = None
    note: str = ""
    low: float | None = None
    high: float | None = None
