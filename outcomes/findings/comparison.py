"""The whole comparison of grafted with advanced lids for one case series."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import replace

from outcomes.cohort import CaseSeries, Loss, LossReason
from outcomes.findings.arrays import Lids, lid_cube
from outcomes.findings.balance import balance
from outcomes.findings.estimable import estimable
from outcomes.findings.families import correct_families, is_primary, with_readings
from outcomes.findings.follow_up import followed_by_window, followed_cases, group
from outcomes.findings.masking import measures_masking_tells, with_masking
from outcomes.findings.measure_findings import Compared, compare_shares, compare_values
from outcomes.findings.propensity import CoverChoice, choose_covers
from outcomes.findings.results import Clock, Comparison, Finding, FlowStep, Outcome, Share, Stamp, WindowFollowed
from outcomes.findings.time_to_event.analysis import timing
from outcomes.findings.warnings import cautions
from outcomes.parallel import OneByOne
from outcomes.protocol import COHORTS, Measure, Window
from outcomes.statistics.power import detectable_difference

Progress = Callable[[str], None]
Place = tuple[Measure, Window, Clock]
NOT_REVIEWED: tuple[LossReason, ...] = ("missing", "not_due", "not_applicable")


def compare(
    series: CaseSeries, stamp: Stamp, *, progress: Progress | None = None, elsewhere: Executor | None = None
) -> Comparison:
    """Answer the whole comparison for one case series; the same series and software give the same numbers.

    Half of the work is asked of `elsewhere`, if given: other processes, which give the same numbers sooner.
    """
    tell, others = progress or _silent, elsewhere or OneByOne()
    tell("how the covers were chosen")
    choice = choose_covers(series)
    asked = others.submit(_findings, series, choice, "operation"), others.submit(timing, series, choice)
    tell("lids by time since division")
    found = _findings(series, choice, "division")
    tell("lids by time since operation")
    since_operation = asked[0].result()
    tell("when things happened")
    timed = asked[1].result()
    tell("what may be said")
    found, tests = correct_families(with_masking(series, found), timed.tests)
    told = measures_masking_tells(found)
    findings = _beside(with_readings(series, choice, found, told), _other_clock(series, choice, since_operation, told))
    windows, groups = followed_by_window(series), (group(series, "grafted"), group(series, "advanced"))
    return Comparison(
        stamp=stamp,
        grafted=groups[0],
        advanced=groups[1],
        flow=_flow(series, windows),
        balance=balance(series, choice),
        adjustment=choice.adjustment,
        findings=findings,
        timing=timed.read(series, choice, tests, told),
        curves=timed.curves,
        means=timed.means,
        followed=followed_cases(series),
        followed_by_window=windows,
        warnings=cautions(series, choice, findings, groups),
    )


def _silent(step: str) -> None:
    """Say nothing of the progress."""


def _findings(series: CaseSeries, choice: CoverChoice, clock: Clock) -> list[Finding]:
    if not series.measures or not series.windows or not series.cases.height:
        return []
    cube = lid_cube(series, clock=clock)
    places: list[Place] = [(measure, window, clock) for measure in series.measures for window in series.windows]
    return [
        finding for place in places for finding in _of_one(series, choice, cube.at(place[0].id, place[1].id), place)
    ]


def _of_one(series: CaseSeries, choice: CoverChoice, lids: Lids, place: Place) -> list[Finding]:
    """The share and the value of one measure in one window; of a yes or no with a rule the share says it all."""
    measure, window, _ = place
    findings = []
    if measure.poor is not None and series.protocol.judges(measure, window):
        compared = compare_shares(lids, measure.poor, choice, series.protocol.rules.confidence_level)
        findings.append(_finding(series, choice, place, compared))
    if not findings or series.protocol.value_field(measure).kind != "yes_no":
        findings.append(_finding(series, choice, place, compare_values(lids, measure, series.protocol, choice)))
    return findings


def _finding(series: CaseSeries, choice: CoverChoice, place: Place, compared: Compared) -> Finding:
    measure, window, clock = place
    outcome: Outcome = "poor" if isinstance(compared.grafted, Share) else "value"
    return Finding(
        measure.id,
        window.id,
        outcome,
        clock,
        compared.grafted,
        compared.advanced,
        compared.contrast,
        compared.adjusted,
        compared.if_missing,
        "too few to say",
        clock == "division" and is_primary(series.protocol, measure.id, window.id, outcome),
        _detectable(series, compared),
        compared.last_known,
        compared.as_planned,
        note=_note(compared, choice, measure, window),
    )


def _detectable(series: CaseSeries, compared: Compared) -> float | None:
    """The difference of shares that these numbers had 80 % power to show, from the grafted share as it was seen."""
    grafted, advanced = compared.grafted, compared.advanced
    if not isinstance(grafted, Share) or grafted.proportion is None or not advanced.n:
        return None
    return estimable(
        detectable_difference(grafted.n, advanced.n, baseline=grafted.proportion, power=series.protocol.rules.power)
    )


def _note(compared: Compared, choice: CoverChoice, measure: Measure, window: Window) -> str:
    """Why numbers are missing from a finding; empty when none is."""
    none = [name for name, side in (("grafted", compared.grafted), ("advanced", compared.advanced)) if side.n == 0]
    if len(none) > 1:
        return f"no {measure.label.lower()} was recorded in the window {window.label}: nothing can be estimated"
    if none:
        return (
            f"no {none[0]} lid has {measure.label.lower()} in the window {window.label}: no difference can be estimated"
        )
    notes = []
    if compared.contrast.low is None:
        notes.append("the values are all equal, or too few, for an interval of the shift")
    if compared.adjusted is None:
        notes.append(f"not adjusted: {choice.adjustment.note}")
    elif compared.adjusted.low is None:
        notes.append("the adjusted contrast has no interval")
    return "; ".join(notes)


def _other_clock(
    series: CaseSeries, choice: CoverChoice, findings: list[Finding], masking_tells: frozenset[str]
) -> list[Finding]:
    """Read the findings on the clock of operation, which only ask whether the clock matters.

    They are corrected just as those on the clock of division, in families of their own: else a reading could differ because
    of the size of its family alone.
    """
    protocol = series.protocol
    mirrored = [replace(f, primary=is_primary(protocol, f.measure, f.window, f.outcome)) for f in findings]
    done, _ = correct_families(mirrored, {})
    return with_readings(series, choice, [replace(finding, primary=False) for finding in done], masking_tells)


def _beside(findings: list[Finding], other: list[Finding]) -> tuple[Finding, ...]:
    """Put beside each finding the same contrast on the other clock."""
    by_key = {(f.measure, f.window, f.outcome): f.contrast for f in other}
    done = [replace(f, since_operation=by_key.get((f.measure, f.window, f.outcome))) for f in findings]
    return (*done, *other)


def _flow(series: CaseSeries, windows: tuple[WindowFollowed, ...]) -> tuple[FlowStep, ...]:
    steps = list(series.flow)
    for window in series.windows:
        reviewed = {each.cohort: each for each in windows if each.window == window.id}
        counts = ((reason, sum(getattr(each, reason) for each in reviewed.values())) for reason in NOT_REVIEWED)
        lost = tuple(Loss(reason, number) for reason, number in counts if number)
        grafted, advanced = (reviewed[cohort].seen for cohort in COHORTS)
        steps.append(FlowStep("reviewed", grafted, advanced, lost, window.label, window.id))
    return tuple(steps)
