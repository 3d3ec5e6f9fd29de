"""The Kaplan-Meier curve and the median follow-up."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from outcomes.statistics.proportion import NOT_ESTIMABLE, normal_quantile
from outcomes.statistics.result import Interval
from outcomes.statistics.validation import (
    check_confidence_level,
    check_finite,
    check_lengths,
    check_weights,
    check_yes_no,
)

FloatArray = npt.NDArray[np.float64]

# A product of fractions that should be exactly one half may come out a hair above it.
_HAIR = 1e-9
# The largest exponent that a float can hold, and more than any limit needs.
_MOST = 700.0


@dataclass(frozen=True)
class SurvivalCurve:
    """A step curve: one entry for the start and for each distinct time at which anyone left or had the event.

    `at_risk` counts those still followed just before each time, `events` those with the event at it. `standard_error`
    is Greenwood's; it and the limits are nan where the curve has come down to 0.
    """

    time: FloatArray
    survival: FloatArray
    low: FloatArray
    high: FloatArray
    at_risk: FloatArray
    events: FloatArray
    standard_error: FloatArray
    confidence_level: float

    def at(self, t: float) -> Interval:
        """The share free of the event at `t`; nan where nobody was followed so long. ValueError where `t` is nan."""
        if math.isnan(t):
            raise ValueError("t is nan: must be a time in the unit of the curve")
        row = int(np.searchsorted(self.time, t, side="right")) - 1
        if row < 0 or not self.at_risk[0] > 0 or (t > self.time[-1] and self.survival[-1] > 0):
            return NOT_ESTIMABLE
        return Interval(float(self.survival[row]), float(self.low[row]), float(self.high[row]))

    def median(self) -> Interval:
        """The first time at which half or fewer are free of the event; nan when the curve stays above one half.

        The limits are the first times at which the limits of the curve come down to one half (Brookmeyer R, Crowley J.
        Biometrics 1982;38:29-41); a limit that never does is nan, which means not reached.
        """
        happened = np.cumsum(self.events) > 0
        return Interval(*(_first_half(self.time[happened], side[happened]) for side in self._sides()))

    def _sides(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        return self.survival, self.low, self.high


def kaplan_meier(
    *,
    time: npt.ArrayLike,
    event: npt.ArrayLike,
    weight: npt.ArrayLike | None = None,
    confidence_level: float = 0.95,
) -> SurvivalCurve:
    """The Kaplan-Meier curve, with Greenwood's standard error and limits on the log(-log) scale.

    `time` is in days (any unit serves), 0 or more; `event` is 1 where the event ended the time and 0 where the lid was
    last seen without it. An event comes before a loss at the same time. `weight` counts a row several times, so that 2
    is the same as the row written twice. With nobody followed everything is nan. ValueError for a time that is negative
    or missing, an event other than 0 or 1, weights that are negative or all 0, columns of unequal length, or a
    confidence level outside 0 to 1.

    What surprises: while nothing has happened Greenwood's standard error is 0 and the usual limits are 1 to 1. That is
    not certainty, so there the lower limit is Wilson's for none of those still followed.

    Kaplan EL, Meier P. J Am Stat Assoc 1958;53:457-481; limits, Kalbfleisch JD, Prentice RL. The Statistical Analysis
    of Failure Time Data, 1980, section 1.3 (page from memory).

    >>> curve = kaplan_meier(time=[1, 2, 3, 4], event=[1, 0, 1, 0])
    >>> curve.survival.tolist()
    [1.0, 0.75, 0.75, 0.375, 0.375]
    """
    check_confidence_level(confidence_level)
    check_lengths(time=time, event=event, weight=weight)
    times, happened = check_finite("time", time, least=0), check_yes_no("event", event)
    steps, at_risk, events = _count(times, happened, None if weight is None else check_weights(weight, times.size))
    if not at_risk[0] > 0:
        nothing = np.full_like(steps, math.nan)
        return SurvivalCurve(steps, nothing, nothing, nothing, at_risk, events, nothing, confidence_level)
    turns = np.flatnonzero(events)
    fallen = _fallen(events[turns], at_risk[turns], normal_quantile(confidence_level))
    place = np.cumsum(events > 0)
    survival, low, high, error = (part[place] for part in fallen)
    _limit_before_any_event(low, high, at_risk[: turns[0] if turns.size else steps.size], confidence_level)
    return SurvivalCurve(steps, survival, low, high, at_risk, events, error, confidence_level)


def median_follow_up(*, time: npt.ArrayLike, event: npt.ArrayLike, confidence_level: float = 0.95) -> Interval:
    """The median follow-up by the reverse Kaplan-Meier method: the curve of being lost, where the event hides the loss.

    Same units as `time`; `event` as for the Kaplan-Meier curve. Nan when too few were followed without the event for
    the curve to come down to one half: when every lid has had the event nobody's follow-up was cut short. ValueError as
    for the Kaplan-Meier curve.

    Schemper M, Smith TL. Control Clin Trials 1996;17:343-346.

    >>> median_follow_up(time=[2, 4, 6, 8], event=[1, 0, 0, 0]).estimate
    6.0
    """
    lost = ~check_yes_no("event", event)
    return kaplan_meier(time=time, event=lost, confidence_level=confidence_level).median()


def distinct_times(time: FloatArray) -> tuple[FloatArray, npt.NDArray[np.intp]]:
    """The distinct times, with the start before them, and the place among them of each row.

    >>> distinct_times(np.array([5.0, 2.0, 5.0]))
    (array([0., 2., 5.]), array([2, 1, 2]))
    """
    days = _whole_days(time)
    if days is None:
        steps, place = np.unique(np.append(time, 0.0), return_inverse=True)
        return steps, place[:-1]
    there = np.bincount(days, minlength=1) > 0
    there[0] = True
    steps = np.flatnonzero(there)
    return steps.astype(np.float64), (np.cumsum(there) - 1)[days]


def left_over(leaving: npt.NDArray[Any]) -> FloatArray:
    """What is there just before each step, from what leaves at each and nothing stays after the last.

    >>> left_over(np.array([0, 1, 2])).tolist()
    [3.0, 3.0, 2.0]
    """
    return np.asarray(np.cumsum(leaving[::-1])[::-1], dtype=np.float64)


def _count(
    time: FloatArray, happened: npt.NDArray[np.bool_], weight: FloatArray | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The distinct times with the start, who was at risk just before each, and the events at it."""
    days = _whole_days(time)
    if days is None and weight is None:
        return _count_sorted(time, happened)
    steps, place = distinct_times(time) if days is None else (np.arange(int(days.max(initial=0)) + 1.0), days)
    code = place * 2 + happened
    rows = np.bincount(code, minlength=2 * steps.size).reshape(-1, 2)
    there = np.asarray(rows.any(axis=1))
    there[0] = True
    ends = rows if weight is None else np.bincount(code, weight, minlength=rows.size).reshape(-1, 2)
    at_risk, events = left_over(ends.sum(axis=1)), ends[:, 1].astype(np.float64)
    return steps[there], at_risk[there], events[there]


