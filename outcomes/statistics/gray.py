"""Gray's test of equal cumulative incidence in two groups, with exact p values."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from outcomes.statistics.arrangements import cover_arrangements
from outcomes.statistics.risk_sets import shared_out
from outcomes.statistics.validation import check_finite, check_labels, check_lengths, check_whole, check_yes_no

FloatArray = npt.NDArray[np.float64]

# Statistics that are equal but for rounding count as reached.
_HAIR = 1e-9


@dataclass(frozen=True)
class GrayTest:
    """Events of the second group, and how often chance alone brings them as far from what both groups would share.

    `observed` counts them, `expected` is how many there would be if both groups were alike.

    `variance` is that of the difference, used to weigh arrangements against each other. `p` is the larger of two:
    `permutation_p` shares the covers out anew among the patients, `at_risk_p` the events among those at risk. `exact`
    says that every arrangement was counted; otherwise `monte_carlo_error` is the standard error that `permutation_p` has
    from drawing some of them. `arrangements` is how many there are. With an empty group `p` is nan.
    """

    observed: float
    expected: float
    variance: float
    p: float
    permutation_p: float
    at_risk_p: float
    exact: bool
    arrangements: float
    monte_carlo_error: float


def gray_test(
    *, time: npt.ArrayLike, cause: npt.ArrayLike, second: npt.ArrayLike, patient: npt.ArrayLike | None = None
) -> GrayTest:
    """Gray's test that two groups have the same cumulative incidence of the event, with the larger of two exact p values.

    One entry a lid. `time` in days (any unit serves), 0 or more; `cause` 0 for lost, 1 for the event, 2 or more for
    what competes; `second` true for the second group; `patient` which lids belong to one person. The dead stay in
    Gray's risk set, as the event never came to them; without a competing cause the test is the log-rank test.

    The covers are shared out anew among whole patients; a patient with both exchanges them between the lids. Up to
    20,000 arrangements are all counted, otherwise 9,999 are drawn with a fixed seed (999 with more than 100,000 lids).
    Each is weighed by its own variance (Neuhaus G. Ann Stat 1993;21:1760-1779, for the log-rank test, from memory).

    That alone does not serve where events are few and one group was followed for less long: a single event when hardly
    anybody of that group is left looks rare among arrangements in which the follow-up is mixed, and up to 12 % of registers
    without any difference were rejected in simulations. So the difference must also be rare given who was at risk when each
    event came: each event then falls to the second group with its share of the risk set. Both together rejected in 5 % or
    less, and found a real difference nearly as often.

    With an empty group nothing is estimable. ValueError for a time that is negative or missing, a cause that is no whole
    number from 0 on, a `second` other than 0 and 1, a missing patient, or columns of unequal length.

    Gray RJ. Ann Stat 1988;16:1141-1154 (rho 0); the variance is the log-rank test's on Gray's risk sets. Given the risk
    sets: `shared_out`.

    >>> test = gray_test(time=[1, 2, 3, 4, 5, 6], cause=[1, 1, 1, 0, 0, 0], second=[1, 1, 1, 0, 0, 0])
    >>> test.observed, test.arrangements, round(test.permutation_p, 2), round(test.at_risk_p, 2)
    (3.0, 20, 0.1, 0.05)
    """
    check_lengths(time=time, cause=cause, second=second, patient=patient)
    times, causes = check_finite("time", time, least=0), check_whole("cause", cause)
    in_second = check_yes_no("second", second)
    who = check_labels("patient", patient, times.size)
    observed = float((causes[in_second] == 1).sum())
    if in_second.all() or not in_second.any():
        return GrayTest(
            observed,
            expected=math.nan,
            variance=math.nan,
            p=math.nan,
            permutation_p=math.nan,
            at_risk_p=math.nan,
            exact=True,
            arrangements=0,
            monte_carlo_error=0.0,
        )
    register = _by_time(times, causes)
    ordered = in_second[register.order]
    steps = list(_steps(register, ordered[:, np.newaxis]))
    (gap,), (variance,) = _gap_and_variance(steps, 1)
    shared = cover_arrangements(ordered, who[register.order])
    reached, least = 0, _weighed(gap, variance) - _HAIR
    for labels in shared.batches():
        gaps, variances = _gap_and_variance(_steps(register, labels), labels.shape[1])
        reached += int((_weighed(gaps, variances) >= least).sum())
    drawn = 0 if shared.exact else 1
    p = (drawn + reached) / (drawn + shared.number)
    error = 0.0 if shared.exact else math.sqrt(p * (1 - p) / shared.number)
    given = shared_out([step.share[0] for step in steps for _ in range(step.events)], observed)
    return GrayTest(
        observed, observed - float(gap), float(variance), max(p, given), p, given, shared.exact, shared.count, error
    )


def _weighed(gap: FloatArray, variance: FloatArray) -> FloatArray:
    return np.divide(gap**2, variance, out=np.zeros_like(gap), where=variance > _HAIR)


@dataclass(frozen=True)
class _Register:
    """The lids in the order of time, and at one time events first, then what competes, then the lost.

    One row of `bounds` a time at which something happened: where its events begin, where what competes begins, where
    the lids begin that are lost from then on, and where these end. `lost_before` are those lost before the first.
    """

    order: npt.NDArray[np.intp]
    bounds: list[list[int]]
    lost_before: int


@dataclass(frozen=True)
class _Step:
    """A time at which the event came: how often, how often in the second group, and its share of both risk sets."""

    events: int
    of_second: FloatArray
    both: FloatArray
    share: FloatArray


def _by_time(time: FloatArray, cause: npt.NDArray[np.int64]) -> _Register:
    kind = np.where(cause == 0, 2, np.where(cause == 1, 0, 1))
    order = np.lexsort((kind, time))
    times, kinds = time[order], kind[order]
    when = np.unique(times[kinds < 2])
    begin, stop = np.searchsorted(times, when), np.searchsorted(times, when, side="right")
    happened = np.append(0, np.cumsum(kinds < 2))
    events = np.append(0, np.cumsum(kinds == 0))
    bounds = [begin, begin + events[stop] - events[begin], begin + happened[stop] - happened[begin]]
    end = np.append(begin, time.size)[1:]
    return _Register(order, np.column_stack([*bounds, end]).tolist(), int(begin[0]) if begin.size else time.size)


def _steps(register: _Register, labels: npt.NDArray[np.bool_]) -> Iterator[_Step]:
    """Go through the times of the event, for many labellings of the lids in order (rows) at once (columns).

    Gray's risk set is those at risk, enlarged by those who died and would still be followed. It starts as the whole
    group, loses those with the event but not those who die, and shrinks as those at risk do where some are lost; with
    nobody of the group at risk it is empty.
    """
    marked = labels.view(np.uint8)
    second = _Group.of(_added(marked, 0, len(marked)))
    first = _Group.of(len(marked) - second.at_risk)
    _lose(first, second, marked, (0, register.lost_before))
    for begin, others, lost, end in register.bounds:
        if others > begin:
            of_second = _added(marked, begin, others)
            sizes = [group.risk_set * (group.at_risk > 0) for group in (first, second)]
            both = sizes[0] + sizes[1]
            yield _Step(others - begin, of_second, both, sizes[1] / both)
            first.leave(others - begin - of_second)
            second.leave(of_second)
        if lost > others:
            died = _added(marked, others, lost)
            first.at_risk -= lost - others - died
            second.at_risk -= died
        _lose(first, second, marked, (lost, end))


@dataclass
class _Group:
    """How many of a group are at risk, and the size of its risk set: one entry a labelling. Changed in place."""

    at_risk: FloatArray
    risk_set: FloatArray

    @staticmethod
    def of(lids: FloatArray) -> _Group:
        return _Group(lids, lids.copy())

    def leave(self, events: FloatArray) -> None:
        """Those with the event leave the risk set too."""
        self.at_risk -= events
        self.risk_set -= events

    def lose(self, lost: FloatArray) -> None:
        """The risk set shrinks as those at risk do; once nobody is, it stays as it is and is not used."""
        before = np.maximum(self.at_risk, 1.0)
        self.at_risk -= lost
        self.risk_set *= self.at_risk
        self.risk_set /= before


def _lose(first: _Group, second: _Group, marked: npt.NDArray[np.uint8], rows: tuple[int, int]) -> None:
    begin, end = rows
    if end > begin:
        lost = _added(marked, begin, end)
        first.lose(end - begin - lost)
        second.lose(lost)


def _added(marked: npt.NDArray[np.uint8], begin: int, end: int) -> FloatArray:
    """How many of these rows belong to the second group, in each labelling."""
    if end == begin + 1:
        return np.asarray(marked[begin], dtype=np.float64)
    return np.asarray(np.add.reduce(marked[begin:end], axis=0, dtype=np.int64), dtype=np.float64)


def _gap_and_variance(steps: Iterable[_Step], labellings: int) -> tuple[FloatArray, FloatArray]:
    """Observed minus expected events of the second group, and its variance, for each labelling."""
    gap, variance = np.zeros(labellings), np.zeros(labellings)
    for step in steps:
        gap += step.of_second - step.events * step.share
        spread = step.share * (1 - step.share)
        if step.events > 1:
            spread *= step.events * np.maximum(step.both - step.events, 0.0) / np.maximum(step.both - 1, 1e-300)
        variance += spread
    return gap, variance
