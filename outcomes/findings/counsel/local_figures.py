"""Local figures for one patient: all counts of the sheet, from one case series."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import polars as pl

from outcomes.cohort import DAYS_IN_MONTH, CaseSeries, Register, Selection, assemble, column, followed, read_frames
from outcomes.findings.counsel.durations import duration_figures
from outcomes.findings.counsel.matching import groups_for, in_parts
from outcomes.findings.counsel.outcome_figures import COVERS, outcome_figures, published_figure, without_small_counts
from outcomes.findings.counsel.patient import NOBODY, PatientValues, features, patient_of_case
from outcomes.findings.counsel.results import Basis, Counsel, LikeGroup, ObservedRange, OutcomeFigures, OutOfRange
from outcomes.findings.counsel.warnings import counsel_cautions, covers_differ
from outcomes.findings.estimable import estimable
from outcomes.findings.results import Stamp
from outcomes.protocol import Protocol, Value
from outcomes.statistics.kaplan_meier import median_follow_up


def read_for_counsel(
    register: Register, protocol: Protocol, *, as_of: date, case: str = ""
) -> tuple[CaseSeries, PatientValues]:
    """Read the register once: the case series, and the values of the case; raises DataRefused for no such case."""
    frames = read_frames(register, protocol)
    values = patient_of_case(frames, case) if case else NOBODY
    return assemble(frames, protocol, Selection(as_of)), values


def local_figures(series: CaseSeries, values: PatientValues, stamp: Stamp, *, public: bool = False) -> Counsel:
    """Give all local figures for one patient, leaving out the patient's own lids; or, in public, for nobody in particular."""
    others = _without(series, values.patient)
    patient = features(NOBODY if public else values, series.protocol)
    observed = _observed(others, patient)
    outside = _outside(observed, series.protocol)
    groups = _groups(series.protocol, patient, outside)
    outcomes = _outcomes(others, groups, patient)
    missing = any(side.missing for each in outcomes for side in (each.grafted, each.advanced))
    if public:
        outcomes = without_small_counts(outcomes, series.protocol.rules.public_threshold)
    return Counsel(
        stamp=stamp,
        public=public,
        outcomes=outcomes,
        durations=tuple(duration_figures(others, each, groups) for each in series.protocol.told if each.characteristic),
        observed=observed,
        outside=outside,
        basis=_basis(others),
        covers_differ=bool(covers_differ(others)),
        cautions=counsel_cautions(others, outcomes, observed),
        published=tuple(published_figure(each) for each in series.protocol.published),
        left_out_lids=series.cases.height - others.cases.height,
        somebody_missing=missing,
        fewest_lids=series.protocol.counsel.fewest_lids,
    )


def _outcomes(
    series: CaseSeries, groups: tuple[LikeGroup, ...], patient: Mapping[str, Value]
) -> tuple[OutcomeFigures, ...]:
    """Tell every result; several times of one event are outcomes of the same lids, so that none seems to go down with time."""
    items = [each for each in series.protocol.told if not each.characteristic]
    answers = {each.id: outcome_figures(series, each, groups, patient) for each in items}
    place = {each.id: _place(answers[each.id], groups) for each in items}
    for each in items:
        widest = max(
            place[other.id] for other in items if other.id == each.id or (each.timed and other.timed == each.timed)
        )
        if place[each.id] < widest:
            answers[each.id] = outcome_figures(series, each, groups[widest:], patient)
    return tuple(answers[each.id] for each in items)


def _place(answer: OutcomeFigures, groups: tuple[LikeGroup, ...]) -> int:
    """How far the rules had to be relaxed for this answer; past the last one when it counts all lids."""
    return len(groups) if answer.group is None else groups.index(answer.group)


def _without(series: CaseSeries, patient: str) -> CaseSeries:
    """The series without the lids of one patient."""
    cases = series.cases.filter(pl.col("patient_id") != patient)
    kept = cases.select("case_id")
    parts = {
        name: getattr(series, name).join(kept, on="case_id", how="semi") for name in ("reviews", "values", "events")
    }
    return replace(series, cases=cases, **parts)


def _observed(series: CaseSeries, patient: Mapping[str, Value]) -> tuple[ObservedRange, ...]:
    """The patient's values beside the range of each cover, where enough lids have the value recorded."""
    observed = []
    for name in series.protocol.counsel.ranges:
        value = patient[name]
        for cohort in COVERS if value is not None else ():
            known = series.cohort(cohort).get_column(column(series.protocol.characteristic(name))).drop_nulls()
            if known.len() < series.protocol.counsel.fewest_lids:
                continue
            low, high = float(known.min()), float(known.max())  # type: ignore[arg-type]
            number = float(value)  # type: ignore[arg-type]
            observed.append(ObservedRange(name, number, cohort, known.len(), low, high, not low <= number <= high))
    return tuple(observed)


def _outside(observed: tuple[ObservedRange, ...], protocol: Protocol) -> tuple[OutOfRange, ...]:
    """Where the patient lies outside what was observed: said once when that is so with both covers."""
    out_of_range = []
    for name in dict.fromkeys(each.characteristic for each in observed if each.outside):
        ranges = [each for each in observed if each.characteristic == name]
        out = [each for each in ranges if each.outside]
        parts = [out] if len(out) == len(ranges) else [[each] for each in out]
        for part in parts:
            low, high = (
                in_parts(protocol.characteristic(name), end)
                for end in (min(e.low for e in part), max(e.high for e in part))
            )
            out_of_range.append(OutOfRange(name, "both" if len(part) > 1 else part[0].cohort, low, high))
    return tuple(out_of_range)


def _groups(protocol: Protocol, patient: Mapping[str, Value], outside: tuple[OutOfRange, ...]) -> tuple[LikeGroup, ...]:
    """The rules of likeness; none when nobody was like the patient in something that the rules look at."""
    looked_at = {name for rule in protocol.likeness for name, _ in rule.within}
    return () if looked_at & {each.characteristic for each in outside} else groups_for(protocol, patient)


def _basis(series: CaseSeries) -> Basis:
    operated = series.cases.get_column("operated_on")
    return Basis(
        lids=series.cases.height,
        patients=series.cases.get_column("patient_id").n_unique(),
        grafted=series.cohort("grafted").height,
        advanced=series.cohort("advanced").height,
        first=operated.min(),  # type: ignore[arg-type]
        last=operated.max(),  # type: ignore[arg-type]
        median_followup_months=_median_followup_months(series),
    )


def _median_followup_months(series: CaseSeries) -> float | None:
    length = followed(series)
    if length.height < series.protocol.counsel.fewest_lids:
        return None
    days, died = length.get_column("observed").to_numpy(), length.get_column("died").to_numpy()
    return estimable(median_follow_up(time=days / DAYS_IN_MONTH, event=died).estimate)
