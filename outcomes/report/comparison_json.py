"""comparison.json: the whole comparison as a tree of plain values.

The contract (format 2): signs are advanced minus grafted, but for the win probability; shares are 0 to 1; what cannot be
estimated is null with a reason in `note`. Further keys hold what else the report shows, so that every number on the page is a
number of the file. A further key that is not there does not apply: the permutation p is exact and has no Monte Carlo error, no
check was made; the protocol lacks no key of the present one.
"""

from __future__ import annotations

import json
from dataclasses import fields, is_dataclass
from datetime import date
from typing import Any

from outcomes.findings.days_shut import CohortDaysShut, DaysShut
from outcomes.findings.results import (
    Adjusted,
    Adjustment,
    BalanceLine,
    Comparison,
    Finding,
    FlowStep,
    Group,
    Mean,
    Share,
    Stamp,
    TimedFinding,
    Unseen,
    Values,
)
from outcomes.report.finding_words import left_out_words, note_words, why_not_adjusted
from outcomes.report.flow_words import loss_words, step_words
from outcomes.report.stamp import chosen_words
from outcomes.report.warning_words import caution_words

FORMAT = 2
DAYS = ("median", "q1", "q3", "planned")
INTERVAL = ("estimate", "low", "high")
Tree = dict[str, Any]


