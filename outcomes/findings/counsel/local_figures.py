"""Local figures for one patient: all counts of the sheet, from one case series."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from types import MappingProxyType

from outcomes.cohort import DAYS_IN_MONTH, CaseSeries, Register, Selection, assemble, followed, read_frames
from outcomes.findings.counsel.durations import duration_figures, without_durations_used
from outcomes.findings.counsel.matching import groups_for
from outcomes.findings.counsel.outcome_figures import (
    outcome_figures,
    published_figure,
    without_figures_used,
)
from outcomes.findings.counsel.patient import NOBODY, PatientValues, cover_order, features, patient_of_case
from outcomes.findings.counsel.ranges import observed_ranges, out_of_range
from outcomes.findings.counsel.results import Basis, Counsel, LikeGroup, OutcomeFigures
from outcomes.findings.counsel.warnings import counsel_cautions, covers_differ
from outcomes.findings.disclosure.leaflet import public_leaflet
from outcomes.findings.estimable import estimable
from outcomes.findings.results import Stamp, Verdict
from outcomes.protocol import CounselItem, Protocol, Value
from outcomes.statistics.kaplan_meier import median_follow_up

NO_VERDICTS: Mapping[str, Verdict] = MappingProxyType({})


def read_for_counsel(
    register: Register, protocol: Protocol, *, as_of: date, case: str = ""
) -> tuple[CaseSeries, PatientValues]:
    """Read the register once: the case series, and the values of the case; raises DataRefused for no such case."""
    frames = read_frames(register, protocol)
    values = patient_of_case(frames, case) if case else NOBODY
    return assemble(frames, protocol, Selection(as_of)), values


def local_figures(
    series: CaseSeries,
    values: PatientValues,
    stamp: Stamp,
    *,
    public: bool = False,
    verdicts: Mapping[str, Verdict] = NO_VERDICTS,
) -> Counsel:
    """Give all local figures for one patient, leaving out the patient's own lids; or, in public, for nobody in particular.

    `verdicts` are those of the comparison, by the outcome of the sheet.
    """
    protocol = series.protocol
    others, asked = series.without(values.patient), NOBODY if public else values
    patient = features(asked, protocol)
    observed = observed_ranges(others, patient)
    outside = out_of_range(observed, protocol)
    withheld = any(each.withholds for each in outside)
    groups = () if withheld else groups_for(protocol, patient)
    outcomes, common = _outcomes(others, groups, patient)
    durations = tuple(duration_figures(others, item, common) for item in protocol.told if item.characteristic)
    missing = any(side.missing for each in outcomes for side in (each.grafted, each.advanced))
    if withheld:
        outcomes, durations = without_figures_used(outcomes), without_durations_used(durations)
    found = Counsel(
        stamp=stamp,
        public=public,
        order=cover_order(asked, stamp.digest),
        withheld=withheld,
        outcomes=tuple(replace(each, verdict=verdicts.get(each.id)) for each in outcomes),
        durations=durations,
        observed=observed,
        outside=outside,
        basis=_basis(others),
        covers_differ=bool(covers_differ(others)),
        cautions=counsel_cautions(others, outcomes, observed),
        published=tuple(published_figure(each) for each in protocol.published),
        left_out_lids=series.cases.height - others.cases.height,
        somebody_missing=missing,
        fewest_lids=protocol.counsel.fewest_lids,
    )
    return public_leaflet(found, others) if public else found


def _outcomes(
    series: CaseSeries, groups: tuple[LikeGroup, ...], patient: Mapping[str, Value]
) -> tuple[tuple[OutcomeFigures, ...], tuple[LikeGroup, ...]]:
    """Every outcome, and the rules from the one that they have in common on.

    All outcomes that lids like the patient's can give count lids of one rule, the narrowest that has enough for each of
    them. Several times of one event count the same lids, so that no count falls with time.
    """
    items = [item for item in series.protocol.told if not item.characteristic]
    narrowest = {item.id: outcome_figures(series, item, groups, patient) for item in items}
    place = {item.id: max(_place(narrowest[same], groups) for same in _same_event(item, items)) for item in items}
    common = max((each for each in place.values() if each < len(groups)), default=0)
    figures = [
        narrowest[item.id]
        if _place(narrowest[item.id], groups) == max(place[item.id], common)
        else outcome_figures(series, item, groups[max(place[item.id], common) :], patient)
        for item in items
    ]
    return tuple(figures), groups[common:]


def _same_event(item: CounselItem, items: list[CounselItem]) -> list[str]:
    return [other.id for other in items if other is item or (item.timed and other.timed == item.timed)]


def _place(figures: OutcomeFigures, groups: tuple[LikeGroup, ...]) -> int:
    """How far the rules had to be relaxed for these figures; past the last one where all lids are counted."""
    return len(groups) if figures.group is None else groups.index(figures.group)


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
