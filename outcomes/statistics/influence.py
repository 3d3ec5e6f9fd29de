"""The influence of lids on a cumulative incidence: squares added up over lids, and products over the lids of a patient.

Memory grows with the number of lids: the influence of a lid after its end is a straight line in the incidence.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]


@dataclass(frozen=True)
class Hazards:
    """The steps of a register with competing causes: who was at risk, and how many of each cause (row) at each (column)."""

    at_risk: FloatArray
    happened: FloatArray

    def event_free(self) -> FloatArray:
        """The share that nothing has happened to, after each step; exactly 0 where everybody left has something."""
        staying = self.at_risk - self.happened.sum(axis=0)
        return np.cumprod(np.divide(staying, self.at_risk, out=np.ones_like(staying), where=self.at_risk > 0))


@dataclass(frozen=True)
class Influence:
    """The influence of every lid on the incidence of one cause: its derivative by the weight of the lid.

    `growth` is by how much the incidence grows at each step. `followed` is the influence, at each step, of those whose
    end is later. `at_end` (own cause, another cause, lost) is that of those who end at a step, and `slope` is by how
    much theirs changes from then on as the incidence grows: it is `at_end + slope * (incidence - incidence at the end)`.
    """

    cause: int
    growth: FloatArray
    followed: FloatArray
    at_end: FloatArray
    slope: FloatArray

    def squares(self, ending: FloatArray) -> FloatArray:
        """The squared influences added up at each step; `ending` (kinds of end by steps) is what every lid counts."""
        carried = self._carried(*((ending * part).sum(axis=0) for part in self._products()))
        return carried[2] + _staying(ending) * self.followed**2

    def sums(self, ending: FloatArray) -> FloatArray:
        """The influences added up at each step."""
        slopes = np.cumsum((ending * self.slope).sum(axis=0))
        ended = np.cumsum(self.growth * _before(slopes) + (ending * self.at_end).sum(axis=0))
        return ended + _staying(ending) * self.followed

    def patient_squares(self, ends: Ends) -> tuple[FloatArray, FloatArray]:
        """At each step, the square of each patient's sum, added up; and that sum times the number of lids, added up."""
        kind = np.where(ends.cause == 0, 2, np.where(ends.cause == self.cause, 0, 1))
        at_end, slope = self.at_end[kind, ends.place], self.slope[kind, ends.place]
        incidence = np.cumsum(self.growth)[ends.place]
        slopes = ends.earlier(slope)
        ended = ends.earlier(at_end - slope * incidence) + slopes * incidence
        left = ends.lids - ends.rank
        change = ends.at_each_step
        _, _, end_end = self._carried(
            change(slope * (2 * slopes + slope)),
            change(slope * ended + at_end * slopes + at_end * slope),
            change(at_end * (2 * ended + at_end)),
        )
        left_slope = np.cumsum(change((left - 1) * slope - slopes))
        left_end = np.cumsum(self.growth * _before(left_slope) + change((left - 1) * at_end - ended))
        left_left = (ends.lids[ends.rank == 0] ** 2).sum() + np.cumsum(change(1 - 2 * left))
        squares = end_end + 2 * self.followed * left_end + self.followed**2 * left_left
        lids_slope = np.cumsum(change(ends.lids * slope))
        lids_end = np.cumsum(self.growth * _before(lids_slope) + change(ends.lids * at_end))
        lids_left = (ends.lids[ends.rank == 0] ** 2).sum() - np.cumsum(change(ends.lids))
        return squares, lids_end + self.followed * lids_left

    def _products(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        return self.slope**2, self.slope * self.at_end, self.at_end**2

    def _carried(
        self, slope_slope: FloatArray, end_slope: FloatArray, end_end: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Add up products of slopes and influences of the ended, which go on changing as the incidence grows."""
        slopes = np.cumsum(slope_slope)
        mixed = np.cumsum(self.growth * _before(slopes) + end_slope)
        return slopes, mixed, np.cumsum(2 * self.growth * _before(mixed) + self.growth**2 * _before(slopes) + end_end)


@dataclass(frozen=True)
class Ends:
    """The ends of all lids, ordered by patient and within a patient by time.

    `cause` is its number, 0 for lost; `place` is the step, `rank` how many lids of the same patient ended before, `lids`
    how many that patient has.
    """

    cause: npt.NDArray[np.int64]
    place: Places
    rank: Places
    lids: Places
    steps: int

    def earlier(self, value: FloatArray) -> FloatArray:
        """The sum of the values of the same patient's lids that ended before."""
        begins = np.flatnonzero(self.rank == 0)
        restarted = value.copy()
        restarted[begins[1:]] -= np.add.reduceat(value, begins)[:-1]
        before = np.cumsum(restarted) - value
        before[begins] = 0.0
        return before

    def at_each_step(self, value: npt.NDArray[np.generic]) -> FloatArray:
        """Add up the values of the lids that end at each step."""
        return np.bincount(self.place, value, minlength=self.steps).astype(np.float64)


def influence(hazards: Hazards, cause: int) -> Influence:
    """The influence of lids on the incidence of a cause, by its number; unit: proportion for one lid of weight 1.

    The hazard's error at each time adds directly, and through the share that was still event-free to meet it.

    Jaeckel LA. The infinitesimal jackknife. Bell Laboratories Memorandum MM 72-1215-11, 1972 (from memory).

    >>> lost, event = influence(Hazards(np.array([2.0, 2.0, 1.0]), np.array([[0.0, 1.0, 0.0]])), 1).at_end[[2, 0], [2, 1]]
    >>> float(lost), float(event)
    (-0.25, 0.25)
    """
    at_risk = np.where(hazards.at_risk > 0, hazards.at_risk, np.inf)
    own, every = hazards.happened[cause - 1] / at_risk, hazards.happened.sum(axis=0)
    before = np.append(1.0, hazards.event_free()[:-1])
    # Where everybody left has the event nobody stays to be pulled on.
    staying = np.where(every < at_risk, at_risk - every, np.inf)
    growth, pull = before * own, np.cumsum(every / at_risk / staying)
    followed = np.cumsum(growth * _before(pull) - growth / at_risk)
    ended = pull - 1 / staying
    return Influence(
        cause,
        growth,
        followed,
        np.array([followed + before / at_risk, followed, followed]),
        np.array([ended, ended, pull]),
    )


def ends_by_patient(cause: npt.NDArray[np.int64], place: Places, patient: Places, steps: int) -> Ends:
    """Order the ends by patient and time; `patient` holds whole numbers from 0."""
    order = np.argsort(patient * steps + place)
    who = patient[order]
    begins = np.flatnonzero(np.append(True, who[1:] != who[:-1]))
    lids = np.diff(np.append(begins, who.size))
    rank = np.arange(who.size) - np.repeat(begins, lids)
    return Ends(cause[order], place[order], rank, np.repeat(lids, lids), steps)


def _before(steps: FloatArray) -> FloatArray:
    """The value just before each step, 0 before the first."""
    return np.append(0.0, steps[:-1])


def _staying(ending: FloatArray) -> FloatArray:
    """What stays after each step, when all ends at the last."""
    total = ending.sum(axis=0)
    return np.append(np.cumsum(total[:0:-1])[::-1], 0.0)
