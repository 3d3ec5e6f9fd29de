"""The crude and the adjusted difference of one outcome among the lids measured: means, shares and the win probability."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, isfinite, nan

import numpy as np

from outcomes.findings.arrays import Numbers
from outcomes.findings.estimable import estimable
from outcomes.findings.results import Adjusted, Bounded, Contrast, Kind, Method
from outcomes.findings.sample import Sample
from outcomes.statistics.augmented_overlap import overlap_share_difference
from outcomes.statistics.clusters import EffectiveProportion, effective_proportion
from outcomes.statistics.e_value import EValues, e_values_of_shares, e_values_of_shift
from outcomes.statistics.effective_shares import EffectiveShare, effective_share_difference
from outcomes.statistics.linear_model import linear_difference
from outcomes.statistics.linearised import is_large
from outcomes.statistics.permutation import midranks, permute_patients
from outcomes.statistics.result import Interval, TestedEstimate, not_estimable
from outcomes.statistics.win_probability import overlap_win_probability, win_probability

DRAWS_OF_MANY = 999
NO_E_VALUES = EValues(nan, nan)


@dataclass(frozen=True)
class Scale:
    """How an outcome is estimated: the kind of difference, and the distance of neighbouring values of its field."""

    kind: Kind
    step: float = 0.0


@dataclass(frozen=True)
class AdjustedEstimate:
    """An adjusted difference with its method; of shares with the effective lids, and what E-values it has."""

    estimate: TestedEstimate
    method: Method
    effective_n: tuple[float, float] | None = None
    e_values: EValues = NO_E_VALUES


def crude_estimate(value: Numbers, sample: Sample, scale: Scale) -> TestedEstimate:
    """The difference without adjustment; `value` has an entry a lid of the sample (for a share 0 or 1)."""
    if sample.fewest == 0:
        return not_estimable(sample.level)
    return _CRUDE[scale.kind](value, sample, scale)


def adjusted_estimate(value: Numbers, sample: Sample, scale: Scale) -> AdjustedEstimate | None:
    """The difference adjusted for the characteristics of the sample; None where nothing can be adjusted for."""
    return None if sample.why_not_adjusted else _ADJUSTED[scale.kind](value, sample, scale)


def judged_estimate(value: Numbers, sample: Sample, scale: Scale) -> TestedEstimate | None:
    """The adjusted difference, or the crude one where nothing was recorded; None where the covers do not overlap."""
    if sample.why_not_adjusted == "nothing_recorded":
        return crude_estimate(value, sample, scale)
    found = adjusted_estimate(value, sample, scale)
    return found.estimate if found else None


def _crude_means(value: Numbers, sample: Sample, scale: Scale) -> TestedEstimate:
    return linear_difference(value, sample.crude_design, step=scale.step, confidence_level=sample.level)


def _adjusted_means(value: Numbers, sample: Sample, scale: Scale) -> AdjustedEstimate:
    found = linear_difference(value, sample.design, step=scale.step, confidence_level=sample.level)
    return AdjustedEstimate(
        found, "linear model", e_values=e_values_of_shift(found.interval, spread_within(value, sample))
    )


def spread_within(value: Numbers, sample: Sample) -> float:
    """The standard deviation of the values within the cohorts."""
    return float(np.sqrt(np.mean([np.var(value[side]) for side in (sample.second, ~sample.second) if side.any()])))


def share_of(value: Numbers, sample: Sample, *, second: bool) -> EffectiveProportion:
    """The share of one cohort, with the lids of one patient allowed for."""
    here = sample.second == second
    return effective_proportion(value[here], sample.patient[here], confidence_level=sample.level)


def shares_worth(
    value: Numbers, sample: Sample, sizes: tuple[float | None, float | None] | None
) -> tuple[EffectiveShare, EffectiveShare] | None:
    """The share of both cohorts together, as each would know it: by the effective lids of the adjusted shares, or by its own."""
    known = sizes or tuple(share_of(value, sample, second=second).effective_n for second in (False, True))
    first, second = (0.0 if each is None or not isfinite(each) else each for each in known)
    if min(first, second) <= 0:
        return None
    pooled = float(value.mean())
    return EffectiveShare(pooled, first), EffectiveShare(pooled, second)


def _crude_shares(value: Numbers, sample: Sample, _: Scale) -> TestedEstimate:
    groups = [share_of(value, sample, second=second) for second in (False, True)]
    if not all(isfinite(group.low) and group.effective_n > 0 for group in groups):
        return not_estimable(sample.level, estimate=groups[1].estimate - groups[0].estimate)
    first, second = (EffectiveShare(group.estimate, group.effective_n) for group in groups)
    return effective_share_difference(
        first, second, correlation=0.0, degrees_of_freedom=inf, confidence_level=sample.level
    )


def _adjusted_shares(value: Numbers, sample: Sample, _: Scale) -> AdjustedEstimate:
    found = overlap_share_difference(value, sample.cover, confidence_level=sample.level)
    fewest = min(int(value[side].sum()) for side in (sample.second, ~sample.second))
    known = found.difference.excludes_none
    share, interval = found.first.estimate, found.difference.interval
    e_values = e_values_of_shares(share, interval, fewest_events=fewest) if known else NO_E_VALUES
    method: Method = "augmented overlap weights" if found.augmented else "overlap weights"
    return AdjustedEstimate(found.difference, method, found.effective_n, e_values)


def _crude_win(value: Numbers, sample: Sample, _: Scale) -> TestedEstimate:
    return win_probability(value, sample.crude, confidence_level=sample.level)


def _adjusted_win(value: Numbers, sample: Sample, _: Scale) -> AdjustedEstimate:
    return AdjustedEstimate(
        overlap_win_probability(value, sample.cover, confidence_level=sample.level), "overlap weights"
    )


_CRUDE: dict[Kind, Callable[[Numbers, Sample, Scale], TestedEstimate]] = {
    "difference of means": _crude_means,
    "difference of proportions": _crude_shares,
    "win probability": _crude_win,
}
_ADJUSTED: dict[Kind, Callable[[Numbers, Sample, Scale], AdjustedEstimate]] = {
    "difference of means": _adjusted_means,
    "difference of proportions": _adjusted_shares,
    "win probability": _adjusted_win,
}


def contrast_result(kind: Kind, found: TestedEstimate, value: Numbers, sample: Sample) -> Contrast:
    """The crude difference as a result, with the p value of the permutation of patients beside it.

    Of more than 300 patients 999 permutations are drawn where not all are counted; the error of that stands beside the p value.
    """
    contrast = Contrast(kind, *limits(found.interval), estimable(found.p))
    if sample.fewest == 0:
        return contrast
    score = midranks(value) if kind == "win probability" else value
    draws = DRAWS_OF_MANY if is_large(sample.crude.patients) else None
    test = permute_patients(score, sample.second, sample.patient, draws=draws)
    p = estimable(test.p)
    error = None if p is None or test.exact else test.monte_carlo_error
    return Contrast(kind, *limits(found.interval), estimable(found.p), p, None, test.exact and p is not None, error)


def adjusted_result(kind: Kind, found: AdjustedEstimate | None) -> Adjusted | None:
    """The adjusted difference as a result. E-values are those of a difference that excludes none."""
    if found is None:
        return None
    estimate, sizes = found.estimate, found.effective_n or (nan, nan)
    e_values = (found.e_values.estimate, found.e_values.limit) if estimate.excludes_none else (nan, nan)
    return Adjusted(
        kind,
        found.method,
        *limits(estimate.interval),
        estimable(estimate.p),
        None,
        *(estimable(size) for size in sizes),
        *(estimable(each) for each in e_values),
    )


def limits(interval: Interval) -> tuple[float | None, float | None, float | None]:
    """The estimate and its limits, None where they are not estimable."""
    return estimable(interval.estimate), estimable(interval.low), estimable(interval.high)


def bounded(found: TestedEstimate) -> Bounded:
    """The estimate and its limits as a result without a test."""
    return Bounded(*limits(found.interval))
