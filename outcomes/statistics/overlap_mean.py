"""The difference of two means among lids that could have had either cover, by overlap weights alone."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from outcomes.statistics.cover_model import CoverModel
from outcomes.statistics.jackknife import jackknife_difference
from outcomes.statistics.linearised import left_out_values
from outcomes.statistics.result import TestedEstimate
from outcomes.statistics.validation import check_confidence_level

Numbers = NDArray[np.float64]


def overlap_mean_difference(
    value: ArrayLike, cover: CoverModel, *, step: float = 0.0, confidence_level: float = 0.95
) -> TestedEstimate:
    """Return the weighted mean of the second cohort minus that of the first, among lids that could have had either.

    `value` has an entry for every lid of the cover model, in any unit; `step` as in `linear_difference`. A check of the
    linear model: it needs no model of the outcome. The variance leaves out one patient at a time and fits the cover
    model again; limits and p are those of Student's t with patients less terms. Not estimable where all lids of a
    cohort are one patient's.

    Source: Li F, Morgan KL, Zaslavsky AM. J Am Stat Assoc 2018;113:390-400.

    >>> from outcomes.statistics.cover_model import cover_model
    >>> from outcomes.statistics.two_cohorts import two_cohorts
    >>> lids = two_cohorts([0, 0, 0, 1, 1, 1], range(6), covariates=[[0], [0], [1], [0], [1], [1]])
    >>> round(overlap_mean_difference([1.0, 2.0, 4.0, 2.0, 4.0, 5.0], cover_model(lids)).estimate, 2)
    0.63
    """
    check_confidence_level(confidence_level)
    values = cover.cohorts.one_a_lid("value", value)
    return jackknife_difference(
        _linearised(values, cover) if cover.is_linearised else np.diff(cover.weighted_means(values))[:, 0],
        cover.cohorts,
        least_error=cover.cohorts.least_error(step),
        beside=1,
        confidence_level=confidence_level,
    )


def _linearised(values: Numbers, cover: CoverModel) -> Numbers:
    """The difference, and what it is without each patient, from derivatives."""
    second, weight, means = cover.cohorts.second, cover.weights[0], cover.weighted_means(values)[0]
    from_mean = (values - np.where(second, means[1], means[0])) / np.where(
        second, weight[second].sum(), weight[~second].sum()
    )
    spread = cover.chance[0] * (1 - cover.chance[0])
    own = np.where(second, weight, -weight) * from_mean
    influence = own + cover.influence_of_chances(-spread * from_mean)
    return left_out_values(float(means[1] - means[0]), influence, cover.cohorts.patient)
