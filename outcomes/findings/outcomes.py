"""The outcomes of a measure, and what each of them is in every lid: a value, a poor result or a score."""

from __future__ import annotations

import numpy as np

from outcomes.findings.arrays import Flags, Lids, Numbers
from outcomes.findings.estimates import Scale
from outcomes.findings.results import Outcome
from outcomes.protocol import Measure, Protocol, Threshold, Window


def outcomes_of(measure: Measure, window: Window, protocol: Protocol) -> tuple[Outcome, ...]:
    """The outcomes told of a measure: the main one, the win probability of grades, and the share with a poor result."""
    if measure.main_outcome == "share":
        return ("main",) if measure.poor is not None else ()
    graded = bool(protocol.value_field(measure).levels)
    judged = measure.poor is not None and protocol.judges(measure, window)
    return ("main", *(("value",) if graded else ()), *(("poor",) if judged else ()))


def scale_of(measure: Measure, outcome: Outcome, step: float) -> Scale:
    """How an outcome of a measure is estimated."""
    if outcome == "value":
        return Scale("win probability")
    if outcome == "poor" or measure.main_outcome == "share":
        return Scale("difference of proportions")
    return Scale("difference of means", step)


def outcome_values(lids: Lids, measure: Measure, outcome: Outcome) -> Numbers:
    """The outcome of every lid, nan where it was not measured: a value, 1 or 0 for a poor result, or a score (higher is better)."""
    value = counting_revision(lids, measure, measure.after_revision)
    if outcome == "value":
        return -value if measure.worse == "higher" else value
    if measure.poor is not None and (outcome == "poor" or measure.main_outcome == "share"):
        return np.where(np.isnan(value), np.nan, is_poor(value, measure.poor).astype(np.float64))
    return value


def counting_revision(lids: Lids, measure: Measure, after_revision: str) -> Numbers:
    """The values with a lid that had been revised by then as it was seen, or no better than the poor-result bound."""
    if after_revision != "poor" or measure.poor is None:
        return lids.value
    worst = np.maximum if measure.poor.at_least is not None else np.minimum
    return np.where(lids.revised, worst(lids.value, measure.poor.bound), lids.value)


def is_poor(value: Numbers, rule: Threshold) -> Flags:
    """Which values are a poor result by the rule; a value that is not there is not."""
    there = np.nan_to_num(value, nan=-np.inf if rule.at_least is not None else np.inf)
    return np.asarray(there >= rule.at_least if rule.at_least is not None else there <= rule.bound)


def more_is_worse(measure: Measure, outcome: Outcome) -> bool:
    """Tell whether a difference above none is bad for the advanced lids."""
    if outcome == "value":
        return False
    return outcome == "poor" or measure.main_outcome == "share" or measure.worse == "higher"
