"""The difference of two means by a linear model, with the cluster-robust (CR2) standard error by patient."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from outcomes.statistics.result import TestedEstimate, not_estimable, student_estimate
from outcomes.statistics.two_cohorts import TwoCohorts
from outcomes.statistics.validation import check_confidence_level, check_yes_no

Numbers = NDArray[np.float64]
DEPENDENT = 1e-5  # of a column's length, what is left of it beside the columns before
SINGULAR = 1e-9
ROUNDING, MOST_PASSES = 1e-13, 3


@dataclass(frozen=True)
class LinearDesign:
    """What the linear model of these lids needs before it meets an outcome; made once for all outcomes.

    `basis` spans the columns of the model, `influence` is how much each lid moves the difference, and `adjusted` the
    same after the patients' blocks of residuals were made unbiased (CR2). `dropped` holds the places, among the
    characteristics of the cohorts, of those that follow from the cover and the characteristics before them.
    """

    cohorts: TwoCohorts
    basis: Numbers
    influence: Numbers
    adjusted: Numbers
    degrees_of_freedom: float
    dropped: tuple[int, ...]


def linear_design(cohorts: TwoCohorts) -> LinearDesign:
    """Return the linear model of an outcome on the cover and the characteristics, ready for any outcome of these lids.

    Without characteristics it is the crude difference of means. A characteristic that follows from the cover and the
    characteristics before it is dropped, and said in `dropped`: such a one adjusts for nothing.

    Source: Bell RM, McCaffrey DF. Survey Methodology 2002;28:169-181 (from memory); the pseudo-inverse for blocks that
    a characteristic of one patient alone makes singular, Pustejovsky JE, Tipton E. J Bus Econ Stat 2018;36:672-683
    (from memory).

    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> round(linear_design(two_cohorts([0, 0, 0, 0, 1, 1, 1], range(7))).degrees_of_freedom, 3)
    4.455
    """
    return _design(cohorts, [cohorts.second, cohorts.covariates])


def interaction_design(cohorts: TwoCohorts, modifier: ArrayLike) -> LinearDesign:
    """Return the model whose "difference" is by how much the difference of the cohorts changes with a unit of `modifier`.

    The modifier has an entry a lid; it, the cover and the characteristics stand in the model beside their product.

    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> lids = two_cohorts([0, 0, 0, 0, 1, 1, 1, 1], range(8))
    >>> found = linear_difference([1, 2, 3, 4.5, 2, 4, 6, 8.5], interaction_design(lids, [1, 2, 3, 4] * 2))
    >>> round(found.estimate, 2)
    1.0
    """
    values = cohorts.one_a_lid("modifier", modifier)
    centred = values - values.mean() if values.size else values
    return _design(cohorts, [centred * cohorts.second, cohorts.second, centred, cohorts.covariates])


def within_design(cohorts: TwoCohorts, within: ArrayLike) -> LinearDesign:
    """Return the model whose "difference" is that among the lids `within`, where all others have a difference of their own.

    `within` is true or false for every lid. The characteristics count alike in all lids, so that they are adjusted for as
    in the model of all, however few lids are `within`.

    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> lids = two_cohorts([0, 0, 1, 1, 0, 0, 1, 1], range(8))
    >>> found = linear_difference([1, 3, 4, 6, 2, 4, 3, 5], within_design(lids, [1, 1, 1, 1, 0, 0, 0, 0]))
    >>> round(found.estimate, 2)
    3.0
    """
    own = check_yes_no("within", within)
    return _design(cohorts, [cohorts.second & own, cohorts.second & ~own, own, cohorts.covariates])


def _design(cohorts: TwoCohorts, terms: list[NDArray[np.bool_] | Numbers]) -> LinearDesign:
    """The model with these columns after the intercept; the first is the one whose coefficient is asked for."""
    columns = np.column_stack([np.ones(cohorts.second.size), *terms]).astype(np.float64)
    basis, kept, triangle = _orthonormal(columns)
    first = columns.shape[1] - cohorts.terms
    dropped = tuple(place - first for place in range(first, columns.shape[1]) if place not in kept)
    if min(cohorts.patients_a_cohort) < 2 or 1 not in kept:
        nothing = np.full(cohorts.second.size, math.nan)
        influence = nothing if min(cohorts.lids) == 0 or 1 not in kept else _influence(basis, triangle, kept.index(1))
        return LinearDesign(cohorts, basis, influence, nothing, math.nan, dropped)
    influence = _influence(basis, triangle, kept.index(1))
    adjusted = _bias_reduced(influence, basis, cohorts.patient)
    freedom = _satterthwaite(adjusted, basis, cohorts.patient)
    return LinearDesign(cohorts, basis, influence, adjusted, freedom, dropped)


def linear_difference(
    value: ArrayLike, design: LinearDesign, *, step: float = 0.0, confidence_level: float = 0.95
) -> TestedEstimate:
    """Return the mean of the second cohort minus that of the first, adjusted for the characteristics of the design.

    `value` has an entry a lid, in any unit. `step` is the distance between neighbouring values that the field can
    hold: the standard error is never smaller than if one lid of each cohort lay one step away from otherwise equal
    values, as values that happen to be equal are no certainty. Not estimable where all lids of a cohort are one
    patient's, or all values are equal and there is no step.

    Source: CR2 standard error with Satterthwaite degrees of freedom, Bell RM, McCaffrey DF. Survey Methodology
    2002;28:169-181 (from memory); the least standard error is this project's own choice.

    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> lids = two_cohorts([0] * 6 + [1] * 6, [1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6])
    >>> found = linear_difference([1, 2, 3, 3, 2, 4, 2, 3, 5, 4, 4, 6], linear_design(lids))
    >>> found.estimate, round(found.standard_error**2, 6), round(found.degrees_of_freedom, 6), round(found.p, 4)
    (1.5, 0.833333, 4.0, 0.1757)
    """
    check_confidence_level(confidence_level)
    values = design.cohorts.one_a_lid("value", value)
    if min(design.cohorts.lids) == 0:
        return not_estimable(confidence_level)
    estimate = float(design.influence @ values)
    residuals = values - design.basis @ (design.basis.T @ values)
    error = math.sqrt(_robust_variance(residuals, design.adjusted, design.cohorts.patient))
    if error <= SINGULAR * float(np.abs(values).max()):  # rounding must not lend equal values a hair of error
        error = 0.0
    return student_estimate(
        estimate,
        max(error, design.cohorts.least_error(step)),
        design.degrees_of_freedom,
        confidence_level=confidence_level,
    )


def independent_columns(columns: Numbers) -> tuple[Numbers, list[int]]:
    """Return an orthonormal basis of the columns, and the places of those that do not follow from the ones before.

    >>> independent_columns(np.array([[1.0, 2.0, 0.0], [1.0, 2.0, 1.0]]))[1]
    [0, 2]
    """
    basis, kept, _ = _orthonormal(columns)
    return basis, kept


def _orthonormal(columns: Numbers) -> tuple[Numbers, list[int], Numbers]:
    """A basis, the places of the columns that it spans, and the triangle that turns it into them: columns = basis triangle.

    By the triangle of the products of the columns (Cholesky), and by that of the basis again while rounding left anything.
    """
    kept, triangle = _triangle(columns.T @ columns)
    basis = columns[:, kept] @ _inverse(triangle)
    for _ in range(MOST_PASSES):
        products = basis.T @ basis
        if not kept or float(np.abs(products - np.eye(len(kept))).max()) <= ROUNDING:
            break
        again = np.asarray(np.linalg.cholesky(products, upper=True), dtype=np.float64)
        basis, triangle = basis @ _inverse(again), again @ triangle
    return basis, kept, triangle


def _triangle(products: Numbers) -> tuple[list[int], Numbers]:
    """The columns that do not follow from the ones before, and the upper triangle U with U'U their products."""
    rows = np.zeros_like(products)
    kept: list[int] = []
    for place, own in enumerate(np.diagonal(products)):
        rest = products[place] - rows[kept, place] @ rows[kept]
        if rest[place] > DEPENDENT**2 * own:
            rows[place] = rest / math.sqrt(rest[place])
            kept.append(place)
    return kept, np.triu(rows[np.ix_(kept, kept)])


