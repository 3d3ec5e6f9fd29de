"""The cumulative incidence of an event that death or another event may prevent: the Aalen-Johansen estimate."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from outcomes.statistics.clusters import independent_lids
from outcomes.statistics.difference import square_and_add
from outcomes.statistics.influence import Ends, Hazards, Influence, ends_by_patient, influence
from outcomes.statistics.kaplan_meier import distinct_times, left_over
from outcomes.statistics.proportion import NOT_ESTIMABLE, normal_quantile
from outcomes.statistics.result import Interval
from outcomes.statistics.validation import (
    check_confidence_level,
    check_finite,
    check_labels,
    check_lengths,
    check_weights,
    check_whole,
    check_yes_no,
    numbered,
)

FloatArray = npt.NDArray[np.float64]

# A share nearer to 1 than this is 1 but for rounding.
_HAIR = 1e-12
# The square of an influence that is nothing but rounding, as a part of the mean one.
_NOTHING = 1e-20
# The largest exponent that a float can hold, and more than any limit needs.
_MOST = 700.0


@dataclass(frozen=True)
class IncidenceCurve:
    """Step curves, one row a cause in the order of its number: row 0 is the event, row 1 what competes with it.

    One entry for the start and for each distinct time. `event_free` is the share that nothing has happened to, so it
    and the incidences add up to 1. `variance` respects patients with more than one lid. `at_risk` counts lids (or adds
    up their weights) just before each time and `leaving` those that something happened to at it. `effective_lids` is
    the number of equally weighted lids that all are worth, and `weighted` tells whether the weights differ.
    `dependence` is by how much the lids count less because some share a patient: 1 when none does, 2 when every patient
    has two. With nobody followed everything is nan.
    """

    time: FloatArray
    incidence: FloatArray
    event_free: FloatArray
    variance: FloatArray
    at_risk: FloatArray
    leaving: FloatArray
    effective_lids: float
    weighted: bool
    dependence: float
    confidence_level: float

    def at(self, t: float, *, cause: int = 1) -> Interval:
        """The share with that cause by `t`, with its limits; nan where nobody was followed so long.

        ValueError for a `t` that is nan, and for a cause that the curve does not have.
        """
        self._check_cause(cause)
        if math.isnan(t):
            raise ValueError("t is nan: must be a time in the unit of the curve")
        row = int(np.searchsorted(self.time, t, side="right")) - 1
        if row < 0 or not self.at_risk[0] > 0 or (t > self.time[-1] and self.event_free[-1] > 0):
            return NOT_ESTIMABLE
        after = t > self.time[row] and row + 1 < self.time.size
        remaining = self.at_risk[row + 1] if after else self.at_risk[row] - self.leaving[row]
        low, high = self._limits(cause, slice(row, row + 1), np.array([remaining]))
        return Interval(float(self.incidence[cause - 1, row]), float(low[0]), float(high[0]))

    def limits(self, *, cause: int = 1) -> tuple[FloatArray, FloatArray]:
        """The lower and the upper limit of the share with that cause at each time of the curve."""
        self._check_cause(cause)
        return self._limits(cause, slice(None), self.at_risk - self.leaving)

    def _check_cause(self, cause: int) -> None:
        if check_whole("cause", cause, least=1) > len(self.incidence):
            raise ValueError(f"cause is {cause}: must be from 1 to {len(self.incidence)}, the causes of the curve")

    def _limits(self, cause: int, rows: slice, remaining: FloatArray) -> tuple[FloatArray, FloatArray]:
        share, variance = self.incidence[cause - 1, rows], self.variance[cause - 1, rows]
        inside = (share > 0) & (share < 1 - _HAIR) & (variance > 0)
        number = self._followed(rows, remaining) / self.dependence
        z = normal_quantile(self.confidence_level)
        if self.weighted:
            worth = share[inside] * (1 - share[inside]) / variance[inside]
            number[inside] = np.minimum(worth, self.effective_lids)
        low, high = _score_limits(share, number, z)
        if not self.weighted:
            low[inside], high[inside] = _log_log_limits(share[inside], variance[inside], z)
        return low, high

    def _followed(self, rows: slice, remaining: FloatArray) -> FloatArray:
        """Peto's number: those still followed over the share still free of everything, in equally weighted lids."""
        free = self.event_free[rows]
        before = np.append(1.0, self.event_free[:-1])
        last = np.count_nonzero(before > 0) - 1
        nobody = np.full_like(free, self.at_risk[last] / before[last])
        number = np.divide(remaining, free, out=nobody, where=free > 0)
        return np.asarray(number * self.effective_lids / self.at_risk[0], dtype=np.float64)


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
    more, up to 99) for what made it impossible, such as death. What happens comes before a loss at the same time.
    `weight` lets lids count unequally, on any scale: it is no number of lids, and twice the weight for all changes
    nothing but `at_risk` and `leaving`. `patient` says which lids belong to one person.

    The variance is the infinitesimal jackknife: the squared influences of the lids, each times its weight. With one lid
    each that is all; otherwise it is raised as for a plain proportion (`clusters.likeness`): two lids of one patient are
    taken to be as alike as their influences are, and one standard error more, since tens of patients cannot show that
    they are not.

    The limits are on the log(-log) scale of the incidence. Where that is 0 (or 1) its variance is 0 and says nothing;
    there they are Wilson's on Peto's number: those still followed over the share still free of everything, divided by
    the dependence. Without losses that is the number of lids. In simulations with 12, 20 and 40 lids, an incidence of
    0.01 to 0.5 and up to half lost, 95 % limits held the truth in 93.7 % or more; Wilson's limits throughout fell to
    88.9 %. With unequal weights the limits are Wilson's on the effective number that the variance gives, at most the
    lids that the weights are worth, as for a weighted proportion; in simulations with 20, 40 and 70 lids, weights from 0.2
    to 0.8, an incidence of 0.05 to 0.5 and a quarter lost they held the truth in 93.3 to 96.8 %.

    ValueError for a time that is negative or missing, a cause that is no whole number from 0 to 99, weights that are
    negative or all 0, a missing patient, columns of unequal length, or a confidence level outside 0 to 1.

    Aalen OO, Johansen S. Scand J Stat 1978;5:141-150. Limits: Kalbfleisch JD, Prentice RL. The Statistical Analysis of
    Failure Time Data, 1980. Peto R et al. Br J Cancer 1977;35:1-39. Weights: Kish L. Survey Sampling, 1965 (all from
    memory).

    >>> curve = aalen_johansen(time=[1, 2, 3, 4], cause=[2, 1, 2, 0])
    >>> curve.incidence[0].tolist()
    [0.0, 0.0, 0.25, 0.25, 0.25]
    """
    check_confidence_level(confidence_level)
    check_lengths(time=time, cause=cause, weight=weight, patient=patient)
    lids = _Lids.checked(time, cause, weight, patient)
    at_risk, happened = left_over(lids.weights.sum(axis=0)), lids.weights[1:]
    hazards = Hazards(at_risk, happened)
    event_free = hazards.event_free()
    causes = range(1, len(happened) + 1)
    ends = lids.ends() if lids.shared > 0 else None
    incidence = np.cumsum(np.append(1.0, event_free[:-1]) * happened / np.where(at_risk > 0, at_risk, 1.0), axis=1)
    variance = np.array([lids.variance(influence(hazards, number), ends) for number in causes])
    if not at_risk[0] > 0:
        incidence, event_free, variance = (np.full_like(part, math.nan) for part in (incidence, event_free, variance))
    return IncidenceCurve(
        lids.steps,
        incidence,
        event_free,
        variance,
        at_risk,
        happened.sum(axis=0),
        lids.worth,
        bool(np.ptp(lids.weight) > 0) if lids.weight.size else False,
        1 + lids.shared,
        confidence_level,
    )


def incidence_difference(  # noqa: PLR0913 - the columns of one table of lids, and the time asked about
    *,
    time: npt.ArrayLike,
    cause: npt.ArrayLike,
    second: npt.ArrayLike,
    at: float,
    patient: npt.ArrayLike | None = None,
    confidence_level: float = 0.95,
) -> Interval:
    """The cumulative incidence of the event by `at`, second group minus first, a proportion from -1 to 1.

    `second` is true for lids of the second group; the rest as for the curve. The limits square and add those of the two
    curves, so that they stay honest when one group has no events. Nan when either group was not followed so long.
    ValueError as for the curve, for an `at` that is nan, and for a `second` other than 0 and 1.

    Newcombe RG. Stat Med 1998;17:873-890, method 10; for other estimates than proportions, Zou GY, Donner A. Stat Med
    2008;27:1693-1702 (from memory).

    >>> lids = {"time": [1, 2, 3, 1, 2, 3], "cause": [1, 0, 0, 1, 1, 0], "second": [0, 0, 0, 1, 1, 1]}
    >>> round(incidence_difference(**lids, at=2).estimate, 4)
    0.3333
    """
    check_lengths(time=time, cause=cause, second=second, patient=patient)
    times, causes, in_second = np.asarray(time), np.asarray(cause), check_yes_no("second", second)
    who = check_labels("patient", patient, times.size)
    first_share, second_share = (
        aalen_johansen(time=times[side], cause=causes[side], patient=who[side], confidence_level=confidence_level).at(
            at
        )
        for side in (~in_second, in_second)
    )
    return square_and_add(first_share, second_share)


@dataclass(frozen=True)
class _Lids:
    """The lids of a register as the estimate needs them.

    `place` is the step at which each ends; `weights`, `squares` and `counts` add up the weights, their squares and the
    lids by cause (rows, lost first) and step (columns). `patient` numbers the patients, and `shared` is by how much the sum
    of the squared weights grows when those of a patient are added up first, as a share of it.
    """

    steps: FloatArray
    place: npt.NDArray[np.intp]
    cause: npt.NDArray[np.int64]
    weight: FloatArray
    patient: npt.NDArray[np.intp]
    shared: float
    weights: FloatArray
    squares: FloatArray
    counts: FloatArray

    @staticmethod
    def checked(
        time: npt.ArrayLike, cause: npt.ArrayLike, weight: npt.ArrayLike | None, patient: npt.ArrayLike | None
    ) -> _Lids:
        """The lids, or ValueError for what cannot be."""
        times, causes = check_finite("time", time, least=0), check_whole("cause", cause, most=99)
        weights = check_weights(weight, times.size)
        who, shared = np.arange(times.size), 0.0
        if patient is not None and times.size:
            who = numbered(check_labels("patient", patient, times.size))
            alone, together = (independent_lids(weights, who, alike=alike) for alike in (0.0, 1.0))
            shared = alone / together - 1
        steps, place = distinct_times(times)
        kinds = max(2, int(causes.max(initial=0))) + 1
        code = causes * steps.size + place

        def added(value: FloatArray | None) -> FloatArray:
            return np.bincount(code, value, minlength=kinds * steps.size).reshape(kinds, -1).astype(np.float64)

        counts = added(None)
        if weight is None:
            return _Lids(steps, place, causes, weights, who, shared, counts, counts, counts)
        return _Lids(steps, place, causes, weights, who, shared, added(weights), added(weights**2), counts)

    @property
    def worth(self) -> float:
        """How many equally weighted lids of different patients know as much."""
        return float(self.weights.sum() ** 2 / self.squares.sum()) if self.weight.size else 0.0

    def ends(self) -> Ends:
        """The ends by patient and time."""
        return ends_by_patient(self.cause, self.place, self.patient, self.steps.size)

    def variance(self, pulls: Influence, ends: Ends | None) -> FloatArray:
        """The squared influences added up, and raised where patients have more than one lid."""
        others = [number for number in range(1, len(self.weights)) if number != pulls.cause]
        kinds = [pulls.cause, *others, 0]
        squared = np.maximum(pulls.squares(_three(self.squares[kinds])), 0.0)
        if ends is None:
            return squared
        rounding = _NOTHING * self.weight.size / self.weights.sum() ** 2
        return squared * (1 + self.shared * _likeness(pulls, _three(self.counts[kinds]), ends, rounding))


def _three(kinds: FloatArray) -> FloatArray:
    """The own cause, all others together, and the lost."""
    return np.array([kinds[0], kinds[1:-1].sum(axis=0), kinds[-1]])


def _likeness(pulls: Influence, counts: FloatArray, ends: Ends, rounding: float) -> FloatArray:
    """How alike two lids of one patient are taken to be at each step; as `clusters.likeness` of the influences."""
    lids = ends.lids[ends.rank == 0]
    pairs = float((lids * (lids - 1)).sum()) / 2
    if not pairs:
        return np.zeros(ends.steps)
    if lids.size < 2:
        return np.ones(ends.steps)
    mean = pulls.sums(counts) / ends.rank.size
    squares, products = pulls.patient_squares(ends)
    spread = pulls.squares(counts) - ends.rank.size * mean**2
    between = squares - 2 * mean * products + mean**2 * float((lids**2).sum())
    excess = np.divide(between, spread, out=np.full_like(spread, math.nan), where=spread > rounding)
    correlation = (excess - 1) / (2 * pairs / ends.rank.size)
    raised = np.minimum(1.0, np.maximum(0.0, correlation) + 1 / math.sqrt(pairs))
    return np.where(np.isnan(correlation), 1.0, raised)


def _score_limits(share: FloatArray, number: FloatArray, z: float) -> tuple[FloatArray, FloatArray]:
    """Wilson's limits of shares of so many lids; nan where there are none."""
    number = np.where(number > 0, number, math.nan)
    centre = share * number + z * z / 2
    half_width = z * np.sqrt(np.maximum(share * (1 - share) * number, 0.0) + z * z / 4)
    low = np.where(share <= 0, 0.0, np.maximum((centre - half_width) / (number + z * z), 0.0))
    high = np.where(share >= 1 - _HAIR, 1.0, np.minimum((centre + half_width) / (number + z * z), 1.0))
    missing = np.isnan(number)
    low[missing], high[missing] = math.nan, math.nan
    return low, high


def _log_log_limits(share: FloatArray, variance: FloatArray, z: float) -> tuple[FloatArray, FloatArray]:
    logarithm = np.log(share)
    factor = np.exp(np.minimum(-z * np.sqrt(variance) / (share * logarithm), _MOST))
    return np.exp(logarithm * factor), np.exp(logarithm / factor)
