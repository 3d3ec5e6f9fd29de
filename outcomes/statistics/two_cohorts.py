"""The lids of two cohorts as the estimators of a difference need them: cover, patient and characteristics."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from outcomes.statistics.validation import check_finite, check_labels, check_lengths, check_yes_no, numbered

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]
CONSTANT = 1e-9


@dataclass(frozen=True)
class TwoCohorts:
    """One entry a lid: whether it is of the second cohort, the number of its patient, and a row of characteristics.

    Patients are numbered from 0 without a gap. Characteristics have mean 0 and standard deviation 1 over these lids;
    those that are the same in all are left out, and `constant` holds their places among the columns given.
    """

    second: Flags
    patient: NDArray[np.intp]
    covariates: Numbers
    constant: tuple[int, ...] = ()

    @property
    def patients(self) -> int:
        """How many patients the lids are of."""
        return int(self.patient.max(initial=-1)) + 1

    @property
    def terms(self) -> int:
        """How many characteristics are left to adjust for."""
        return int(self.covariates.shape[1])

    @property
    def lids(self) -> tuple[int, int]:
        """How many lids the first and the second cohort have."""
        later = int(self.second.sum())
        return self.second.size - later, later

    @property
    def patients_a_cohort(self) -> tuple[int, int]:
        """How many patients have a lid in the first cohort, and in the second; a patient may be in both."""
        lids, later = np.bincount(self.patient), np.bincount(self.patient, self.second)
        return int((later < lids).sum()), int((later > 0).sum())

    def one_a_lid(self, name: str, value: ArrayLike) -> Numbers:
        """Return the values as floats; ValueError unless there is a finite one for every lid."""
        values = check_finite(name, value)
        if values.shape != self.second.shape:
            raise ValueError(
                f"{name} has {values.size} values: must be one for every lid, and there are {self.second.size}"
            )
        return values

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
    place = numbered(check_labels("patient", patient, later.size))
    columns = np.empty((later.size, 0)) if covariates is None else check_finite("covariates", covariates)
    if columns.ndim != 2 or columns.shape[0] != later.size:
        raise ValueError(f"covariates has the shape {columns.shape}: must be {later.size} rows, one a lid, of columns")
    from_mean = columns - columns.mean(axis=0) if later.size else columns
    spread = np.sqrt(np.einsum("lc,lc->c", from_mean, from_mean) / max(later.size, 1))
    largest = np.maximum(columns.max(axis=0, initial=0.0), -columns.min(axis=0, initial=0.0))
    varies = spread > CONSTANT * np.maximum(1.0, largest)
    standardised = (from_mean if varies.all() else from_mean[:, varies]) / spread[varies]
    constant = tuple(int(each) for each in np.flatnonzero(~varies))
    return TwoCohorts(later, place.astype(np.intp), standardised, constant)


def within_strata(second: ArrayLike, stratum: ArrayLike) -> tuple[Flags, Numbers]:
    """Return the lids of strata that hold both cohorts, and for these lids an indicator column a stratum but the first.

    With surgeons as strata this is what an estimate within surgeons needs: the lids of surgeons who did both covers,
    and the columns to put beside the characteristics (for the lids kept, in their order).

    >>> kept, indicators = within_strata([0, 1, 0, 0, 1], ["x", "x", "y", "z", "z"])
    >>> kept.tolist(), indicators.tolist()
    ([True, True, False, True, True], [[0.0], [0.0], [1.0], [1.0]])
    """
    check_lengths(second=second, stratum=stratum)
    later = check_yes_no("second", second)
    _, place = np.unique(check_labels("stratum", stratum, later.size), return_inverse=True)
    count, advanced = np.bincount(place), np.bincount(place, later)
    both = (advanced > 0) & (advanced < count)
    kept = both[place]
    strata = np.flatnonzero(both)[1:]
    return kept, (place[kept][:, np.newaxis] == strata).astype(np.float64)
