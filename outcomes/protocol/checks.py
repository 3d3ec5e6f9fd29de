"""Cross-reference checks of a protocol: limits, windows, covers, events, main outcomes, and what each entry points to."""

from __future__ import annotations

from itertools import pairwise

from outcomes.protocol.counsel_checks import counsel_faults
from outcomes.protocol.entries import Measure
from outcomes.protocol.fault import Fault
from outcomes.protocol.protocol import Protocol
from outcomes.protocol.structure import missing_structure, structure_faults
from outcomes.protocol.synonyms import synonym_faults


def check_protocol(protocol: Protocol) -> list[Fault]:
    """Every fault of the first group of checks that finds any: each group relies on those before it."""
    groups = (
        (missing_structure,),
        (
            _field_faults,
            structure_faults,
            _measure_faults,
            _window_faults,
            _timed_faults,
            _reference_faults,
        ),
        (_outcome_faults, _captured_faults, synonym_faults, counsel_faults),
    )
    for group in groups:
        faults = [fault for check in group for fault in check(protocol)]
        if faults:
            return faults
    return []


def _field_faults(protocol: Protocol) -> list[Fault]:
    faults = []
    for field in protocol.fields:
        if field.observed and field.sheet != "reviews":
            faults.append(Fault("fields", field.id, "observed", "only fields of the sheet reviews are observed"))
        if field.observed and field.kind not in {"number", "grade", "yes_no"}:
            faults.append(Fault("fields", field.id, "kind", "an observed field is a number, a grade or yes_no"))
        if field.kind == "choice" and not field.values:
            faults.append(Fault("fields", field.id, "values", "a choice needs its list of words"))
        if field.low is not None and field.high is not None and field.low >= field.high:
            faults.append(Fault("fields", field.id, "low", f"low ({field.low:g}) must lie under high ({field.high:g})"))
        if field.kind in {"number", "acuity"} and (field.low is None or field.high is None):
            faults.append(Fault("fields", field.id, "", "a number needs low and high"))
        if field.kind == "year" and field.low is None:
            faults.append(Fault("fields", field.id, "", "a year needs low, the earliest that can be right"))
    return faults


def _measure_faults(protocol: Protocol) -> list[Fault]:
    observed = {field.id for field in protocol.observed}
    windows = {window.id for window in protocol.windows}
    faults: list[Fault] = []
    for measure in protocol.measures:
        named = [("field", measure.field), ("computed", measure.operated), ("computed", measure.fellow)]
        faults.extend(
            Fault("measures", measure.id, key, f'"{name}" is not an observed field of the sheet reviews')
            for key, name in named
            if name and name not in observed
        )
        if not measure.field and not measure.operated:
            faults.append(Fault("measures", measure.id, "field", "needs a field, or computed"))
        if measure.poor_from and measure.poor_from not in windows:
            faults.append(
                Fault("measures", measure.id, "poor_from", "must be one of the windows " + ", ".join(windows))
            )
    return faults


def _outcome_faults(protocol: Protocol) -> list[Fault]:
    return [
        Fault("measures", measure.id, key, what)
        for measure in protocol.measures
        for key, what in _outcome_problems(protocol, measure)
    ]


def _outcome_problems(protocol: Protocol, measure: Measure) -> list[tuple[str, str]]:
    """What is wrong with the main outcome of a measure, as pairs of a key and a sentence."""
    problems = []
    if measure.main_outcome == "share" and measure.poor is None:
        problems.append(("main_outcome", "a share needs to know which results are poor: give the key poor"))
    elif measure.main_outcome == "mean" and protocol.value_field(measure).kind == "yes_no":
        problems.append(("main_outcome", 'a yes or no is compared as a "share"'))
    if measure.after_revision == "poor" and measure.poor is None:
        problems.append(("after_revision", "nothing is poor without the key poor"))
    return [*problems, *_importance_problems(protocol, measure)]


def _importance_problems(protocol: Protocol, measure: Measure) -> list[tuple[str, str]]:
    if measure.important_difference is None:
        return []
    problems = []
    low, high = protocol.limits(measure)
    if measure.main_outcome == "share":
        fits, allowed = 1 <= measure.important_difference <= 100, "from 1 to 100 percentage points"
    else:
        fits = 0 < measure.important_difference <= high - low
        allowed = f"over 0 and at most {high - low:g} {protocol.value_field(measure).unit}".rstrip()
    if not fits:
        problems.append(("important_difference", f"must be {allowed}"))
    if not measure.important_reason:
        problems.append(("important_difference", "say why in important_reason, before anyone looks at the results"))
    return problems


def _captured_faults(protocol: Protocol) -> list[Fault]:
    kinds = protocol.field("events", "kind").values
    return [
        Fault("captured", "", kind, "is not a kind of event; known: " + ", ".join(kinds))
        for kind, _ in protocol.captured
        if kind not in kinds
    ]


def _window_faults(protocol: Protocol) -> list[Fault]:
    faults = [
        Fault("windows", window.id, "days", "must be [first, last] with the nominal day between")
        for window in protocol.windows
        if not window.days[0] <= window.nominal_days <= window.days[1]
    ]
    faults = faults or [
        Fault("windows", later.id, "days", f"overlaps the window {earlier.id}; a review must have one window")
        for earlier, later in pairwise(protocol.windows)
        if earlier.days[1] >= later.days[0]
    ]
    if protocol.primary_window not in {window.id for window in protocol.windows}:
        faults.append(Fault("primary", "", "window", "must be one of the windows"))
    return faults


def _timed_faults(protocol: Protocol) -> list[Fault]:
    measures = {measure.id for measure in protocol.measures}
    kinds = set(protocol.field("events", "kind").values)
    faults = []
    for timed in protocol.timed:
        if timed.origin == "events" and not {timed.kind, *timed.competing} <= kinds:
            faults.append(Fault("timed", timed.id, "kind", "must be a kind of event: " + ", ".join(sorted(kinds))))
        if timed.origin == "reviews" and (timed.measure not in measures or timed.when is None):
            faults.append(
                Fault("timed", timed.id, "measure", "needs a measure, and when = { at_least = … } or { at_most = … }")
            )
        if timed.main_month and timed.main_month not in timed.months:
            months = ", ".join(map(str, timed.months))
            faults.append(Fault("timed", timed.id, "main_month", f"must be one of its months: {months}"))
    return faults


def _reference_faults(protocol: Protocol) -> list[Fault]:
    known = {field.id for field in protocol.fields if field.sheet in {"patients", "reconstructions"}}
    named = [
        ("characteristics", each.id, name)
        for each in protocol.characteristics
        for name in (each.field, *each.ratio, each.years_since, each.year_of, each.levels_of, *each.days_between)
        if name
    ]
    faults = [
        Fault(table, entry, "", f'"{name}" is not a field of patients or reconstructions')
        for table, entry, name in named
        if name not in known
    ]
    by_sheet = {(field.sheet, field.id) for field in protocol.fields}
    for query in protocol.queries:
        faults.extend(
            Fault("queries", query.id, "field", f'"{name}" is not a field of the sheet {query.sheet}')
            for name in ((query.field, query.over_field) if query.over_field else (query.field,))
            if (query.sheet, name) not in by_sheet
        )
        if query.lacks_event and query.lacks_event not in protocol.field("events", "kind").values:
            faults.append(Fault("queries", query.id, "lacks_event", f'"{query.lacks_event}" is not a kind of event'))
    return faults
