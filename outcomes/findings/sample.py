"""The lids measured for one outcome, ready for every estimator of a difference between the cohorts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from outcomes.findings.arrays import Flags, Lids
from outcomes.findings.covariates import Covariates
from outcomes.findings.results import NotAdjusted
from outcomes.protocol import Rules
from outcomes.statistics.cover_model import CoverModel, cover_model, cover_model_of_all
from outcomes.statistics.design_matrix import DesignMatrix, design_matrix
from outcomes.statistics.linear_model import LinearDesign, linear_design
from outcomes.statistics.logistic_model import PART, WORTH_A_PART
from outcomes.statistics.two_cohorts import TwoCohorts, cohorts_among


@dataclass(frozen=True)
class Sample:
    """The lids measured, one entry a lid; models are made when first asked for.

    `columns` are the characteristics to adjust for of more lids, of which those `among` are true are the lids measured.
    """

    second: Flags
    patient: NDArray[np.int64]
    columns: DesignMatrix
    among: Flags
    rules: Rules
    one_surgeon_a_cover: bool = False

    @cached_property
    def crude(self) -> TwoCohorts:
        """The lids without characteristics."""
        return self.cohorts.without_characteristics()

    @cached_property
    def crude_design(self) -> LinearDesign:
        """The model of the cover alone."""
        return linear_design(self.crude)

    @cached_property
    def cohorts(self) -> TwoCohorts:
        """The lids with their characteristics, standardised."""
        return cohorts_among(self.columns, self.among, self.second, self.patient)

    @cached_property
    def design(self) -> LinearDesign:
        """The linear model of an outcome on the cover and the characteristics."""
        return linear_design(self.cohorts)

    @cached_property
    def cover_of_all(self) -> CoverModel:
        """The model of the cover of all patients."""
        return cover_model_of_all(self.cohorts)

    @cached_property
    def cover(self) -> CoverModel:
        """The model of the cover, with each patient left out in turn."""
        return self.cover_of_all if self.cover_of_all.is_linearised else cover_model(self.cohorts)

    @property
    def level(self) -> float:
        """The confidence level of every interval."""
        return self.rules.confidence_level

    @property
    def fewest(self) -> int:
        """How many lids the smaller cohort has."""
        return min(self.crude.lids)

    @cached_property
    def why_not_adjusted(self) -> NotAdjusted:
        """Why no difference of these lids can be adjusted; empty where it can."""
        if self.fewest == 0:
            return "one_cohort_empty"
        if self.one_surgeon_a_cover:
            return "no_overlap"
        if self.cohorts.terms == 0:
            return "nothing_recorded"
        return "" if self._part_overlaps or overlap(self.cover_of_all, self.rules) else "no_overlap"

    @property
    def _part_overlaps(self) -> bool:
        """Tell whether there are so many lids that one in so many show already that the covers overlap."""
        step = self.second.size // PART
        return step >= WORTH_A_PART and overlap(cover_model_of_all(self.cohorts.every(step)), self.rules)


def sample_of(lids: Lids, here: Flags, covariates: Covariates, *, due: int | None = None) -> Sample:
    """The lids `here` of all; how many characteristics enter goes by the lids due in the smaller cohort, or by `due`."""
    columns = covariates.chosen(lids.fewest_due if due is None else due).columns
    apart = covariates.one_surgeon_a_cover
    return Sample(lids.second[here], lids.patient[here], columns, here, covariates.rules, apart)


def crude_sample(lids: Lids, here: Flags, rules: Rules) -> Sample:
    """The lids `here` of all, without characteristics."""
    return Sample(lids.second[here], lids.patient[here], design_matrix(np.empty((here.size, 0))), here, rules)


def overlap(model: CoverModel, rules: Rules) -> bool:
    """Tell whether the covers overlap: lids of either cohort could well have had the other cover.

    They do not where the fitted chances tell all lids of the covers apart, or where the effective lids of a cohort, or the
    lids to whose even choice its lids add up, are fewer than the protocol's minimum.
    """
    second, chance = model.cohorts.second, model.chance[0]
    if not np.isfinite(chance).all() or chance[~second].max() < chance[second].min():
        return False
    return min(*model.effective_sizes, *model.open_choices) >= rules.overlap_minimum
