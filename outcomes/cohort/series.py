"""The case series: cases assigned to cohorts and filtered step by step, with their reviews, values and events."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

import polars as pl

from outcomes.cohort.characteristics import with_characteristics
from outcomes.cohort.extracts import Frames, known_by
from outcomes.cohort.filters import Choice, Selection
from outcomes.cohort.measurements import NAMES, MeasureValues, measured_reviews, value_column, values_of_measure
from outcomes.protocol import COHORTS, Measure, Protocol, Window

LossReason = Literal[
    "other_cover", "withdrew", "filtered", "undivided", "never_measured", "missing", "not_due", "not_applicable"
]


@dataclass(frozen=True)
class Loss:
    """Lids of both cohorts together that left at one step, and why."""

    reason: LossReason
    lids: int


@dataclass(frozen=True)
class Step:
    """Lids that remain in each cohort after one step, and those that left.

    `label` is the value of a filter, or the name of the `window` at which lids were reviewed.
    """

    id: str
    grafted: int
    advanced: int
    lost: tuple[Loss, ...] = ()
    label: str = ""
    window: str = ""


@dataclass(frozen=True)
class CaseSeries:
    """The cases of the two cohorts with all that was known of them on the as-of day.

    `cases`: one row a lid, in order of case_id, with cohort, dates, the day of death and the characteristics.
    `measured`: one row a review after division at which anything was measured, with a column a measure.
    `reviews` and `events`: one row each, of these cases only. `lid` is the place of a row's case among the cases.
    """

    protocol: Protocol
    selection: Selection
    cases: pl.DataFrame
    reviews: pl.DataFrame
    measured: pl.DataFrame
    events: pl.DataFrame
    flow: tuple[Step, ...]

    @property
    def as_of(self) -> date:
        """The day the series speaks for."""
        return self.selection.as_of

    @property
    def windows(self) -> tuple[Window, ...]:
        """The windows asked for."""
        return tuple(w for w in self.protocol.windows if not self.selection.windows or w.id in self.selection.windows)

    @property
    def measures(self) -> tuple[Measure, ...]:
        """The measures asked for."""
        return tuple(
            m for m in self.protocol.measures if not self.selection.measures or m.id in self.selection.measures
        )

    def values(self, measure: str) -> MeasureValues:
        """Every value of one measure after division."""
        return values_of_measure(self.measured, measure)

    def for_measures(self, measures: tuple[str, ...]) -> CaseSeries:
        """The series with these measures and no more than their findings need, to be sent to another process."""
        asked = replace(self.selection, measures=measures)
        others = pl.exclude([value_column(each.id) for each in self.protocol.measures if each.id not in measures])
        measured, events = self.measured.select(others), self.events.select("case_id", "kind", "happened_on")
        cases = self.cases.select(_DATED)
        return replace(
            self, selection=asked, cases=cases, reviews=self.reviews.clear(), measured=measured, events=events
        )

    def for_dated_events(self) -> CaseSeries:
        """The series with no more than the analysis of dated events needs, to be sent to another process."""
        return replace(self, cases=self.cases.select(_DATED), measured=self.measured.clear())

    def without(self, patient: str) -> CaseSeries:
        """The series without the lids of one patient."""
        others = self.cases.get_column("patient_id") != patient
        lids = pl.select(pl.when(others).then(others.cum_sum() - 1)).to_series().cast(pl.UInt32)
        measured, reviews, events = (of_lids(each, "lid", lids) for each in (self.measured, self.reviews, self.events))
        return replace(self, cases=self.cases.filter(others), measured=measured, reviews=reviews, events=events)

    def cohort(self, name: str) -> pl.DataFrame:
        """The cases of one cohort."""
        return self.cases.filter(pl.col("cohort") == name)


_DATED = (
    *("case_id", "patient_id", "cohort", "cover_planned"),
    *("operated_on", "division_planned_on", "divided_on", "died_on"),
)


def assemble(frames: Frames, protocol: Protocol, selection: Selection) -> CaseSeries:
    """Make the case series: every case with its cohort, filtered step by step, each step counted."""
    selection.check_against(protocol)
    selection.check_against_codes(*(_codes(frames.reconstructions, name) for name in ("site", "surgeon")))
    events = known_by(frames.events, "happened_on", selection.as_of)
    everyone = _with_death(_with_cohort(frames, protocol, selection.as_of), events)
    cases, flow = _through_steps(everyone, selection, _withdrew(frames, protocol))
    cases = with_characteristics(cases, protocol).sort("case_id")
    kept = cases.select("case_id", "operated_on", "divided_on").with_row_index("lid")
    lids = frames.reconstructions.select("case_id").join(kept, on="case_id", how="left", maintain_order="left")
    known = pl.col("reviewed_on") <= selection.as_of
    reviews = of_lids(frames.reviews, "case", lids.get_column("lid"), known)
    measured = measured_reviews(reviews, cases, protocol)
    return CaseSeries(
        protocol,
        selection,
        cases,
        reviews.select("lid", "reviewed_on", "masked", *NAMES),
        measured,
        events.join(kept, on="case_id").sort("case_id", "happened_on", "kind"),
        (*flow, *_reviewed_steps(cases, measured)),
    )


def of_lids(frame: pl.DataFrame, place: str, lids: pl.Series, *conditions: pl.Expr) -> pl.DataFrame:
    """The rows whose place has a lid and that meet the conditions, with that lid instead of the place."""
    lid = lids.gather(frame.get_column(place)).alias("lid")
    return frame.select(lid, pl.exclude(place)).filter(lid.is_not_null(), *conditions)


def _codes(reconstructions: pl.DataFrame, name: str) -> list[str]:
    return reconstructions.get_column(name).drop_nulls().unique().sort().to_list()


def _with_cohort(frames: Frames, protocol: Protocol, as_of: date) -> pl.DataFrame:
    cohorts = {cover.id: cover.cohort for cover in protocol.covers}
    cases = known_by(frames.reconstructions, "operated_on", as_of).join(frames.patients, on="patient_id", how="left")
    divided = pl.when(pl.col("divided_on") <= as_of).then(pl.col("divided_on"))
    return cases.with_columns(
        pl.col("cover").replace_strict(cohorts, default="", return_dtype=pl.String).alias("cohort"),
        divided.alias("divided_on"),
    )


def _withdrew(frames: Frames, protocol: Protocol) -> dict[str, int]:
    """How many lids of each cohort belong to patients who have withdrawn, whenever they were operated on."""
    lids = dict.fromkeys(COHORTS, 0)
    for cover, number in frames.withdrawn.iter_rows():
        cohort = protocol.cohort_of(cover)
        if cohort in lids:
            lids[cohort] += number
    return lids


def _with_death(cases: pl.DataFrame, events: pl.DataFrame) -> pl.DataFrame:
    """Add when the patient died."""
    died = (
        events.filter(pl.col("kind") == "death").group_by("case_id").agg(pl.col("happened_on").min().alias("died_on"))
    )
    return cases.join(died, on="case_id", how="left")


def _through_steps(
    everyone: pl.DataFrame, selection: Selection, withdrew: dict[str, int]
) -> tuple[pl.DataFrame, list[Step]]:
    others = everyone.filter(~pl.col("cohort").is_in(COHORTS)).height
    cases = everyone.filter(pl.col("cohort").is_in(COHORTS))
    flow = _from_the_first(_counted("reconstructed", cases, "other_cover", others), withdrew)
    for choice in selection.choices:
        if choice.id in _FILTERS:
            cases, before = cases.filter(_FILTERS[choice.id](choice, selection)), cases.height
            step = _counted(choice.id, cases, "filtered", before - cases.height)
            flow.append(replace(step, label=", ".join(choice.values)))
    return cases, flow


def _from_the_first(first: Step, withdrew: dict[str, int]) -> list[Step]:
    """The first step, and before it, where somebody withdrew, the step from which they were left out."""
    lids = sum(withdrew.values())
    if not lids:
        return [first]
    before = {cohort: getattr(first, cohort) + withdrew[cohort] for cohort in COHORTS}
    return [
        Step("reconstructed_or_withdrawn", **before, lost=first.lost),
        Step("not_withdrawn", first.grafted, first.advanced, (Loss("withdrew", lids),)),
    ]


def _is_one_of(column: str) -> Callable[[Choice, Selection], pl.Expr]:
    return lambda choice, _: pl.col(column).is_in(list(choice.values))


_FILTERS: dict[str, Callable[[Choice, Selection], pl.Expr]] = {
    "operated_from": lambda _, selection: pl.col("operated_on") >= selection.operated_from,
    "operated_to": lambda _, selection: pl.col("operated_on") <= selection.operated_to,
    "sites": _is_one_of("site"),
    "surgeons": _is_one_of("surgeon"),
    "diagnoses": _is_one_of("diagnosis"),
}


def _reviewed_steps(cases: pl.DataFrame, measured: pl.DataFrame) -> list[Step]:
    cases = cases.select("cohort", "divided_on")  # the characteristics of all cases would be copied
    divided = cases.filter(pl.col("divided_on").is_not_null())
    reviewed = cases[measured.get_column("lid").unique()]
    undivided, unseen = cases.height - divided.height, divided.height - reviewed.height
    return [
        _counted("divided", divided, "undivided", undivided),
        _counted("measured", reviewed, "never_measured", unseen),
    ]


def _counted(step: str, cases: pl.DataFrame, reason: LossReason, lost: int) -> Step:
    cohort = cases.get_column("cohort")
    counts = {name: int((cohort == name).sum()) for name in COHORTS}
    return Step(step, counts["grafted"], counts["advanced"], (Loss(reason, lost),) if lost else ())
