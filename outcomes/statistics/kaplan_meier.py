"""What share is still free of the event after so many days, when not all were followed so long?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from outcomes.statistics.proportion import NOT_ESTIMABLE, normal_quantile, wilson
from outcomes.statistics.result import Interval

FloatArray = npt.NDArray[np.float64]

# A product of fractions that should be exactly one half may come out a hair above it.
_HAIR = 1e-9


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

    def at(self, t: float) -> Interval:
        """The share free of the event at `t`; nan where nobody was followed so long."""
        row = int(np.searchsorted(self.time, t, side="right")) - 1
        if row < 0 or (t > self.time[-1] and self.survival[-1] > 0):
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
    is the same as the row written twice.

    What surprises: while nothing has happened Greenwood's standard error is 0 and the usual limits are 1 to 1. That is
    not certainty, so there the lower limit is Wilson's for none of those still followed.

    Kaplan EL, Meier P. J Am Stat Assoc 1958;53:457-481; limits, Kalbfleisch JD, Prentice RL. The Statistical Analysis
    of Failure Time Data, 1980, section 1.3 (page from memory).

    >>> curve = kaplan_meier(time=[1, 2, 3, 4], event=[1, 0, 1, 0])
    >>> curve.survival.tolist()
    [1.0, 0.75, 0.75, 0.375, 0.375]
    """
    table = risk_table(time, weight)
    events = table.count(np.asarray(event, dtype=np.float64) != 0)
    survival = np.cumprod(1 - events / np.maximum(table.at_risk, _HAIR)).astype(np.float64)
    error = survival * np.sqrt(_greenwood_sum(events, table.at_risk))
    low, high = _log_log_limits(survival, error, table.at_risk - events, confidence_level)
    error[survival <= 0] = math.nan
    return SurvivalCurve(table.time, survival, low, high, table.at_risk, events, error)


def median_follow_up(*, time: npt.ArrayLike, event: npt.ArrayLike, confidence_level: float = 0.95) -> Interval:
    """The median follow-up by the reverse Kaplan-Meier method: the curve of being lost, where the event hides the loss.

    Same units as `time`; `event` as for the Kaplan-Meier curve. Nan when too few were followed without the event for
    the curve to come down to one half: when every lid has had the event nobody's follow-up was cut short.

    Schemper M, Smith TL. Control Clin Trials 1996;17:343-346.

    >>> median_follow_up(time=[2, 4, 6, 8], event=[1, 0, 0, 0]).estimate
    6.0
    """
    lost = np.asarray(event, dtype=np.float64) == 0
    return kaplan_meier(time=time, event=lost, confidence_level=confidence_level).median()


@dataclass(frozen=True)
class RiskTable:
    """The distinct times with the start before them, who was at risk just before each, and where each row lies."""

    time: FloatArray
    at_risk: FloatArray
    place: npt.NDArray[np.intp]
    weight: FloatArray

    def count(self, chosen: npt.NDArray[np.bool_]) -> FloatArray:
        """How many of the chosen rows end at each time."""
        return np.bincount(self.place, self.weight * chosen, minlength=self.time.size).astype(np.float64)


def risk_table(time: npt.ArrayLike, weight: npt.ArrayLike | None) -> RiskTable:
    """Count who is at risk when; ValueError for a time that is negative or missing, or a weight that does not fit."""
    times = np.asarray(time, dtype=np.float64)
    weights = np.ones_like(times) if weight is None else np.asarray(weight, dtype=np.float64)
    if weights.shape != times.shape:
        raise ValueError(f"weight has {weights.size} values and time has {times.size}: one of each for every row")
    if times.size and not (np.isfinite(times).all() and times.min() >= 0):
        raise ValueError("time: every value must be a finite number, 0 or more")
    steps, place = np.unique(np.append(times, 0.0), return_inverse=True)
    place = place[:-1]
    leaving = np.bincount(place, weights, minlength=steps.size)
    at_risk = np.cumsum(leaving[::-1])[::-1].astype(np.float64)
    return RiskTable(steps, at_risk, place, weights)


def _greenwood_sum(events: FloatArray, at_risk: FloatArray) -> FloatArray:
    """The sum of d / (n (n - d)), which becomes infinite, and is not used, where everybody left has the event."""
    product = at_risk * (at_risk - events)
    return np.cumsum(np.divide(events, product, out=np.zeros_like(events), where=product > 0))


def _log_log_limits(
    survival: FloatArray, error: FloatArray, remaining: FloatArray, confidence_level: float
) -> tuple[FloatArray, FloatArray]:
    z = normal_quantile(confidence_level)
    low, high = np.full_like(survival, math.nan), np.full_like(survival, math.nan)
    inside = (survival > 0) & (survival < 1)
    spread = z * error[inside] / (survival[inside] * np.abs(np.log(survival[inside])))
    low[inside], high[inside] = survival[inside] ** np.exp(spread), survival[inside] ** np.exp(-spread)
    for row in np.flatnonzero(survival == 1):
        limits = wilson(float(remaining[row]), float(remaining[row]), confidence_level=confidence_level)
        low[row], high[row] = limits.low, limits.high
    return low, high


def _first_half(time: FloatArray, share: FloatArray) -> float:
    reached = time[share <= 0.5 + _HAIR]
    return float(reached[0]) if reached.size else math.nan