def _inverse(triangle: Numbers) -> Numbers:
    return np.asarray(np.linalg.solve(triangle, np.eye(len(triangle))), dtype=np.float64)


def _influence(basis: Numbers, triangle: Numbers, place: int) -> Numbers:
    """The row of (X'X)^-1 X' that gives the coefficient of one of the columns that the basis spans."""
    return np.asarray(basis @ _inverse(triangle)[place], dtype=np.float64)


def _bias_reduced(influence: Numbers, basis: Numbers, patient: NDArray[np.intp]) -> Numbers:
    """(I - H)_gg^(-1/2) applied to the influence of each patient g, with the pseudo-inverse."""
    adjusted = np.empty_like(influence)
    order = np.argsort(patient, kind="stable")
    lids = np.bincount(patient)
    starts = np.cumsum(lids) - lids
    for size in np.unique(lids):
        places = order[starts[lids == size][:, np.newaxis] + np.arange(size)]
        rows = basis[places]
        block = np.eye(size) - rows @ rows.transpose(0, 2, 1)
        values, vectors = np.linalg.eigh(block)
        known = values > SINGULAR
        root = np.where(known, 1 / np.sqrt(np.where(known, values, 1.0)), 0.0)
        turned = (vectors.transpose(0, 2, 1) @ influence[places][:, :, np.newaxis])[:, :, 0]
        adjusted[places] = (vectors @ (root * turned)[:, :, np.newaxis])[:, :, 0]
    return adjusted


def _robust_variance(residuals: Numbers, adjusted: Numbers, patient: NDArray[np.intp]) -> float:
    return float((np.bincount(patient, adjusted * residuals) ** 2).sum())


def _satterthwaite(adjusted: Numbers, basis: Numbers, patient: NDArray[np.intp]) -> float:
    """tr(B)^2 / tr(B^2), where B_gh = a_g' (I - H)_gh a_h for patients g and h, and a what CR2 makes of the influence.

    B is a diagonal less a product of as few columns as the basis has, so that both traces need no matrix of patients by
    patients: the squares off the diagonal are those of the small product S S', less those on the diagonal of S' S.
    """
    own = np.bincount(patient, adjusted**2)
    shared = _added(basis * adjusted[:, np.newaxis], patient)
    explained = np.einsum("gk,gk->g", shared, shared)
    diagonal = own - explained
    off_diagonal = float(((shared.T @ shared) ** 2).sum()) - float((explained**2).sum())
    spread = float((diagonal**2).sum()) + max(off_diagonal, 0.0)
    return float(diagonal.sum()) ** 2 / spread if spread > 0 else math.nan


def _added(rows: Numbers, patient: NDArray[np.intp]) -> Numbers:
    """The rows of each patient added up."""
    first = np.full(int(patient.max()) + 1, -1)
    first[patient[::-1]] = np.arange(patient.size - 1, -1, -1)
    added: Numbers = rows[first]
    others = np.flatnonzero(first[patient] != np.arange(patient.size))
    np.add.at(added, patient[others], rows[others])
    return added