def document_text(comparison: Comparison) -> str:
    """The whole comparison as JSON text, the same byte for byte for the same comparison."""
    return json.dumps(document(comparison), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def document(comparison: Comparison) -> Tree:
    """The whole comparison as a plain tree, with every key of the contract."""
    why = why_not_adjusted(comparison.adjustment)
    return {
        "format": FORMAT,
        "register": _stamp(comparison.stamp),
        "level": comparison.level,
        "cohorts": {"grafted": _group(comparison.grafted), "advanced": _group(comparison.advanced)},
        "flow": [_step(step) for step in comparison.flow],
        "balance": [_line(line, why) for line in comparison.balance],
        "adjustment": _adjustment(comparison.adjustment),
        "families": [_plain(family) for family in comparison.families],
        "learning": [_plain(course, *INTERVAL) for course in comparison.learning],
        "surgeons": [_plain(each, *INTERVAL) for each in comparison.surgeons],
        "calendar": [_plain(trend, *INTERVAL) for trend in comparison.calendar],
        "findings": [_finding(finding) for finding in comparison.findings],
        "timing": [_timed(finding) for finding in comparison.timing],
        "days_shut": _days_shut(comparison.days_shut),
        "means": [_mean(mean) for mean in comparison.means],
        "curves": [_plain(curve) for curve in comparison.curves],
        "followed_by_window": [_plain(each) for each in comparison.followed_by_window],
        "warnings": [{"code": each.code, "text": caution_words(each)} for each in comparison.warnings],
        "queries": list(comparison.queries),
    }


def _stamp(stamp: Stamp) -> Tree:
    tree: Tree = _plain(stamp)
    del tree["suppressed_below"]
    if not stamp.protocol_lacks:
        del tree["protocol_lacks"]
    return {**tree, "selection": list(chosen_words(stamp))}


def _step(step: FlowStep) -> Tree:
    return {
        "id": step.id,
        "window": step.window,
        "label": step.label,
        "step": step_words(step),
        "grafted": step.grafted,
        "advanced": step.advanced,
        "why": loss_words(step),
    }


def _group(group: Group) -> Tree:
    """One cohort; of an empty one, or of one not followed to half-way, the note says what is not known."""
    note = ""
    if group.divided is None or group.patients is None:
        note = "a count that could point at a person is left out of public output"
    elif not group.divided:
        note = "no lid was divided, so that nobody's follow-up has begun"
    elif group.followup_completeness is None:
        note = "no day of follow-up was due yet"
    elif group.median_followup_months is None:
        note = "too few lids were followed to half-way for a median"
    contract = ("patients", "divided", "median_followup_months", "followup_completeness")
    return {**_plain(group, *contract), "note": note}


def _days_shut(days: DaysShut | None) -> Tree:
    """The days with the eye shut; left out of public output, where few early divisions could point at a person."""
    if days is None:
        return {"grafted": None, "advanced": None, "note": "left out of public output"}
    return {"grafted": _days(days.grafted), "advanced": _days(days.advanced)}


def _days(days: CohortDaysShut) -> Tree:
    note = "" if days.planned is not None else "no planned day of division was recorded of a divided lid"
    return {**_plain(days, *DAYS), "note": note if days.n else "no lid was divided"}


def _line(line: BalanceLine, not_adjusted: str) -> Tree:
    """One line of the baseline table; without a reason of its own it has the one for which nothing was adjusted."""
    tree: Tree = _plain(line, "grafted", "advanced", "smd", "smd_adjusted")
    if not line.note and line.smd_adjusted is None:
        tree["note"] = f"not adjusted: {not_adjusted}"
    return tree


def _adjustment(adjustment: Adjustment) -> Tree:
    tree: Tree = _plain(adjustment)
    return {
        **tree,
        "left_out": [left_out_words(each) for each in adjustment.left_out],
        "note": why_not_adjusted(adjustment),
    }


def _finding(finding: Finding) -> Tree:
    return {
        "measure": finding.measure,
        "window": finding.window,
        "outcome": finding.outcome,
        "clock": finding.clock,
        "grafted": _side(finding.grafted),
        "advanced": _side(finding.advanced),
        "contrast": _plain(finding.contrast, *INTERVAL, "p", "permutation_p"),
        "adjusted": _adjusted(finding.adjusted),
        "verdict": finding.verdict,
        "important_difference": finding.important_difference,
        "could_find": finding.could_find,
        **({} if finding.lids_needed is None else {"lids_needed": finding.lids_needed}),
        "unseen": _unseen(finding.unseen),
        "checks": [_plain(check, *INTERVAL) for check in finding.checks],
        **({"unchecked": _plain(finding.unchecked)} if finding.unchecked else {}),
        "family": finding.family,
        "q": finding.q,
        "withheld": finding.withheld,
        "note": note_words(finding.notes),
        "notes": [note.id for note in finding.notes],
    }


def _adjusted(adjusted: Adjusted | None) -> Tree | None:
    return None if adjusted is None else _plain(adjusted, *INTERVAL, "p", "p_corrected")


UNSEEN = ("tipping_lids", "tipping_share", "seen_share", "tipping_shift", "as_other_cohort")


def _unseen(unseen: Unseen) -> Tree:
    worst = None if unseen.worst_case is None else _plain(unseen.worst_case, "low", "high")
    return {**_plain(unseen, *UNSEEN), "worst_case": worst}


def _side(side: Share | Values) -> Tree:
    numbers = (
        ("events", "proportion", "low", "high") if isinstance(side, Share) else ("mean", "sd", "median", "q1", "q3")
    )
    due = None if side.missing is None else side.due
    tree: Tree = {"n": _plain(side.n), "due": due, **_plain(side, "missing", *numbers)}
    if isinstance(side, Values):
        tree["counts"] = [{"value": value, "lids": number} for value, number in side.counts]
    return tree


def _timed(finding: TimedFinding) -> Tree:
    tree: Tree = {
        "event": finding.event,
        "method": finding.method,
        "clock": finding.clock,
        "at_months": finding.at_months,
        "grafted": _plain(finding.grafted, *INTERVAL, "events"),
        "advanced": _plain(finding.advanced, *INTERVAL, "events"),
        "contrast": _plain(finding.contrast, *INTERVAL, "p"),
        "adjusted": None if finding.adjusted is None else _plain(finding.adjusted, *INTERVAL, "p"),
        "p_curve": None if finding.p_curve is None else {key: _plain(getattr(finding.p_curve, key)) for key in CURVE},
        "q": finding.q,
        "verdict": finding.verdict,
        "unseen": _unseen(finding.unseen),
        "withheld": finding.withheld,
        "note": note_words(finding.notes),
        "notes": [note.id for note in finding.notes],
    }
    for name in ("as_planned", "in_state"):
        if (part := getattr(finding, name)) is not None:
            tree[name] = _plain(part, *INTERVAL)
    return tree


CURVE = ("p", "exact", "monte_carlo_error")


def _mean(mean: Mean) -> Tree:
    tree: Tree = _plain(mean, "until", "grafted", "advanced")
    del tree["notes"]
    return {**tree, "contrast": _plain(mean.contrast, *INTERVAL), "note": note_words(mean.notes)}


def _plain(thing: object, *contract: str) -> Any:  # noqa: ANN401 - any part of a tree
    """Any part as a plain tree: a key of the contract stays when it is null, any other is left out."""
    if is_dataclass(thing) and not isinstance(thing, type):
        known = {each.name: getattr(thing, each.name) for each in fields(thing)}
        return {key: _plain(value) for key, value in known.items() if value is not None or key in contract}
    if isinstance(thing, dict):
        return {str(key): _plain(value) for key, value in thing.items()}
    if isinstance(thing, list | tuple):
        return [_plain(each) for each in thing]
    return thing.isoformat() if isinstance(thing, date) else thing
