"""The comparison's verdicts on the outcomes of the sheet, without the rest of the comparison.

Only the outcomes of the sheet are judged in full. Of all other planned and further comparisons the p values alone are computed,
as the correction for many comparisons needs them.
"""

from __future__ import annotations

from dataclasses import replace

from outcomes.cohort import CaseSeries
from outcomes.findings.arrays import MeasureLids, all_lids
from outcomes.findings.checks import Question
from outcomes.findings.covariates import Covariates, covariates
from outcomes.findings.decision_rule import Evidence, rule
from outcomes.findings.estimates import judged_estimate
from outcomes.findings.families import MOST_FALSE_SHARE
from outcomes.findings.measure_findings import drafts
from outcomes.findings.outcomes import more_is_worse, outcomes_of, scale_of
from outcomes.findings.propensity import choose_covers
from outcomes.findings.results import Verdict
from outcomes.findings.sample import sample_of
from outcomes.findings.time_to_event.dated_events import analyse_event
from outcomes.protocol import Window
from outcomes.statistics.multiplicity import benjamini_hochberg, holm

EvidenceKey = tuple[str, str]
Evidences = dict[EvidenceKey, Evidence]


def outcome_verdicts(series: CaseSeries) -> dict[str, Verdict]:
    """The verdict of the comparison for each outcome of the sheet that has one; all times of one event have the same.

    A place is a measure with its window, or a timed event with none. Where no difference excludes none, nothing is corrected.
    """
    if not series.cases.height:
        return {}
    adjusting = covariates(series)
    evidence = {**_of_measures(series, adjusting), **_of_events(series, adjusting)}
    differ = any(each.judged is not None and each.judged.excludes_none for each in evidence.values())
    stands = _stands(series, {**_of_all_measures(series, adjusting), **evidence}) if differ else {}
    places = {item.id: (item.measure or item.timed, item.window) for item in series.protocol.told}
    return {
        name: rule(evidence[place], stands=stands.get(place, False)).verdict
        for name, place in places.items()
        if place in evidence
    }


def _of_measures(series: CaseSeries, adjusting: Covariates) -> Evidences:
    """The whole evidence on the main outcomes that are on the sheet."""
    items = [item for item in series.protocol.told if item.measure]
    asked = replace(
        series.selection,
        measures=tuple(dict.fromkeys(item.measure for item in items)),
        windows=tuple(dict.fromkeys(item.window for item in items)),
    )
    found = drafts(replace(series, selection=asked), adjusting) if items else []
    return {
        (each.finding.measure, each.finding.window): each.evidence for each in found if each.finding.outcome == "main"
    }


def _of_events(series: CaseSeries, adjusting: Covariates) -> Evidences:
    """The evidence on the timed events of the sheet, at the month at which each is compared."""
    wanted = {item.timed for item in series.protocol.told}
    choice = choose_covers(series, adjusting)
    analyses = {each.id: analyse_event(series, choice, each) for each in series.protocol.timed if each.id in wanted}
    return {
        (name, ""): draft.evidence
        for name, each in analyses.items()
        for draft in each.drafts
        if draft.evidence is not None
    }


def _of_all_measures(series: CaseSeries, adjusting: Covariates) -> Evidences:
    """What the correction needs of every main outcome in every window: its estimate and the lids of the smaller cohort."""
    every = all_lids(series)
    return {
        (of_one.measure.id, window.id): _bare_evidence(series, of_one, window, adjusting)
        for of_one in map(every.of, series.measures)
        for window in series.windows
    }


def _bare_evidence(series: CaseSeries, of_one: MeasureLids, window: Window, adjusting: Covariates) -> Evidence:
    measure, lids = of_one.measure, of_one.at(window)
    outcome, sample = outcomes_of(measure, window, series.protocol)[0], sample_of(lids, lids.seen, adjusting)
    question = Question(measure, outcome, scale_of(measure, outcome, lids.step), lids, adjusting)
    return Evidence(
        judged_estimate(question.values(lids)[lids.seen], sample, question.scale),
        fewest=sample.fewest,
        too_few=series.protocol.rules.too_few_lids,
        more_is_worse=more_is_worse(measure, outcome),
    )


def _stands(series: CaseSeries, evidence: Evidences) -> dict[EvidenceKey, bool]:
    """Which differences the correction for many comparisons leaves, planned ones and further ones apart.

    The states that come and go are further comparisons too; here they count as showing nothing, so that no more is left
    than the whole comparison leaves.
    """
    primary, alpha = series.protocol.primary_window, 1 - series.protocol.rules.confidence_level
    planned = [place for place in evidence if place[1] == primary]
    weights = [series.protocol.measure(name).weight for name, _ in planned]
    corrected = holm([evidence[place].p for place in planned], weights=weights)
    further = [place for place in evidence if place[1] != primary]
    unseen = sum(1 for timed in series.protocol.timed if timed.main_month and (timed.id, "") not in evidence)
    false_shares = benjamini_hochberg([*(evidence[place].p for place in further), *[1.0] * unseen])
    return {
        **{place: p <= alpha for place, p in zip(planned, corrected, strict=True)},
        **{place: q <= MOST_FALSE_SHARE for place, q in zip(further, false_shares, strict=False)},
    }
