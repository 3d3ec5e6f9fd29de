"""The model of the choice of cover, and the overlap weights of the lids that follow from it.

A logistic model of the cover on what was known before gives each lid its chance of advanced skin; overlap weights (Li,
Morgan & Zaslavsky, J Am Stat Assoc 2018;113:390-400) then compare lids that could have had either cover. Few cases bear
few covariates: they enter in the protocol's order, one term for each `cases_per_covariate` lids of the smaller cohort. A
missing number takes the mean of the known ones, and where five lids or more lack it an indicator of being missing
enters too; a missing yes or no counts as no, with the same indicator. The covers overlap when, in each cohort, both the
effective size and the sum of the open choices reach the protocol's `overlap_minimum`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from outcomes.cohort import CaseSeries, column
from outcomes.findings.arrays import Flags, Numbers, patient_of, second_of
from outcomes.findings.estimable import estimable
from outcomes.findings.results import Adjustment
from outcomes.protocol import Characteristic, Rules
from outcomes.statistics.logistic import Fit, firth, fit_resamples, maximum_likelihood
from outcomes.statistics.overlap import effective_size, overlap_weights
from outcomes.statistics.resampling import resample_patients

INDICATOR_FROM = 5


@dataclass(frozen=True)
class CoverChoice:
    """The overlap weight of each lid, and of each lid in each resample of patients (resamples by lids).

    `weight` is None when the covers cannot be compared after weighting; `resampled` holds the counts of each lid in each
    resample, and `resampled_weight` these times the weights refitted in it (nan throughout where no model settled).
    """

    adjustment: Adjustment
    weight: Numbers | None
    resampled: Numbers
    resampled_weight: Numbers | None
    covariates: Numbers

    @property
    def no_overlap(self) -> bool:
        """Tell whether a model could be fitted and shows that hardly any lid could have had either cover."""
        return bool(self.adjustment.covariates) and self.weight is None


def choose_covers(series: CaseSeries) -> CoverChoice:
    """Model the choice of cover on the whole series, and again in every resample of its patients."""
    rules, second = series.protocol.rules, second_of(series)
    design, used, left_out = _design(series)
    smaller = int(min(second.sum(), (~second).sum()))
    resampled = _resamples(series, smaller)
    nothing = Adjustment(
        estimable=False,
        covariates=(),
        left_out=tuple(left_out),
        penalised=False,
        effective_n_grafted=None,
        effective_n_advanced=None,
        resamples=rules.resamples,
    )
    if smaller == 0:
        return CoverChoice(replace(nothing, note="one cohort has no lids"), None, resampled, None, design)
    if design.shape[1] == 0:
        why = (
            "too few lids for a model of the cover"
            if smaller < rules.cases_per_covariate
            else "no characteristic was recorded that differs"
        )
        return CoverChoice(replace(nothing, note=why), None, resampled, None, design)
    return _weighted(series, design, (used, left_out), resampled)


def _weighted(
    series: CaseSeries, design: Numbers, terms: tuple[list[str], list[str]], resampled: Numbers
) -> CoverChoice:
    rules, second = series.protocol.rules, second_of(series)
    model, penalised = _model(design, second)
    weight = overlap_weights(model.fitted, second)
    sizes = effective_size(weight[~second]), effective_size(weight[second])
    overlaps = min(*sizes, *(open_choices(weight[side]) for side in (~second, second))) >= rules.overlap_minimum
    why = "" if overlaps else "the covers do not overlap: lids with one cover were hardly ever like lids with the other"
    adjustment = Adjustment(
        overlaps,
        tuple(terms[0]),
        tuple(terms[1]),
        penalised,
        estimable(sizes[0]),
        estimable(sizes[1]),
        rules.resamples,
        why,
    )
    if not overlaps:
        return CoverChoice(adjustment, None, resampled, None, design)
    refitted = fit_resamples(design, second, resampled)
    weights = np.where(second, 1 - refitted, refitted) * resampled
    return CoverChoice(adjustment, weight, resampled, weights, design)


def open_choices(weight: Numbers) -> float:
    """To how many lids whose choice was even the choices of these add up; one whose cover was certain counts nothing.

    The effective size cannot tell: where the characteristics tell the covers apart perfectly all weights are alike, if tiny.
    """
    return float(2 * weight.sum())


def _model(design: Numbers, second: Flags) -> tuple[Fit, bool]:
    """The model of the cover, penalised where some characteristics tell the covers apart perfectly."""
    plain = maximum_likelihood(design, second)
    return (firth(design, second), True) if plain.separated else (plain, False)


def _resamples(series: CaseSeries, smaller: int) -> Numbers:
    rules = series.protocol.rules
    if smaller == 0:
        return np.empty((0, series.cases.height))
    return resample_patients(patient_of(series), second_of(series), resamples=rules.resamples, seed=rules.seed)


def _design(series: CaseSeries) -> tuple[Numbers, list[str], list[str]]:
    """The standardised columns of the model, the labels of what entered, and of what stayed out with the reason."""
    second = second_of(series)
    allowed = int(min(second.sum(), (~second).sum())) // max(1, series.protocol.rules.cases_per_covariate)
    columns: list[Numbers] = []
    used, left_out = [], []
    for each in sorted((c for c in series.protocol.characteristics if c.adjust), key=lambda c: c.adjust):
        terms = _terms(series.cases.get_column(column(each)), each, series.protocol.rules)
        if not terms:
            left_out.append(f"{each.label} (not recorded, or the same in all)")
        elif len(columns) + len(terms) > allowed:
            left_out.append(f"{each.label} (too few lids to bear it)")
        else:
            columns += terms
            used.append(each.label)
    return (np.column_stack(columns) if columns else np.empty((second.size, 0))), used, left_out


def _terms(known: pl.Series, characteristic: Characteristic, rules: Rules) -> list[Numbers]:
    if known.null_count() == known.len():
        return []
    if characteristic.levels_of:
        counts = known.drop_nulls().value_counts(sort=True)
        common = counts.filter(pl.col("count") >= rules.cases_per_covariate).get_column(known.name).to_list()
        return [term for level in sorted(common)[1:] if (term := _standardised(_flags(known == level))) is not None]
    number = np.asarray(known.cast(pl.Float64).fill_null(float("nan")).to_numpy(), dtype=np.float64)
    missing = np.isnan(number)
    stands_in = 0.0 if characteristic.values else float(number[~missing].mean())
    terms = [_standardised(np.where(missing, stands_in, number))]
    if missing.sum() >= INDICATOR_FROM:
        terms.append(_standardised(missing.astype(float)))
    return [term for term in terms if term is not None]


def _flags(known: pl.Series) -> Numbers:
    return np.asarray(known.fill_null(value=False).cast(pl.Float64).to_numpy(), dtype=np.float64)


def _standardised(number: Numbers) -> Numbers | None:
    spread = float(number.std())
    return None if spread < 1e-9 else np.asarray((number - number.mean()) / spread)  # noqa: PLR2004 - a constant
