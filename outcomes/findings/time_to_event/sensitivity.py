"""Bounds of a timed difference over everything that lids lost to follow-up could have been.

A lid is due by a month when that month has passed on the as-of day. It is lost when it was due and was last followed before
the month without the event: then it may have had it or not. A lid whose time had simply not come is neither.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from outcomes.findings.arrays import Numbers
from outcomes.findings.estimable import estimable
from outcomes.findings.results import Contrast, Range, TimedFinding
from outcomes.statistics.aalen_johansen import aalen_johansen
from outcomes.statistics.turnbull import reviewed_lids


@dataclass(frozen=True)
class LostLids:
    """One cohort by one month: lids due, of these lost before it, and the share if none or if all of them had the event."""

    due: int
    lost: int
    least: float
    most: float


def event_loss(months: Numbers, cause: Numbers, due: Numbers, month: float) -> LostLids:
    """How many were lost to a dated event by a month; `due` is the months that each lid could have been followed."""
    lost = (cause == 0) & (months < month) & (due >= month)
    none = aalen_johansen(time=np.where(lost, month, months), cause=cause).at(month)
    every = aalen_johansen(time=months, cause=np.where(lost, 1, cause)).at(month)
    return LostLids(int((due >= month).sum()), int(lost.sum()), none.estimate, every.estimate)


def state_loss(left: Numbers, right: Numbers, due: Numbers, month: float) -> LostLids:
    """How many were lost to a state seen only at reviews; one never looked at has 0 and infinity for its two reviews."""
    lost = np.isinf(right) & (left < month) & (due >= month)
    none = reviewed_lids(left=np.where(lost, month, left), right=right).share_bounds(month)
    every = reviewed_lids(left=left, right=np.where(lost, month, right)).share_bounds(month)
    return LostLids(int((due >= month).sum()), int(lost.sum()), sum(none) / 2, sum(every) / 2)


def with_losses(found: TimedFinding, losses: tuple[LostLids, LostLids], as_planned: Contrast | None) -> TimedFinding:
    """The finding with who was due and lost, with its range over all that these could have been, and as it was planned."""
    grafted, advanced = losses
    worst = Range(estimable(advanced.least - grafted.most), estimable(advanced.most - grafted.least))
    return replace(
        found,
        grafted=replace(found.grafted, due=grafted.due, lost=grafted.lost),
        advanced=replace(found.advanced, due=advanced.due, lost=advanced.lost),
        unseen=replace(found.unseen, worst_case=worst),
        as_planned=as_planned,
    )


def followed_shares(found: TimedFinding) -> tuple[float, float] | None:
    """The share followed so long of the lids due, grafted then advanced; None where none was due in one."""
    sides = found.grafted, found.advanced
    if not all(side.due for side in sides):
        return None
    grafted, advanced = (1 - (side.lost or 0) / (side.due or 1) for side in sides)
    return grafted, advanced
