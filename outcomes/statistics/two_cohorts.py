"""The lids of two cohorts as the estimators of a difference need them: cover, patient and characteristics."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from outcomes.statistics.design_matrix import CHARACTERISTICS, DesignMatrix, design_matrix
from outcomes.statistics.validation import check_finite, check_labels, check_lengths, check_yes_no, numbered

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]
Patients = NDArray[np.intp]


@dataclass(frozen=True)
class TwoCohorts:
    """Whether each lid is of the second cohort, the number of its patient, and its row of the columns of a model.

    Patients are numbered from 0 without a gap. The columns are the intercept, the cover and the characteristics, with
    mean 0 and standard deviation 1 over these lids; characteristics that are the same in all are left out, and `constant`
    holds their places among those given. All stands in the order of the rows of `columns`: what has an entry a lid as
    given is brought into it by `one_a_lid`.
    """

    second: Flags
    patient: Patients
    columns: DesignMatrix
    constant: tuple[int, ...] = ()

    @property
    def covariates(self) -> Numbers:
        """The characteristics, a column each."""
        return self.columns.dense()[:, CHARACTERISTICS:]

    @property
    def patients(self) -> int:
        """How many patients the lids are of."""
        return int(self.patient.max(initial=-1)) + 1

    @property
    def terms(self) -> int:
        """How many characteristics are left to adjust for."""
        return self.columns.size - CHARACTERISTICS

    @cached_property
    def lids(self) -> tuple[int, int]:
        """How many lids the first and the second cohort have."""
        later = int(self.second.sum())
        return self.second.size - later, later

    @cached_property
    def patients_a_cohort(self) -> tuple[int, int]:
        """How many patients have a lid in the first cohort, and in the second; a patient may be in both."""
        lids, later = np.bincount(self.patient), np.bincount(self.patient, self.second)
        return int((later < lids).sum()), int((later > 0).sum())

    def one_a_lid(self, name: str, value: ArrayLike) -> Numbers:
        """Return the values as floats in the order of the rows; ValueError unless there is a finite one for every lid."""
        values = check_finite(name, value)
        if values.shape != self.second.shape:
            raise ValueError(
                f"{name} has {values.size} values: must be one for every lid, and there are {self.second.size}"
            )
        return values[self.columns.order]

    @cached_property
    def lids_together(self) -> tuple[NDArray[np.intp], ...]:
        """The rows of patients with several lids: for each number of lids that occurs a table with a row a patient."""
        lids = np.bincount(self.patient)
        several = np.flatnonzero(lids[self.patient] > 1)
        several = several[np.argsort(self.patient[several], kind="stable")]
        numbers = lids[self.patient[several]]
        return tuple(several[numbers == number].reshape(-1, number) for number in np.unique(numbers))

    def without_characteristics(self) -> TwoCohorts:
        """Return the same lids with nothing to adjust for."""
        return replace(self, columns=self.columns.first(CHARACTERISTICS), constant=())

    def of_rows(self, kept: Flags) -> TwoCohorts:
        """Return some of the lids, true in `kept` in the order of the rows, with the characteristics as they are."""
        return replace(
            self, second=self.second[kept], patient=numbered(self.patient[kept]), columns=self.columns.of_rows(kept)
        )

    def every(self, step: int) -> TwoCohorts:
        """Return one lid in so many, with the characteristics as they are."""
        kept = self.patient[::step]
        return replace(self, second=self.second[::step], patient=numbered(kept), columns=self.columns.every(step))

    def least_error(self, step: float) -> float:
        """Return the standard error of a difference of means if one lid of each cohort lay a step from equal values.

        `step` is the distance between neighbouring values that a field can hold, 0 or more. Not finite where a cohort
        is empty.
        """
        check_finite("step", step, least=0)
        return math.inf if min(self.lids) == 0 else step * math.hypot(*(1 / lids for lids in self.lids))


def two_cohorts(second: ArrayLike, patient: ArrayLike, *, covariates: ArrayLike | None = None) -> TwoCohorts:
    """Return the lids that were measured, ready for every estimator of a difference between the cohorts.

    One entry a lid: `second` is true or false, `patient` any label. `covariates` has a row a lid and a column a
    characteristic, in any unit and without gaps; they are standardised over these lids. ValueError for lengths that
    differ, a missing patient, or a characteristic that is not a finite number.

    >>> lids = two_cohorts([0, 0, 1], ["a", "b", "b"], covariates=[[1, 7], [2, 7], [3, 7]])
    >>> lids.lids, lids.patients, lids.terms, lids.constant
    ((2, 1), 2, 1, (1,))
    """
    check_lengths(second=second, patient=patient)
    later = check_yes_no("second", second)
    place = check_labels("patient", patient, later.size)
    given = np.empty((later.size, 0)) if covariates is None else check_finite("covariates", covariates)
    if given.ndim != 2 or given.shape[0] != later.size:
        raise ValueError(f"covariates has the shape {given.shape}: must be {later.size} rows, one a lid, of columns")
    return cohorts_among(design_matrix(given), np.ones(later.size, dtype=np.bool_), later, place)


def cohorts_among(
    characteristics: DesignMatrix, kept: Flags, second: Flags, patient: NDArray[np.generic]
) -> TwoCohorts:
    """Return the lids `kept` of a series whose characteristics are held; `second` and `patient` have an entry for each.

    >>> series = design_matrix(np.array([[1.0], [2.0], [4.0]]))
    >>> cohorts_among(series, np.array([True, False, True]), np.array([False, True]), np.array([7, 9])).covariates
    array([[-1.],
           [ 1.]])
    """
    columns, constant = characteristics.of_lids(kept, second).standardised()
    return TwoCohorts(second[columns.order], numbered(patient)[columns.order], columns, constant)


def within_strata(second: ArrayLike, stratum: ArrayLike) -> tuple[Flags, NDArray[np.intp]]:
    """Return the lids of strata that hold both cohorts, and for these lids the number of their stratum, from 0.

    With surgeons as strata this is what an estimate within surgeons needs: the lids of surgeons who did both covers,
    and the groups to put beside the characteristics (for the lids kept, in their order).

    >>> kept, group = within_strata([0, 1, 0, 0, 1], ["x", "x", "y", "z", "z"])
    >>> kept.tolist(), group.tolist()
    ([True, True, False, True, True], [0, 0, 1, 1])
    """
    check_lengths(second=second, stratum=stratum)
    later = check_yes_no("second", second)
    place = numbered(check_labels("stratum", stratum, later.size))
    count, advanced = np.bincount(place), np.bincount(place, later)
    both = (advanced > 0) & (advanced < count)
    kept = both[place]
    return kept, (np.cumsum(both) - 1)[place[kept]]
