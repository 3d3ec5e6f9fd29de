"""The adjusted difference once more with one thing done differently: each check is the same estimate of other lids or values."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from outcomes.findings.arrays import Flags, Lids, Numbers
from outcomes.findings.covariates import Covariates, in_columns
from outcomes.findings.estimates import Scale, judged_estimate, limits
from outcomes.findings.outcomes import outcome_values
from outcomes.findings.results import Check, CheckId, Outcome, Unchecked, UncheckedReason
from outcomes.findings.sample import Sample, sample_of
from outcomes.protocol import Measure
from outcomes.statistics.design_matrix import design_matrix
from outcomes.statistics.inverse_measured import inverse_measured_difference
from outcomes.statistics.overlap_mean import overlap_mean_difference
from outcomes.statistics.result import TestedEstimate
from outcomes.statistics.two_cohorts import TwoCohorts, cohorts_among, within_strata

FIRST_LIDS = 20


@dataclass(frozen=True)
class Question:
    """One outcome of a measure in a window, with the lids that answer it and all that a check may put in their place.

    `masked` are the lids by masked reviews alone, `since_operation` is the same estimate by the clock of operation, and
    `order` the place of each lid among those of its cover, in order of operation.
    """

    measure: Measure
    outcome: Outcome
    scale: Scale
    lids: Lids
    covariates: Covariates
    masked: Lids | None = None
    since_operation: TestedEstimate | None = None
    order: Numbers | None = None

    def values(self, lids: Lids) -> Numbers:
        """The outcome of every lid."""
        return outcome_values(lids, self.measure, self.outcome)


def checks_of(question: Question, sample: Sample) -> tuple[Check, ...]:
    """Every check that the lids allow; `sample` is that of the main estimate."""
    found = [*_of_other_lids(question), *_after_revision(question, sample), *_of_the_same_lids(question, sample)]
    return tuple(Check(name, *limits(estimate.interval)) for name, estimate in found if estimate is not None)


def unchecked_of(question: Question, checks: tuple[Check, ...]) -> tuple[Unchecked, ...]:
    """Why the masked assessors' own estimate is not among the checks; empty where it is."""
    if any(each.id == "masked_only" for each in checks):
        return ()
    return (Unchecked("masked_only", _why_not_masked(question)),)


def _why_not_masked(question: Question) -> UncheckedReason:
    masked, lids = question.masked, question.lids
    if masked is None or not masked.seen.any():
        return "none_masked"
    if np.array_equal(masked.value, lids.value, equal_nan=True):
        return "all_masked"
    seen = [int((masked.seen & side).sum()) for side in (masked.second, ~masked.second)]
    return "few_masked" if min(seen) < question.covariates.rules.too_few_lids else "no_overlap"


NamedEstimates = Iterator[tuple[CheckId, TestedEstimate | None]]


def _of_other_lids(question: Question) -> NamedEstimates:
    lids = question.lids
    if lids.converted:
        yield "as_planned", _again(question, lids.as_planned())
    masked = question.masked
    if masked is not None and masked.seen.any() and not np.array_equal(masked.value, lids.value, equal_nan=True):
        yield "masked_only", _again(question, masked)
    if question.since_operation is not None:
        yield "operation_clock", question.since_operation
    later = np.full(lids.second.size, fill_value=True) if question.order is None else question.order >= FIRST_LIDS
    if (lids.seen & ~later).any():
        yield "without_first_twenty", _again(question, lids, among=later)
    yield "within_surgeon", _within_surgeon(question)


def _again(question: Question, lids: Lids, *, among: Flags | None = None) -> TestedEstimate | None:
    """The same estimate of other lids; None where a cohort has fewer than the protocol's minimum."""
    here = lids.seen if among is None else lids.seen & among
    sample = sample_of(lids, here, question.covariates)
    return _estimate(question.values(lids)[here], sample, question.scale)


def _estimate(value: Numbers, sample: Sample, scale: Scale) -> TestedEstimate | None:
    return None if sample.fewest < sample.rules.too_few_lids else judged_estimate(value, sample, scale)


def _after_revision(question: Question, sample: Sample) -> NamedEstimates:
    """A revised lid counted the other way: as poor where it counts as seen, as seen where it counts as poor."""
    lids, measure = question.lids, question.measure
    if measure.poor is None or not (lids.revised & lids.seen).any():
        return
    other: CheckId = "revision_as_seen" if measure.after_revision == "poor" else "revision_poor"
    changed = replace(measure, after_revision="as seen" if measure.after_revision == "poor" else "poor")
    yield other, _estimate(outcome_values(lids, changed, question.outcome)[lids.seen], sample, question.scale)


def _of_the_same_lids(question: Question, sample: Sample) -> NamedEstimates:
    lids, value = question.lids, question.values(question.lids)
    if sample.why_not_adjusted or sample.fewest < sample.rules.too_few_lids:
        return
    if not lids.seen[lids.due].all():
        yield (
            "inverse_measured",
            inverse_measured_difference(
                value[lids.due], _due(question), step=question.scale.step, confidence_level=sample.level
            ),
        )
    if question.scale.kind == "difference of means":
        yield (
            "overlap_weighted",
            overlap_mean_difference(
                value[lids.seen], sample.cover, step=question.scale.step, confidence_level=sample.level
            ),
        )


def _due(question: Question) -> TwoCohorts:
    lids = question.lids
    columns = question.covariates.chosen(lids.fewest_due).columns
    return cohorts_among(columns, lids.due, lids.second[lids.due], lids.patient[lids.due])


def _within_surgeon(question: Question) -> TestedEstimate | None:
    """Among the lids of surgeons who did both covers, with each surgeon's own level; None where that is the main estimate again."""
    lids, (names, number) = question.lids, question.covariates.surgeons
    here = lids.seen & (names != "")[number]
    kept, surgeon = within_strata(lids.second[here], number[here])
    places = np.flatnonzero(here)[kept]
    if surgeon.max(initial=0) == 0 or (places.size == lids.seen.sum() and _told_apart(question.covariates, places)):
        return None
    others = question.covariates.chosen(lids.fewest_due).without_surgeon
    columns = design_matrix(in_columns([each[places] for each in others], places.size), surgeon)
    everybody = np.ones(places.size, dtype=np.bool_)
    sample = Sample(lids.second[places], lids.patient[places], columns, everybody, question.covariates.rules)
    return _estimate(question.values(lids)[places], sample, question.scale)


def _told_apart(covariates: Covariates, places: NDArray[np.intp]) -> bool:
    """Tell whether what the main estimate adjusts for gives every surgeon of these lids a level of their own."""
    groups = np.unique(covariates.surgeon[places]).size if covariates.surgeon.size else 1
    return groups == np.unique(covariates.surgeons[1][places]).size
