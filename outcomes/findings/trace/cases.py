"""The lids behind a finding, a line of the baseline table, or a step of the flow."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import polars as pl

from outcomes.cohort import MISSING, NOT_APPLICABLE, NOT_DUE, SEEN, CaseSeries, assemble, column, read_frames, states
from outcomes.findings.trace.requests import Case, TracedCases, TraceRequest, listed, of_cohorts
from outcomes.protocol import Measure

STATUS = {"n": SEEN, "missing": MISSING, "not_due": NOT_DUE, "not_applicable": NOT_APPLICABLE, "seen": SEEN}
CLOCKS = {"findings": "division", "findings_since_operation": "operation"}
FILTERS = ("operated_from", "operated_to", "sites", "surgeons", "diagnoses")


def lids_of_finding(asked: TraceRequest) -> TracedCases:
    """The lids of one measure at one review: those seen, or those that were missing, or those with a poor result."""
    measure_id, window_id, outcome, *path = asked.rest
    measure, window, clock = asked.protocol.measure(measure_id), asked.protocol.window(window_id), CLOCKS[asked.first]
    field = asked.protocol.value_field(measure)
    said = [
        f"measure: {measure.label}. {field.definition} It is {field.says()}.",
        f"review: {window.label}, days {window.days[0]} to {window.days[1]} after {clock}",
    ]
    if outcome == "poor" or measure.main_outcome == "share":
        said.append(f"poor result: {asked.protocol.poor_words(measure)}")
    if path:
        said.append(f"part: {' '.join(path).replace('_', ' ')}")
    grid = states(asked.series, clock=clock).filter((pl.col("measure") == measure_id) & (pl.col("window") == window_id))
    last = path[-1] if path else "n"
    rows = of_cohorts(grid, asked).filter(pl.col("status") == STATUS.get(last, SEEN))
    if last == "events":
        rows = rows.filter(_poor(measure))
    on = pl.concat_str(pl.col("value"), pl.lit(" on "), pl.col("reviewed_on"))
    return said, listed(rows, pl.coalesce(on, pl.col("status")))


def _poor(measure: Measure) -> pl.Expr:
    if measure.poor is None:
        return pl.lit(value=False)
    return (
        pl.col("value") >= measure.poor.at_least
        if measure.poor.at_least is not None
        else pl.col("value") <= measure.poor.at_most
    )


def lids_followed(asked: TraceRequest) -> TracedCases:
    """The lids of a cohort that were seen, missing, not yet due or not applicable at one review."""
    window_id, *path = asked.rest
    grid = of_cohorts(states(asked.series).filter(pl.col("window") == window_id), asked)
    by_case = grid.group_by("case_id", "cohort").agg(
        (pl.col("status") == SEEN).any().alias("any"),
        pl.col("status").filter(pl.col("status") != SEEN).first().alias("otherwise"),
    )
    status = pl.when(pl.col("any")).then(pl.lit(SEEN)).otherwise(pl.col("otherwise"))
    wanted = STATUS[path[-1]]
    said = [f"lids at {asked.protocol.window(window_id).label}, for any measure: {wanted}"]
    return said, listed(by_case.filter(status == wanted))


def lids_of_balance(asked: TraceRequest) -> TracedCases:
    """The lids of one line of the baseline table, with what is known of each."""
    number, *path = asked.rest
    line = asked.tree["balance"][int(number)]
    each = asked.protocol.characteristic(line["field"])
    rows = of_cohorts(asked.series.cases.with_columns(pl.col(column(each)).alias("known")), asked)
    if path and path[-1].endswith("missing"):
        return [f"characteristic: {each.label}, not recorded"], listed(rows.filter(pl.col("known").is_null()))
    rows = rows.filter(pl.col("known").is_not_null())
    counted = path and path[-1] in asked.cohorts
    if line["level"] and each.levels_of and counted and line["level"] in rows.get_column("known").to_list():
        rows = rows.filter(pl.col("known") == line["level"])
    if line["level"] == "yes" and counted:
        rows = rows.filter(pl.col("known") == 1)
    return [f"characteristic: {each.label} {line['level']}".rstrip()], listed(rows, pl.col("known"))


def lids_of_cohort(asked: TraceRequest) -> TracedCases:
    """The lids of one cohort as a whole."""
    part = asked.rest[0] if asked.rest else "cases"
    cases = asked.series.cohort(asked.first)
    if part == "divided":
        cases = cases.filter(pl.col("divided_on").is_not_null())
    what = pl.col("patient_id") if part == "patients" else None
    return [f"{asked.first} lids as a whole: {part.replace('_', ' ')}"], listed(cases, what)


def lids_at_step(asked: TraceRequest) -> TracedCases:
    """The lids that remain at one step of the flow."""
    return remaining(asked, asked.tree["flow"][int(asked.rest[0])])


def remaining(asked: TraceRequest, step: dict[str, Any]) -> TracedCases:
    """The lids that remain at a step of the flow, as comparison.json holds it."""
    if step["window"]:
        return lids_followed(replace(asked, rest=(step["window"], *asked.cohorts, "seen")))
    cases = _cases_at(asked, step["id"])
    if step["id"] == "divided":
        cases = cases.filter(pl.col("divided_on").is_not_null())
    if step["id"] == "measured":
        measured = asked.series.cases.get_column("case_id").gather(asked.series.measured.get_column("lid").unique())
        cases = cases.filter(pl.col("divided_on").is_not_null() & pl.col("case_id").is_in(measured.implode()))
    return [f"lids that remain at the step: {_name(step)} (those of patients who withdrew are not listed)"], listed(
        of_cohorts(cases, asked)
    )


def _name(step: dict[str, Any]) -> str:
    return " ".join(part for part in (step["id"].replace("_", " "), step["label"]) if part)


def _cases_at(asked: TraceRequest, step: str) -> pl.DataFrame:
    """The cases with only those filters that come before the step, or at it."""
    series, selection = asked.series, asked.series.selection
    used = [name for name in FILTERS if getattr(selection, name)]
    if step in {"divided", "measured"}:
        return series.cases
    at = used.index(step) + 1 if step in used else 0
    dropped: dict[str, object] = {name: None if name.startswith("operated") else () for name in used[at:]}
    return _again(asked, dropped).cases


def _again(asked: TraceRequest, dropped: dict[str, object]) -> CaseSeries:
    selection = replace(asked.series.selection, **dropped)  # type: ignore[arg-type]
    return assemble(read_frames(asked.register, asked.protocol), asked.protocol, selection)


def lids_analysed(asked: TraceRequest) -> TracedCases:
    """The lids analysed for one main measure in the primary window."""
    measure = asked.tree["congress"]["analysed"][int(asked.rest[1])]["id"]
    rest = (measure, asked.protocol.primary_window, "main", *asked.cohorts, "n")
    return lids_of_finding(replace(asked, first="findings", rest=rest))


def lids_left(asked: TraceRequest) -> TracedCases:
    """The lids that left at a step, and why."""
    stages = asked.tree["congress"]["stages"]
    number = int(asked.rest[1])
    said, here = remaining(asked, stages[number])
    if len(asked.rest) < len(("stages", "number", "lost", "number", "cohort")):
        return said, here
    reason, window = stages[number]["lost"][int(asked.rest[3])]["reason"], stages[number]["window"]
    if window:
        return lids_followed(replace(asked, rest=(window, *asked.cohorts, reason)))
    _, before = remaining(asked, stages[number - 1])
    stayed = {case.case for case in here}
    return [f"lids that left at the step: {_name(stages[number])}; {reason.replace('_', ' ')}"], [
        Case(case.case, case.cohort, case.what) for case in before if case.case not in stayed
    ]
