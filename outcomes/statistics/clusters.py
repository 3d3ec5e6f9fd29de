"""Proportions of lids where some patients gave two, by the number of independent lids that would know as much."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from outcomes.statistics.difference import square_and_add
from outcomes.statistics.proportion import wilson
from outcomes.statistics.result import Interval
from outcomes.statistics.validation import (
    check_confidence_level,
    check_finite,
    check_labels,
    check_lengths,
    check_weights,
    check_yes_no,
    numbered,
)


@dataclass(frozen=True)
class EffectiveProportion:
    """A proportion of lids, with the number of independent lids that would know as much.

    `events` and `n` are counts of lids, `effective_n` is at most `n`, and `estimate`, `low` and `high` are shares
    from 0 to 1 (weighted shares, where weights were given).
    """

    events: int
    n: int
    effective_n: float
    estimate: float
    low: float
    high: float
    confidence_level: float = 0.95

    @property
    def interval(self) -> Interval:
        """The share and its limits, without the counts."""
        return Interval(self.estimate, self.low, self.high, self.confidence_level)


def rao_scott_design_effect(score: ArrayLike, patient: ArrayLike) -> float:
    """Return how many times the variance of a mean of lids exceeds that of as many lids of different patients.

    One entry a lid: `score` is 0 or 1 for a proportion, or any number; `patient` any label. It may lie below 1 where
    the lids of one patient differ more than lids of different patients. nan with one patient, or where all scores are
    equal.

    Source: Rao JNK, Scott AJ. Biometrics 1992;48:577-585.

    >>> rao_scott_design_effect([1, 1, 0, 0, 1, 1, 0, 0, 1, 1, 0, 0], [1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6])
    2.4
    """
    check_lengths(score=score, patient=patient)
    scores = check_finite("score", score)
    if not scores.size:
        return math.nan
    return _design_effect(scores, _Patients.of(patient))


def effective_proportion(
    event: ArrayLike, patient: ArrayLike, *, weight: ArrayLike | None = None, confidence_level: float = 0.95
) -> EffectiveProportion:
    """Return the share of lids with the event, and a score interval that respects which lids share a patient.

    One entry a lid: `event` is true or false, `patient` any label, `weight` not negative. The interval is the score
    interval of `effective_n` independent lids. Where every patient gave one lid and there are no weights, it is the
    plain score interval. Otherwise two lids of one patient are taken to be as alike as they look, and one standard
    error more (see `likeness`): a handful of pairs cannot show that they are not alike, and with no events or only
    events they show nothing, so that they then count as one lid. The effective number is therefore never above the
    number of lids.

    Source: the effective sample of Rao JNK, Scott AJ. Biometrics 1992;48:577-585, with that of Kish L. Survey
    Sampling, 1965 (from memory) for the weights; the interval is that of Wilson EB. J Am Stat Assoc 1927;22:209-212.

    >>> alone = effective_proportion([1, 0, 0, 0], ["a", "b", "c", "d"])
    >>> paired = effective_proportion([1, 0, 0, 0], ["a", "b", "c", "c"])
    >>> alone.effective_n, paired.effective_n < 4, paired.high > alone.high
    (4.0, True, True)
    """
    check_lengths(event=event, patient=patient, weight=weight)
    events = check_yes_no("event", event).astype(np.float64)
    lids = check_labels("patient", patient, events.size)
    if events.size == 0:
        return EffectiveProportion(0, 0, 0.0, math.nan, math.nan, math.nan, check_confidence_level(confidence_level))
    weights = check_weights(weight, events.size)
    patients = _Patients.of(lids)
    size = _independent_lids(weights, patients, alike=_likeness(events, patients))
    share = _share(events, weights)
    interval = wilson(share * size, size, confidence_level=confidence_level)
    return EffectiveProportion(
        int(events.sum()), events.size, size, share, interval.low, interval.high, confidence_level
    )


def effective_difference(first: EffectiveProportion, second: EffectiveProportion) -> Interval:
    """Return the share of `second` minus that of `first`, from -1 to 1, by squaring and adding the effective intervals.

    A patient with a lid in each makes the two shares alike; that is not counted, which errs on the wide side.

    Source: method 10 of Newcombe RG. Stat Med 1998;17:873-890, on effective numbers.

    >>> lids = effective_proportion([0] * 10, range(10)), effective_proportion([0] * 20, range(20))
    >>> round(effective_difference(*lids).high, 4)
    0.1611
    """
    return square_and_add(first.interval, second.interval)


def likeness(score: ArrayLike, patient: ArrayLike) -> float:
    """Return how alike two lids of one patient are taken to be, from 0 (as strangers) to 1 (the two count as one).

    It is the correlation within patients that the design effect implies, raised by its standard error, which is one
    over the root of the number of pairs. Without pairs it is 0, and does not matter; where the scores do not vary it
    is 1.

    Source: the correlation is that of Rao JNK, Scott AJ. Biometrics 1992;48:577-585; raising it is this project's own
    choice.

    >>> likeness([1, 1, 0, 0], ["a", "a", "b", "b"])
    1.0
    """
    check_lengths(score=score, patient=patient)
    scores = check_finite("score", score)
    return _likeness(scores, _Patients.of(patient))


def independent_lids(weight: ArrayLike, patient: ArrayLike, *, alike: float) -> float:
    """Return the number of independent, equally weighted lids that would know as much as these weighted ones.

    `weight` is not negative; `alike` lies from 0 to 1. At 0 it is the square of the sum over the sum of squares; at 1
    the same with the weights added up within each patient first. It never exceeds the number of lids.

    Source: Kish L. Survey Sampling, 1965 (from memory).

    >>> independent_lids([1, 1, 1], ["a", "b", "b"], alike=1.0)
    1.8
    """
    check_lengths(weight=weight, patient=patient)
    weights, _ = check_finite("weight", weight, least=0), check_finite("alike", alike, least=0, most=1)
    return _independent_lids(weights, _Patients.of(patient), alike=alike)


@dataclass(frozen=True)
class _Patients:
    """The number of each lid's patient, from 0, and how many lids each patient has."""

    number: NDArray[np.intp]
    lids: NDArray[np.float64]

    @classmethod
    def of(cls, patient: ArrayLike) -> _Patients:
        number = numbered(np.asarray(patient))
        return cls(number, np.bincount(number).astype(np.float64))

    @property
    def pairs(self) -> float:
        """How many pairs of lids are one patient's."""
        return float((self.lids * (self.lids - 1)).sum()) / 2

    def sums(self, value: NDArray[np.float64]) -> NDArray[np.float64]:
        """The sum of the values of each patient's lids."""
        return np.asarray(np.bincount(self.number, weights=value), dtype=np.float64)


