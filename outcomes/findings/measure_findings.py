"""The findings of every measure in every window, each with the evidence for its verdict.

Verdicts are left open here: they need the correction over all findings of a family.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import polars as pl

from outcomes.cohort import CaseSeries
from outcomes.findings.arrays import Lids, MeasureLids, Numbers, all_lids
from outcomes.findings.checks import Question, checks_of, unchecked_of
from outcomes.findings.cohort_summary import share_summary, values_summary
from outcomes.findings.covariates import Covariates
from outcomes.findings.decision_rule import Evidence, findable_difference
from outcomes.findings.estimates import (
    AdjustedEstimate,
    adjusted_estimate,
    adjusted_result,
    contrast_result,
    crude_estimate,
    shares_worth,
    spread_within,
)
from outcomes.findings.masking import masked_saw_less
from outcomes.findings.outcomes import more_is_worse, outcomes_of, scale_of
from outcomes.findings.results import Clock, Finding, Note, Outcome, Share, Unseen, Values
from outcomes.findings.sample import Sample, sample_of
from outcomes.findings.unseen import unseen_of_means, unseen_of_shares, unseen_of_wins, with_margin
from outcomes.protocol import Measure, Window
from outcomes.statistics.effective_shares import EffectiveShare
from outcomes.statistics.result import TestedEstimate


@dataclass(frozen=True)
class Draft:
    """A finding before its verdict, with the evidence; of exploratory findings the evidence is not asked for."""

    finding: Finding
    evidence: Evidence


@dataclass(frozen=True)
class OperationClockFinding:
    """A finding by the clock of operation, and its estimate; None where the lids are too few or the covers do not overlap."""

    finding: Finding
    estimate: TestedEstimate | None


@dataclass(frozen=True)
class MeasureWindow:
    """One measure in one window, with the values of all its lids and what is the same for all measures."""

    series: CaseSeries
    covariates: Covariates
    order: Numbers
    some_masked: bool
    lids: MeasureLids
    window: Window

    @property
    def measure(self) -> Measure:
        """The measure whose values these are."""
        return self.lids.measure

    @cached_property
    def since_operation(self) -> OperationClockFinding:
        """The main outcome by time since operation, which is exploratory."""
        lids = self.lids.at(self.window, clock="operation")
        sample = sample_of(lids, lids.seen, self.covariates)
        question = self.question(outcomes_of(self.measure, self.window, self.series.protocol)[0], lids)
        finding, judged = _finding(self.series, question, sample, (self.window, "operation"))
        return OperationClockFinding(finding, judged if sample.fewest >= sample.rules.too_few_lids else None)

    def question(self, outcome: Outcome, lids: Lids) -> Question:
        """One outcome of these lids."""
        return Question(self.measure, outcome, scale_of(self.measure, outcome, lids.step), lids, self.covariates)


def _measure_windows(series: CaseSeries, covariates: Covariates) -> Iterator[MeasureWindow]:
    """Every measure in every window, in order; the values of one measure at a time are held."""
    if not series.windows or not series.cases.height:
        return
    every, order = all_lids(series), order_by_cover(series)
    some_masked = bool(series.measured.get_column("masked").any())
    for measure in series.measures:
        lids = every.of(measure)
        for window in series.windows:
            yield MeasureWindow(series, covariates, order, some_masked, lids, window)


def order_by_cover(series: CaseSeries) -> Numbers:
    """The place of each lid, from 0, among those of its cover in order of operation."""
    ordered = series.cases.select(pl.struct("operated_on", "case_id").rank("ordinal").over("cohort").alias("place") - 1)
    return np.asarray(ordered.to_series().to_numpy(), dtype=np.float64)


def drafts(series: CaseSeries, covariates: Covariates) -> list[Draft]:
    """Every finding by time since division, in the order of measures and windows."""
    return [draft for place in _measure_windows(series, covariates) for draft in _of_one(place)]


def drafts_of_both_clocks(series: CaseSeries, covariates: Covariates) -> tuple[list[Draft], list[Finding]]:
    """Every finding by time since division, in the order of measures and windows, and those by time since operation."""
    by_division: list[Draft] = []
    by_operation: list[Finding] = []
    for place in _measure_windows(series, covariates):
        by_division += _of_one(place)
        by_operation.append(place.since_operation.finding)
    return by_division, by_operation


def _of_one(place: MeasureWindow) -> list[Draft]:
    """Every outcome of one measure in one window."""
    lids = place.lids.at(place.window)
    sample = sample_of(lids, lids.seen, place.covariates)
    found = []
    for outcome in outcomes_of(place.measure, place.window, place.series.protocol):
        question = place.question(outcome, lids)
        found.append(
            _draft(place, question, sample, _finding(place.series, question, sample, (place.window, "division")))
        )
    return _with_win_probability(found)


def _finding(
    series: CaseSeries, question: Question, sample: Sample, place: tuple[Window, Clock]
) -> tuple[Finding, TestedEstimate | None]:
    """One finding without verdict, and the estimate that a verdict would be about; None where the covers do not overlap."""
    window, clock = place
    lids, measure, outcome, scale = question.lids, question.measure, question.outcome, question.scale
    value = question.values(lids)[lids.seen]
    crude = crude_estimate(value, sample, scale)
    adjusted = adjusted_estimate(value, sample, scale)
    judged = adjusted.estimate if adjusted else crude if sample.why_not_adjusted == "nothing_recorded" else None
    grafted, advanced = (_side(question, value, sample, second=second) for second in (False, True))
    important = measure.important_margin if outcome == "main" else None
    finding = Finding(
        measure.id,
        window.id,
        outcome,
        clock,
        grafted,
        advanced,
        contrast_result(scale.kind, crude, value, sample),
        adjusted_result(scale.kind, adjusted),
        important_difference=important,
        unseen=with_margin(
            _unseen(series, question, judged, (grafted, advanced)),
            judged,
            important,
            more_is_worse=more_is_worse(measure, outcome),
            sides=(grafted, advanced),
        ),
        notes=_notes(sample, crude, adjusted),
    )
    return finding, judged


def _side(question: Question, value: Numbers, sample: Sample, *, second: bool) -> Share | Values:
    if question.scale.kind == "difference of proportions":
        return share_summary(question.lids, value, sample, second=second)
    return values_summary(question.lids, sample, second=second)


def _unseen(
    series: CaseSeries, question: Question, judged: TestedEstimate | None, sides: tuple[Share | Values, Share | Values]
) -> Unseen:
    grafted, advanced = sides
    if isinstance(grafted, Share) and isinstance(advanced, Share):
        return unseen_of_shares((grafted, advanced), judged, question.lids.measured_shares)
    if question.outcome == "value" or isinstance(grafted, Share) or isinstance(advanced, Share):
        return unseen_of_wins(judged, question.lids.measured_shares)
    measure = question.measure
    scale = series.protocol.limits(measure)
    return unseen_of_means(question.lids, judged, scale=scale, worse=measure.worse, sides=(grafted, advanced))


def _notes(sample: Sample, crude: TestedEstimate, adjusted: AdjustedEstimate | None) -> tuple[Note, ...]:
    """Why numbers are missing from a finding; empty when none is."""
    missing = [name for name, second in (("grafted", False), ("advanced", True)) if not (sample.second == second).any()]
    if missing:
        return (Note("not_recorded", label=" and ".join(missing)),)
    notes = []
    if not np.isfinite(crude.low) or (adjusted is not None and not np.isfinite(adjusted.estimate.low)):
        notes.append(Note("no_interval"))
    if adjusted is None:
        notes.append(Note("no_overlap" if sample.why_not_adjusted == "no_overlap" else "not_adjusted"))
    return tuple(notes)


def _draft(
    place: MeasureWindow, question: Question, sample: Sample, found: tuple[Finding, TestedEstimate | None]
) -> Draft:
    """Put the evidence beside a finding; checks are made of what is planned, and of what excludes none."""
    finding, judged = found
    rules = place.series.protocol.rules
    value = question.values(question.lids)[question.lids.seen]
    evidence = Evidence(
        judged,
        fewest=sample.fewest,
        too_few=rules.too_few_lids,
        more_is_worse=more_is_worse(question.measure, question.outcome),
        measured=question.lids.measured_shares,
        points=rules.follow_up_difference_points,
        spread=spread_within(value, sample) if sample.fewest else 0.0,
        important=finding.important_difference,
    )
    if question.outcome != "main" or not evidence.estimable:
        return Draft(finding, evidence)
    if finding.is_share:
        evidence = replace(evidence, shares=_shares_worth(finding, value, sample))
    planned = finding.window == place.series.protocol.primary_window
    checked = planned or (judged is not None and judged.excludes_none)
    if place.some_masked:
        masked, unmasked = (place.lids.at(place.window, masked=flag) for flag in (True, False))
        question = replace(question, masked=masked)
        evidence = replace(evidence, masked_saw_less=masked_saw_less(question, unmasked))
    if checked:
        question = replace(question, since_operation=place.since_operation.estimate, order=place.order)
    checks = checks_of(question, sample) if checked else ()
    unchecked = unchecked_of(question, checks) if checked else ()
    could_find = findable_difference(evidence, rules.power)
    return Draft(replace(finding, checks=checks, unchecked=unchecked, could_find=could_find), evidence)


def _shares_worth(finding: Finding, value: Numbers, sample: Sample) -> tuple[EffectiveShare, EffectiveShare] | None:
    adjusted = finding.adjusted
    sizes = None if adjusted is None else (adjusted.effective_n_grafted, adjusted.effective_n_advanced)
    return shares_worth(value, sample, sizes)


def _with_win_probability(found: list[Draft]) -> list[Draft]:
    """Say beside a mean grade that the win probability lies on the other side of one half."""
    value = next((each.evidence.judged for each in found if each.finding.outcome == "value"), None)
    if value is None:
        return found
    main = found[0]
    mean = main.evidence.judged
    advanced_wins = value.estimate > value.none
    if mean is None or mean.estimate == mean.none or value.estimate == value.none:
        return found
    if ((mean.estimate < mean.none) == main.evidence.more_is_worse) == advanced_wins:
        return found
    notes = (*main.finding.notes, Note("win_probability_disagrees"))
    return [replace(main, finding=replace(main.finding, notes=notes)), *found[1:]]