def _count_sorted(time: FloatArray, happened: npt.NDArray[np.bool_]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The same from one sort of times that carry their event: a float of 0 or more keeps its order as a whole number.

    Its sign bit is free, so that the event goes into the last place once the others are moved up by one.
    """
    one, rows = np.uint64(1), time.size
    carried = np.zeros(rows + 1, dtype=np.uint64)
    np.add(time, 0.0, out=carried[1:].view(np.float64))
    carried <<= one
    carried[1:] |= happened
    carried.sort()
    event = (carried & one).astype(np.float64)
    carried >>= one
    times = carried.view(np.float64)
    ends = np.flatnonzero(np.append(times[1:] != times[:-1], True))
    at_risk = rows - np.append(0.0, ends[:-1])
    if ends.size == times.size:
        return times, at_risk, event
    return times[ends], at_risk, np.diff(np.cumsum(event)[ends], prepend=0.0)


def _whole_days(time: FloatArray) -> npt.NDArray[np.int64] | None:
    """The times as whole numbers, where they are whole and none so late that counting by number is a waste."""
    if time.size and time.max() > 4 * time.size + 1000:
        return None
    days = time.astype(np.int64)
    return days if np.array_equal(days, time) else None


def _fallen(events: FloatArray, at_risk: FloatArray, z: float) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """The curve, its limits and its standard error at the start and after each time of the event.

    The error and the limits are nan where the curve has come down to 0, the limits also where nothing has happened.
    """
    staying = at_risk - events
    survival = np.append(1.0, np.cumprod(staying / at_risk))
    last = np.count_nonzero(survival > 0)
    low, high, error = np.full((3, survival.size), math.nan)
    relative_error = np.sqrt(np.cumsum(events[: last - 1] / (at_risk[: last - 1] * staying[: last - 1])))
    error[0], error[1:last] = 0.0, survival[1:last] * relative_error
    logarithm = np.log(survival[1:last])
    factor = np.exp(np.minimum(-z * relative_error / logarithm, _MOST))
    low[1:last], high[1:last] = np.exp(logarithm * factor), np.exp(logarithm / factor)
    return survival, low, high, error


def _limit_before_any_event(low: FloatArray, high: FloatArray, followed: FloatArray, confidence_level: float) -> None:
    """Fill in, while nothing has happened, Wilson's limits of all of those followed, of whom all are free of the event."""
    z = normal_quantile(confidence_level)
    known = np.flatnonzero(followed > 0)
    low[known], high[known] = followed[known] / (followed[known] + z * z), 1.0


def _first_half(time: FloatArray, share: FloatArray) -> float:
    reached = time[share <= 0.5 + _HAIR]
    return float(reached[0]) if reached.size else math.nan
