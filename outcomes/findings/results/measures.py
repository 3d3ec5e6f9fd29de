"""The result of one outcome of one measure in one window, with its parts.

Signs: advanced minus grafted, but for the win probability, which is 0.5 without a difference and above it favours advanced.
Shares are 0 to 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import Literal

from outcomes.findings.results.counts import Count, exact
from outcomes.findings.results.ids import (
    CheckId,
    Clock,
    Family,
    Kind,
    Method,
    NoteId,
    Outcome,
    Reason,
    UncheckedReason,
    Verdict,
)


@dataclass(frozen=True)
class Note:
    """Why a number is missing, or what must be said beside it; `number` and `label` as the note of that id needs them."""

    id: NoteId
    number: float | None = None
    label: str = ""


@dataclass(frozen=True)
class Share:
    """How many lids of a cohort had a poor result, of how many seen; who was missing, not yet due, not applicable."""

    n: Count
    missing: int | None
    not_due: int | None
    not_applicable: int | None
    patients: int | None
    events: Count | None
    proportion: float | None
    low: float | None
    high: float | None

    @property
    def due(self) -> int:
        """The lids that were due in the window: those seen, and those missing."""
        return exact(self.n) + (self.missing or 0)


@dataclass(frozen=True)
class Values:
    """The value itself in one cohort: mean, middle and quartiles, and how many lids had each value (every lid is there)."""

    n: Count
    missing: int | None
    not_due: int | None
    not_applicable: int | None
    patients: int | None
    mean: float | None
    sd: float | None
    median: float | None
    q1: float | None
    q3: float | None
    counts: tuple[tuple[float, int], ...]

    @property
    def centre(self) -> Literal["mean", "median"]:
        """Which middle value is given: the mean, or the median where public output leaves the mean out."""
        return "median" if self.mean is None else "mean"

    @property
    def due(self) -> int:
        """The lids that were due in the window: those seen, and those missing."""
        return exact(self.n) + (self.missing or 0)


@dataclass(frozen=True)
class Contrast:
    """The crude difference with its interval and the p value of the same statistic, and that of the permutation of patients."""

    kind: Kind
    estimate: float | None
    low: float | None
    high: float | None
    p: float | None = None
    permutation_p: float | None = None
    p_corrected: float | None = None
    exact: bool = False
    monte_carlo_error: float | None = None


@dataclass(frozen=True)
class Adjusted:
    """The difference adjusted for how the covers were chosen. The effective lids are those of shares; E-values of a difference."""

    kind: Kind
    method: Method
    estimate: float | None
    low: float | None
    high: float | None
    p: float | None
    p_corrected: float | None = None
    effective_n_grafted: float | None = None
    effective_n_advanced: float | None = None
    e_value: float | None = None
    e_value_limit: float | None = None


@dataclass(frozen=True)
class Range:
    """The least and greatest difference over everything that the missing lids could have been."""

    low: float | None
    high: float | None


@dataclass(frozen=True)
class Bounded:
    """An estimate with its interval and no test."""

    estimate: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Unseen:
    """What the lids that were due and not measured could change.

    `tipping_lids` of the unseen lids of the better cohort, a `tipping_share` of them, would have to be poor for the
    interval to reach none, beside the `seen_share`; `tipping_shift` is by how much worse they would have to be on
    average. `as_other_cohort` is the difference if the surplus unseen of one cohort differed in nothing. Of an interval
    that includes none and lies within what matters, `margin_bias` is by how much the difference would have to be off for
    it to reach what matters, and `margin_shift` by how much worse than those seen the unseen of `margin_cohort` would.
    """

    worst_case: Range | None = Range(None, None)
    as_other_cohort: Bounded | None = None
    tipping_lids: int | None = None
    tipping_share: float | None = None
    seen_share: float | None = None
    tipping_shift: float | None = None
    margin_bias: float | None = None
    margin_cohort: str | None = None
    margin_shift: float | None = None


NOTHING_UNSEEN = Unseen()


@dataclass(frozen=True)
class Check:
    """The adjusted difference once more, with one thing done differently."""

    id: CheckId
    estimate: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Unchecked:
    """A check that could not be made, and why."""

    id: CheckId
    reason: UncheckedReason


@dataclass(frozen=True)
class Finding:
    """One outcome of one measure, in one window."""

    measure: str
    window: str
    outcome: Outcome
    clock: Clock
    grafted: Share | Values
    advanced: Share | Values
    contrast: Contrast
    adjusted: Adjusted | None
    verdict: Verdict | None = None
    family: Family = "exploratory"
    q: float | None = None
    important_difference: float | None = None
    could_find: float | None = None
    unseen: Unseen = NOTHING_UNSEEN
    checks: tuple[Check, ...] = ()
    unchecked: tuple[Unchecked, ...] = ()
    withheld: Reason = ""
    notes: tuple[Note, ...] = ()

    @property
    def judged(self) -> Contrast | Adjusted:
        """The difference that the verdict is about: the adjusted one, the crude one where nothing could be adjusted for."""
        return self.adjusted or self.contrast

    @property
    def is_share(self) -> bool:
        """Tell whether the outcome is a share of lids."""
        return isinstance(self.grafted, Share)

    @property
    def is_planned(self) -> bool:
        """Tell whether the finding is a planned one: a main outcome in the primary window."""
        return self.family == "planned"

    @property
    def lids_needed(self) -> int | None:
        """About how many lids measured with each cover would find the smallest difference that matters, if as unlike as these."""
        counts = [side.n for side in (self.grafted, self.advanced) if isinstance(side.n, int)]
        if not self.could_find or not self.important_difference or len(counts) < 2:
            return None
        return ceil(min(counts) * (self.could_find / self.important_difference) ** 2)

    def check(self, name: CheckId) -> Check | None:
        """One of the checks, if it was made."""
        return next((each for each in self.checks if each.id == name), None)