def _design_effect(scores: NDArray[np.float64], patients: _Patients) -> float:
    from_mean, count = scores - scores.mean(), patients.lids.size
    if count < 2 or scores.min() == scores.max():
        return math.nan
    return count / (count - 1) * float((patients.sums(from_mean) ** 2).sum()) / float((from_mean**2).sum())


def _likeness(scores: NDArray[np.float64], patients: _Patients) -> float:
    pairs, count = patients.pairs, patients.lids.size
    if pairs == 0:
        return 0.0
    design_effect = _design_effect(scores, patients) * (count - 1) / count
    correlation = (design_effect - 1) / (2 * pairs / scores.size)
    return 1.0 if math.isnan(correlation) else min(1.0, max(0.0, correlation) + 1 / math.sqrt(pairs))


def _independent_lids(weights: NDArray[np.float64], patients: _Patients, *, alike: float) -> float:
    squares = float((weights**2).sum())
    together = float((patients.sums(weights) ** 2).sum()) if alike else squares
    spread = squares + alike * max(together - squares, 0.0)
    return float(weights.sum()) ** 2 / spread if spread > 0 else 0.0


def _share(events: NDArray[np.float64], weights: NDArray[np.float64]) -> float:
    """The weighted share; exactly 0 or 1 where the events say so, whatever the rounding of the weights."""
    if events.all() or not events.any():
        return float(events[0])
    total = float(weights.sum())
    return float((weights * events).sum()) / total if total > 0 else math.nan
