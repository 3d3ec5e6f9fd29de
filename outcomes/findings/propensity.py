"""The model of the choice of cover in the whole series, and the overlap weights of the lids that follow from it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from outcomes.cohort import CaseSeries
from outcomes.findings.arrays import Numbers, patient_of, second_of
from outcomes.findings.covariates import Covariates
from outcomes.findings.estimable import estimable
from outcomes.findings.results import Adjustment
from outcomes.findings.sample import Sample


@dataclass(frozen=True)
class CoverChoice:
    """How the cover was chosen, and the overlap weight of each lid; None where the covers cannot be compared."""

    adjustment: Adjustment
    weight: Numbers | None

    @property
    def no_overlap(self) -> bool:
        """Tell whether a model could be fitted and shows that hardly any lid could have had either cover."""
        return self.adjustment.why_not == "no_overlap"


def choose_covers(series: CaseSeries, covariates: Covariates) -> CoverChoice:
    """Model the choice of cover in the whole series (log-F penalty; see `statistics.cover_model`)."""
    second = second_of(series)
    chosen = covariates.chosen(int(min(second.sum(), (~second).sum())))
    apart = covariates.one_surgeon_a_cover
    everybody = np.ones(second.size, dtype=np.bool_)
    sample = Sample(second, patient_of(series), chosen.columns, everybody, series.protocol.rules, apart)
    why_not = sample.why_not_adjusted
    surgeons = chosen.columns.groups + 1 if chosen.columns.groups else 0
    if why_not in {"one_cohort_empty", "nothing_recorded"}:
        return CoverChoice(Adjustment(False, (), chosen.left_out, 0, None, None, why_not), None)  # noqa: FBT003
    model = sample.cover_of_all
    grafted, advanced = (estimable(size) for size in model.effective_sizes)
    adjustment = Adjustment(not why_not, chosen.used, chosen.left_out, surgeons, grafted, advanced, why_not)
    return CoverChoice(adjustment, None if why_not else sample.cohorts.columns.as_given(model.weights[0]))
