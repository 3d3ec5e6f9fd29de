"""The difference of two means by a linear model, with the cluster-robust (CR2) standard error by patient."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from outcomes.statistics.design_matrix import CHARACTERISTICS, COVER, DesignMatrix, ExtendedMatrix
from outcomes.statistics.result import TestedEstimate, not_estimable, student_estimate
from outcomes.statistics.two_cohorts import TwoCohorts
from outcomes.statistics.validation import check_confidence_level, check_yes_no

Numbers = NDArray[np.float64]
DEPENDENT = 1e-5  # of a column's length, what is left of it beside the columns before
SINGULAR = 1e-9
INFLATED = 500  # the sum of variance inflation factors up to which rounding leaves the products precise enough
AT_ONCE = 4096  # patients
FAR_FROM_SINGULAR = 1e-3  # of the square of the trace, the determinant


@dataclass(frozen=True)
class LinearDesign:
    """What the linear model of these lids needs before it meets an outcome; made once for all outcomes.

    `columns` are those of the model, and `root` makes an orthonormal basis of them: columns root. `leverage` is how much
    each lid pulls its own fitted value, `influence` how much it moves the difference, and `adjusted` the same after the
    patients' blocks of residuals were made unbiased (CR2). `dropped` holds the places, among the characteristics of the
    cohorts, of those that follow from the cover and the characteristics before them.
    """

    cohorts: TwoCohorts
    columns: DesignMatrix | ExtendedMatrix
    root: Numbers
    leverage: Numbers
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
    columns, asked = cohorts.columns, np.zeros(cohorts.columns.size)
    root, kept = _orthonormalising(columns)
    asked[COVER] = 1.0
    dropped = tuple(place - CHARACTERISTICS for place in range(CHARACTERISTICS, columns.size) if place not in kept)
    nothing = np.full(cohorts.second.size, math.nan)
    leverage = columns.quadratic_forms(root @ root.T)
    design = LinearDesign(cohorts, columns, root, leverage, nothing, nothing, math.nan, dropped)
    return _with_coefficient(design, asked) if COVER in kept else design


def interaction_design(design: LinearDesign, modifier: ArrayLike) -> LinearDesign:
    """Return the model whose "difference" is by how much the difference of the cohorts changes with a unit of `modifier`.

    The modifier has an entry a lid; it and its product with the cover stand in the model beside the columns of `design`.

    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> lids = linear_design(two_cohorts([0, 0, 0, 0, 1, 1, 1, 1], range(8)))
    >>> found = linear_difference([1, 2, 3, 4.5, 2, 4, 6, 8.5], interaction_design(lids, [1, 2, 3, 4] * 2))
    >>> round(found.estimate, 2)
    1.0
    """
    values = design.cohorts.one_a_lid("modifier", modifier)
    centred = values - values.mean() if values.size else values
    return _extended(design, np.column_stack([centred, centred * design.cohorts.second]), [0.0, 1.0])


def within_design(design: LinearDesign, within: ArrayLike) -> LinearDesign:
    """Return the model whose "difference" is that among the lids `within`, where all others have a difference of their own.

    `within` is true or false for every lid. The characteristics count alike in all lids, so that they are adjusted for as
    in the model of all, however few lids are `within`.

    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> lids = linear_design(two_cohorts([0, 0, 1, 1, 0, 0, 1, 1], range(8)))
    >>> found = linear_difference([1, 3, 4, 6, 2, 4, 3, 5], within_design(lids, [1, 1, 1, 1, 0, 0, 0, 0]))
    >>> round(found.estimate, 2)
    3.0
    """
    cohorts = design.cohorts
    own = cohorts.one_a_lid("within", check_yes_no("within", within)) > 0
    further, others = np.column_stack([own, cohorts.second & own]).astype(np.float64), cohorts.second[~own]
    return _extended(design, further, [1.0, 0.0, float(others.any() and not others.all())])


def _extended(design: LinearDesign, further: Numbers, asked: list[float]) -> LinearDesign:
    """The model with further columns; `asked` says how often the coefficients of the last ones, and of the cover, count."""
    columns = ExtendedMatrix(design.cohorts.columns, further)
    wanted = np.zeros(columns.size)
    wanted[-further.shape[1] :] = asked[-further.shape[1] :]
    wanted[COVER] = sum(asked[: -further.shape[1]])
    root, kept = _orthonormalising(columns)
    leverage = design.leverage.copy()
    for place in range(design.root.shape[1], len(kept)):
        leverage += columns.times(root[:, place]) ** 2
    nothing = np.full(leverage.size, math.nan)
    extended = LinearDesign(design.cohorts, columns, root, leverage, nothing, nothing, math.nan, design.dropped)
    return _with_coefficient(extended, wanted) if set(np.flatnonzero(wanted)) <= set(kept) else extended


def _with_coefficient(design: LinearDesign, asked: Numbers) -> LinearDesign:
    """The design whose "difference" is a sum of coefficients, each `asked` times."""
    if min(design.cohorts.lids) == 0:
        return design
    influence = design.columns.times(design.root @ (design.root.T @ asked))
    if min(design.cohorts.patients_a_cohort) < 2:
        return replace(design, influence=influence)
    adjusted, freedom = _bias_reduced(replace(design, influence=influence))
    return replace(design, influence=influence, adjusted=adjusted, degrees_of_freedom=freedom)


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
    fitted = design.root @ (design.root.T @ design.columns.transposed_times(values))
    residuals = values - design.columns.times(fitted)
    error = math.sqrt(_robust_variance(residuals, design.adjusted, design.cohorts.patient))
    if error <= SINGULAR * float(np.abs(values).max()):  # rounding must not lend equal values a hair of error
        error = 0.0
    return student_estimate(
        estimate,
        max(error, design.cohorts.least_error(step)),
        design.degrees_of_freedom,
        confidence_level=confidence_level,
    )


def independent_columns(columns: DesignMatrix, kept: NDArray[np.bool_]) -> list[int]:
    """Return the places of the columns that do not follow from the ones before, in the lids kept.

    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> lids = two_cohorts([0, 0, 1, 1], range(4), covariates=[[1, 2], [2, 4], [3, 6], [7, 14]])
    >>> independent_columns(lids.columns, np.array([True] * 4)), independent_columns(lids.columns, lids.second)
    ([0, 1, 2], [0, 2])
    """
    return _triangle(columns.cross_products(kept.astype(np.float64)))[0]


def _orthonormalising(columns: DesignMatrix | ExtendedMatrix) -> tuple[Numbers, list[int]]:
    """What makes a basis of the columns, and the places of those that it spans, which do not follow from the ones before.

    By the triangle of the products of the columns (Cholesky), and by that of the basis again where columns that are nearly
    alike let rounding leave anything.
    """
    kept, triangle = _triangle(columns.products)
    root = np.zeros((columns.size, len(kept)))
    root[kept] = _inverse(triangle)
    if float(np.diagonal(columns.products) @ (root**2).sum(axis=1)) > INFLATED:
        for _ in range(2):
            basis = columns.dense() @ root
            again = np.asarray(np.linalg.cholesky(basis.T @ basis, upper=True), dtype=np.float64)
            root = root @ _inverse(again)
    return root, kept


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


def _robust_variance(residuals: Numbers, adjusted: Numbers, patient: NDArray[np.intp]) -> float:
    return float((np.bincount(patient, adjusted * residuals) ** 2).sum())


def _bias_reduced(design: LinearDesign) -> tuple[Numbers, float]:
    """(I - H)_gg^(-1/2) applied to the influence of each patient g, with the pseudo-inverse, and the degrees of freedom.

    These are tr(B)^2 / tr(B^2), where B_gh = a_g' (I - H)_gh a_h for patients g and h, and a what CR2 makes of the
    influence. B is a diagonal less a product of as few columns as the basis has, so that both traces need no matrix of
    patients by patients: the squares off the diagonal are those of the small product S S', less those on the diagonal of
    S' S. A lid alone of its patient needs no more than its leverage.
    """
    columns, root, influence, together = design.columns, design.root, design.influence, design.cohorts.lids_together
    left = 1 - design.leverage
    alone = left > SINGULAR
    for places in together:
        alone[places] = False
    adjusted = np.where(alone, influence / np.sqrt(np.where(alone, left, 1.0)), 0.0)
    square = adjusted**2
    traces = _Traces(root.T @ columns.cross_products(square) @ root)
    traces.add(square, square * design.leverage)
    for places in together:
        for start in range(0, places.shape[0], AT_ONCE):
            here = places[start : start + AT_ONCE]
            basis = (columns.dense(here.ravel()) @ root).reshape(*here.shape, -1)
            own = _of_block(influence[here], basis)
            adjusted[here] = own
            shared = np.einsum("gl,glc->gc", own, basis)
            traces.shared += shared.T @ shared
            traces.add((own**2).sum(axis=1), np.einsum("gc,gc->g", shared, shared))
    return adjusted, traces.degrees_of_freedom()


class _Traces:
    """The sums over patients from which the degrees of freedom come."""

    def __init__(self, shared: Numbers) -> None:
        self.shared, self.diagonal, self.squares, self.explained = shared, 0.0, 0.0, 0.0

    def add(self, own: Numbers, explained: Numbers) -> None:
        left = own - explained
        self.diagonal += float(left.sum())
        self.squares += float(left @ left)
        self.explained += float(explained @ explained)

    def degrees_of_freedom(self) -> float:
        spread = self.squares + max(float((self.shared**2).sum()) - self.explained, 0.0)
        return self.diagonal**2 / spread if spread > 0 else math.nan


def _of_block(influence: Numbers, basis: Numbers) -> Numbers:
    """(I - H)_gg^(-1/2) applied to the influence of patients with as many lids each (rows).

    Of two lids in closed form, by the root of the determinant and of the trace, where the block is far from singular.
    """
    block = np.eye(influence.shape[1]) - basis @ basis.transpose(0, 2, 1)
    if influence.shape[1] != 2:
        return _by_eigenvalues(influence, block)
    first, last, beside = block[:, 0, 0], block[:, 1, 1], block[:, 0, 1]
    determinant, trace = first * last - beside**2, first + last
    regular = determinant > FAR_FROM_SINGULAR * trace**2
    root = np.sqrt(np.where(regular, determinant, 1.0))
    scale = root * np.sqrt(np.where(regular, trace, 1.0) + 2 * root)
    found = np.column_stack(
        [
            ((last + root) * influence[:, 0] - beside * influence[:, 1]) / scale,
            ((first + root) * influence[:, 1] - beside * influence[:, 0]) / scale,
        ]
    )
    if not regular.all():
        found[~regular] = _by_eigenvalues(influence[~regular], block[~regular])
    return found


def _by_eigenvalues(influence: Numbers, block: Numbers) -> Numbers:
    values, vectors = np.linalg.eigh(block)
    known = values > SINGULAR
    root = np.where(known, 1 / np.sqrt(np.where(known, values, 1.0)), 0.0)
    turned = np.einsum("glk,gl->gk", vectors, influence)
    return np.asarray(np.einsum("glk,gk->gl", vectors, root * turned), dtype=np.float64)
