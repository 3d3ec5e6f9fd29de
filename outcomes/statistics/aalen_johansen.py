"""How many have had the event after so many days, when death may come first?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from outcomes.statistics.kaplan_meier import RiskTable, risk_table
from outcomes.statistics.limits import square_and_add, wilson_limits
from outcomes.statistics.result import Interval

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class IncidenceCurve:
    """Step curves, one row a cause in the order of its number: row 0 is the event, row 1 what competes with it.

    One entry for the start and for each distinct time. `event_free` is the share that nothing has happened to, so it and
    the incidences add up to 1. `variance` respects patients with more than one lid. `at_risk` counts lids just before each
    time and `leaving` those that something happened to at it. `dependence` is by how much the lids count less because some
    share a patient: 1 when none does, 2 when every patient has two.
    """

    time: FloatArray
    incidence: FloatArray
    event_free: FloatArray
    variance: FloatArray
    at_risk: FloatArray
    leaving: FloatArray
    dependence: float
    confidence_level: float

    def at(self, t: float, *, cause: int = 1) -> Interval:
        """The share with that cause by `t`, with Wilson's limits; nan where nobody was followed so long."""
        row = int(np.searchsorted(self.time, t, side="right")) - 1
        if row < 0 or self.at_risk[0] == 0 or (t > self.time[-1] and self.event_free[-1] > 0):
            return Interval(math.nan, math.nan, math.nan)
        estimate = min(float(self.incidence[cause - 1, row]), 1.0)
        number = self.effective_number(t, cause=cause)
        return Interval(estimate, *wilson_limits(estimate, number, confidence_level=self.confidence_level))

    def effective_number(self, t: float, *, cause: int = 1) -> float:
        """How many independent lids, all followed to `t`, would tell as much."""
        row = int(np.searchsorted(self.time, t, side="right")) - 1
        estimate, variance = float(self.incidence[cause - 1, row]), float(self.variance[cause - 1, row])
        if variance > 0:
            return estimate * (1 - estimate) / variance
        return self._followed(t, row) / self.dependence

    def _followed(self, t: float, row: int) -> float:
        """Peto's number, used while nothing has happened: those still followed over the share still free of everything."""
        if self.event_free[row] <= 0:
            row = int(np.flatnonzero(self.event_free > 0)[-1]) + 1
            return float(self.at_risk[row] / self.event_free[row - 1])
        here = t <= self.time[row]
        remaining = self.at_risk[row] - self.leaving[row] if here else self.at_risk[row + 1]
        return float(remaining / self.event_free[row])


def aalen_johansen(
    *,
    time: npt.ArrayLike,
    cause: npt.ArrayLike,
    weight: npt.ArrayLike | None = None,
    patient: npt.ArrayLike | None = None,
    confidence_level: float = 0.95,
) -> IncidenceCurve:
    """The cumulative incidence of the event and of what competes with it.

    `time` in days (any unit serves), 0 or more; `cause` is 0 where follow-up ended with nothing, 1 for the event, 2 (or
    more) for what made it impossible, such as death. What happens comes before a loss at the same time. `weight` counts a
    row several times. `patient` says which lids belong to one person.

    The variance is the infinitesimal jackknife: the squared influence of each patient, whose lids are added up first. With
    one lid each it is the ordinary one. It is never taken below what it would be if all lids were strangers, since tens of
    patients cannot show that two lids of one person are less alike than strangers' are.

    The limits are Wilson's on the effective number p (1 - p) / variance, not log(-log) of the incidence: with 12 to 40 lids and
    one or two events the latter misses more often (tests/statistics/cover.md). With no event the variance is 0 and says
    nothing; there the number is Peto's, those still followed over the share still free of everything, divided by the
    dependence. Without losses it is the number of lids.

    Aalen OO, Johansen S. Scand J Stat 1978;5:141-150. Effective number: Korn EL, Graubard BI. Surv Methodol 1998;24:193-201;
    Peto R et al. Br J Cancer 1977;35:1-39 (pages of all three from memory).

    >>> curve = aalen_johansen(time=[1, 2, 3, 4], cause=[2, 1, 2, 0])
    >>> curve.incidence[0].tolist()
    [0.0, 0.0, 0.25, 0.25, 0.25]
    """
    table, causes = risk_table(time, weight), _check_causes(cause)
    happened = np.array([table.count(causes == number) for number in range(1, max(2, causes.max(initial=0)) + 1)])
    leaving = happened.sum(axis=0)
    hazard = happened / np.maximum(table.at_risk, np.finfo(float).tiny)
    event_free = np.cumprod(1 - hazard.sum(axis=0))
    before = np.append(1.0, event_free[:-1])
    who = np.arange(causes.size) if patient is None else np.unique(np.asarray(patient), return_inverse=True)[1]
    parts = _Parts(table, causes, hazard, before)
    variance = np.array([_variance(parts.influence(row + 1), table.weight, who) for row in range(len(happened))])
    incidence = np.cumsum(before * hazard, axis=1)
    dependence = _dependence(table.weight, who)
    return IncidenceCurve(
        table.time, incidence, event_free, variance, table.at_risk, leaving, dependence, confidence_level
    )


def incidence_difference(
    *,
    time: npt.ArrayLike,
    cause: npt.ArrayLike,
    second: npt.ArrayLike,
    at: float,
    patient: npt.ArrayLike | None = None,
    confidence_level: float = 0.95,
) -> Interval:
    """The cumulative incidence of the event by `at`, second group minus first, as a proportion from -1 to 1.

    `second` is true for lids of the second group; the rest as for the curve. The limits square and add those of the two
    curves, so that they stay honest when one group has no events. Patients with a lid in each group bring the correlation of
    the two estimates in. Nan when either group was not followed so long.

    Square-and-add: Newcombe RG. Stat Med 1998;17:873-890; for curves, Zou GY, Donner A. Stat Med 2008;27:1693-1702.

    >>> incidence_difference(time=[1, 2, 3, 1, 2, 3], cause=[1, 0, 0, 1, 1, 0], second=[0, 0, 0, 1, 1, 1], at=2).estimate
    0.3333333333333333
    """
    chosen = np.asarray(second, dtype=np.bool_)
    times, causes = np.asarray(time, dtype=np.float64), np.asarray(cause)
    who = np.arange(times.size) if patient is None else np.unique(np.asarray(patient), return_inverse=True)[1]
    sides, totals = [], []
    for side in (~chosen, chosen):
        curve = aalen_johansen(
            time=times[side], cause=causes[side], patient=who[side], confidence_level=confidence_level
        )
        sides.append(curve.at(at))
        totals.append(_influence_at(times[side], causes[side], who[side], at))
    return square_and_add(sides[0], sides[1], correlation=_correlation(*totals))
