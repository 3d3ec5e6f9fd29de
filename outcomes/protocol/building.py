"""How does the plain tree of a protocol file become checked entries?

Every fault is gathered with the entry and the key at which it lies; nothing is raised, so that a clinic that writes its
own file sees all of them at once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, fields
from typing import Any, TypeVar

from outcomes.protocol.counsel import CounselRules, Likeness, Published, Told
from outcomes.protocol.counsel_checks import counsel_faults
from outcomes.protocol.entries import (
    COHORTS,
    Characteristic,
    Cover,
    Measure,
    Query,
    Rules,
    Threshold,
    Timed,
    Window,
)
from outcomes.protocol.fault import Fault
from outcomes.protocol.field import KINDS, Field
from outcomes.protocol.protocol import SHEETS, Protocol

Tree = dict[str, Any]
T = TypeVar("T")


TABLES: dict[str, set[str]] = {
    "scales": {"id", "levels", "source"},
    "covers": {"id", "cohort", "label", "division_days", "usual_division_days"},
    "windows": {"id", "label", "nominal_days", "days"},
    "fields": {"id", "sheet", "kind", "required", "observed", "before_division", "future", "unit", "low", "high", "jump",
               "values", "scale", "only_with", "label", "definition"},
    "measures": {"id", "field", "computed", "main", "worse", "poor", "poor_from", "poor_note", "label"},
    "timed": {"id", "label", "from", "kind", "clock", "competing", "months", "main", "measure", "when", "good"},
    "characteristics": {"id", "label", "field", "is", "ratio", "years_since", "year_of", "levels_of", "days_between", "unit",
                        "adjust", "consequence"},
    "queries": {"id", "sheet", "field", "over_field", "under", "over", "lacks_event", "says"},
    "told": {"id", "words", "measure", "window", "timed", "within_months", "characteristic"},
    "likeness": {"id", "same", "within"},
    "published": {"id", "told", "what", "count", "of", "percent", "low", "high", "followed", "source"},
}
PARTS = ("rules", "primary", "ends", "counsel")
OPEN_TABLES: tuple[str, ...] = ()


def build(tree: Tree) -> tuple[Protocol | None, list[Fault]]:
    """Make the protocol from its whole tree; gives None and the faults when anything is wrong."""
    faults = _repeated(tree) + _type_faults(tree)
    if faults:
        return None, faults
    try:
        protocol = _protocol(tree)
    except _Wrong as wrong:
        return None, [wrong.fault]
    faults = [fault for check in _CHECKS for fault in check(protocol)]
    return (None if faults else protocol), faults


class _Wrong(Exception):  # noqa: N818 - carries a fault, is no error of its own
    def __init__(self, table: str, entry: str, key: str, what: str) -> None:
        super().__init__(what)
        self.fault = Fault(table, entry, key, what)


def _repeated(tree: Tree) -> list[Fault]:
    faults = []
    for table in TABLES:
        seen = set()
        for entry in tree[table]:
            key = (entry["id"], entry.get("sheet") if table == "fields" else None)
            if key in seen:
                faults.append(Fault(table, entry["id"], "id", "stands twice; ids must differ"))
            seen.add(key)
    return faults


_TEXT = {"id", "label", "sheet", "kind", "unit", "scale", "definition", "field", "worse", "poor_from", "poor_note", "from", "clock",
         "measure", "years_since", "year_of", "levels_of", "says", "over_field", "lacks_event", "cohort", "source", "words",
         "window", "timed", "characteristic", "told", "what", "followed"}
_NUMBER = {"division_days", "nominal_days", "low", "high", "jump", "under", "over", "adjust", "within_months", "count", "of", "percent"}
_FLAG = {"required", "observed", "before_division", "future", "main", "good", "consequence"}
_LIST = {"levels", "values", "competing", "months", "ratio", "days_between", "is", "days", "usual_division_days", "same"}
_KIND_OF_KEY: tuple[tuple[set[str], type | tuple[type, ...], str], ...] = (
    (_TEXT, str, "text in quotes"), (_NUMBER, (int, float), "a number"), (_FLAG, bool, "true or false"), (_LIST, list, "a list in [ ]"),
)


def _type_faults(tree: Tree) -> list[Fault]:
    faults = []
    for table, entry, key, value in ((t, e, k, v) for t in TABLES for e in tree[t] for k, v in e.items()):
        for keys, kinds, words in _KIND_OF_KEY:
            wrong_flag = isinstance(value, bool) and keys is _NUMBER
            if key in keys and (wrong_flag or not isinstance(value, kinds)):
                faults.append(Fault(table, str(entry.get("id")), key, f"must be {words}"))
    for table in PARTS:
        if not isinstance(tree[table], dict):
            faults.append(Fault("", "", table, f"write [{table}] and its keys below"))
    return faults


def _protocol(tree: Tree) -> Protocol:
    levels = {scale["id"]: (tuple(scale["levels"]), scale.get("source", "")) for scale in tree["scales"]}
    covers = tuple(_entry(Cover, "covers", entry) for entry in tree["covers"])
    return Protocol(
        name=str(tree.get("name", "protocol without a name")),
        rules=_rules(tree["rules"]),
        primary_window=str(tree["primary"].get("window", "")),
        fields=tuple(_field(entry, levels, covers) for entry in tree["fields"]),
        covers=covers,
        windows=tuple(sorted((_entry(Window, "windows", entry) for entry in tree["windows"]), key=lambda w: w.nominal_days)),
        measures=tuple(_measure(entry) for entry in tree["measures"]),
        timed=tuple(_timed(entry) for entry in tree["timed"]),
        characteristics=tuple(_entry(Characteristic, "characteristics", entry, **{"is": "values"}) for entry in tree["characteristics"]),
        queries=tuple(_entry(Query, "queries", entry) for entry in tree["queries"]),
        ends_follow_up=tuple(tree["ends"].get("follow_up", [])),
        counsel=_counsel(tree["counsel"]),
        told=tuple(_entry(Told, "told", entry) for entry in tree["told"]),
        likeness=tuple(_likeness(entry) for entry in tree["likeness"]),
        published=tuple(_entry(Published, "published", entry) for entry in tree["published"]),
        document=tree,
    )


def _entry(made: Callable[..., T], table: str, entry: Tree, **renamed: str) -> T:
    known = {renamed.get(key, key): tuple(value) if isinstance(value, list) else value for key, value in entry.items()}
    wanted = {each.name for each in fields(made) if each.default is MISSING}  # type: ignore[arg-type]
    lacking = sorted(wanted - known.keys())
    if lacking:
        raise _Wrong(table, str(entry.get("id", "")), "", "lacks " + ", ".join(lacking))
    return made(**known)


def _rules(tree: Tree) -> Rules:
    known = {each.name for each in fields(Rules)}
    for key, value in tree.items():
        if key not in known:
            raise _Wrong("rules", "", key, "is not a rule; known: " + ", ".join(sorted(known)))
        if isinstance(value, bool) or not isinstance(value, int | float) or value < 0:
            raise _Wrong("rules", "", key, "must be a number, 0 or more")
    return _entry(Rules, "rules", tree)


def _counsel(tree: Tree) -> CounselRules:
    known = {each.name for each in fields(CounselRules)}
    for key, value in tree.items():
        if key not in known:
            raise _Wrong("counsel", "", key, "is not a rule; known: " + ", ".join(sorted(known)))
        if key in {"terms", "ranges", "ages"} and not isinstance(value, list):
            raise _Wrong("counsel", "", key, "must be a list in [ ]")
    return _entry(CounselRules, "counsel", tree)


def _likeness(entry: Tree) -> Likeness:
    within = entry.get("within", {})
    if not isinstance(within, dict):
        raise _Wrong("likeness", entry["id"], "within", "must be { CHARACTERISTIC = NUMBER }")
    return _entry(Likeness, "likeness", {**entry, "within": sorted(within.items())})


def _field(entry: Tree, levels: dict[str, tuple[tuple[str, ...], str]], covers: tuple[Cover, ...]) -> Field:
    plain = {key: value for key, value in entry.items() if key not in {"scale", "only_with"}}
    if entry.get("kind") not in KINDS:
        raise _Wrong("fields", entry["id"], "kind", "must be one of " + ", ".join(KINDS))
    if "scale" in entry or entry["kind"] == "grade":
        if entry.get("scale") not in levels:
            raise _Wrong("fields", entry["id"], "scale", "must be one of the scales " + ", ".join(levels))
        plain["levels"], plain["source"] = levels[entry["scale"]]
    if entry["kind"] == "cover":
        plain["values"] = [cover.id for cover in covers]
    if "only_with" in entry:
        plain["only_with_field"] = entry["only_with"]["field"]
        plain["only_with_values"] = entry["only_with"]["values"]
    return _entry(Field, "fields", plain)


def _threshold(table: str, entry: Tree, key: str) -> Threshold | None:
    cut = entry.get(key)
    if cut is None:
        return None
    if not isinstance(cut, dict) or len(cut) != 1 or not cut.keys() <= {"at_least", "at_most"}:
        raise _Wrong(table, entry["id"], key, "must be { at_least = NUMBER } or { at_most = NUMBER }")
    return Threshold(**{side: float(bound) for side, bound in cut.items()})


def _measure(entry: Tree) -> Measure:
    plain = {key: value for key, value in entry.items() if key not in {"poor", "computed"}}
    computed = entry.get("computed", {})
    if computed and computed.keys() != {"operated", "fellow"}:
        raise _Wrong("measures", entry["id"], "computed", "must be { operated = FIELD, fellow = FIELD }")
    return _entry(Measure, "measures", {**plain, **computed, "poor": _threshold("measures", entry, "poor")})


def _timed(entry: Tree) -> Timed:
    plain = {**entry, "when": _threshold("timed", entry, "when")}
    return _entry(Timed, "timed", plain, **{"from": "origin"})


def _field_faults(protocol: Protocol) -> list[Fault]:
    faults = []
    for field in protocol.fields:
        if field.sheet not in SHEETS:
            faults.append(Fault("fields", field.id, "sheet", "must be one of " + ", ".join(SHEETS)))
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
    return faults


def _measure_faults(protocol: Protocol) -> list[Fault]:
    observed = {field.id for field in protocol.observed}
    windows = {window.id for window in protocol.windows}
    faults = []
    for measure in protocol.measures:
        named = [("field", measure.field), ("computed", measure.operated), ("computed", measure.fellow)]
        faults.extend(
            Fault("measures", measure.id, key, f'"{name}" is not an observed field of the sheet reviews')
            for key, name in named if name and name not in observed
        )
        if not measure.field and not measure.operated:
            faults.append(Fault("measures", measure.id, "field", "needs a field, or computed"))
        if measure.worse not in {"higher", "lower"}:
            faults.append(Fault("measures", measure.id, "worse", 'must be "higher" or "lower"'))
        if measure.poor_from and measure.poor_from not in windows:
            faults.append(Fault("measures", measure.id, "poor_from", "must be one of the windows " + ", ".join(windows)))
    return faults


def _window_faults(protocol: Protocol) -> list[Fault]:
    faults = []
    for window in protocol.windows:
        if len(window.days) != 2 or not window.days[0] <= window.nominal_days <= window.days[1]:  # noqa: PLR2004
            faults.append(Fault("windows", window.id, "days", "must be [first, last] with the nominal day between"))
    for earlier, later in zip(protocol.windows, protocol.windows[1:], strict=False):
        if earlier.days[1] >= later.days[0]:
            faults.append(Fault("windows", later.id, "days", f"overlaps the window {earlier.id}; a review must have one window"))
    if protocol.primary_window not in {window.id for window in protocol.windows}:
        faults.append(Fault("primary", "", "window", "must be one of the windows"))
    return faults


def _cover_faults(protocol: Protocol) -> list[Fault]:
    faults = [
        Fault("covers", cover.id, "cohort", "must be " + " or ".join(COHORTS) + ", or left out")
        for cover in protocol.covers if cover.cohort not in {"", *COHORTS}
    ]
    faults.extend(
        Fault("covers", cover.id, "usual_division_days", "must be [first, last]")
        for cover in protocol.covers if len(cover.usual_division_days) != 2  # noqa: PLR2004
    )
    return faults


def _timed_faults(protocol: Protocol) -> list[Fault]:
    measures = {measure.id for measure in protocol.measures}
    kinds = set(protocol.field("events", "kind").values)
    faults = []
    for timed in protocol.timed:
        if timed.origin not in {"events", "reviews"}:
            faults.append(Fault("timed", timed.id, "from", 'must be "events" or "reviews"'))
        if timed.clock not in {"operation", "division"}:
            faults.append(Fault("timed", timed.id, "clock", 'must be "operation" or "division"'))
        if timed.origin == "events" and not {timed.kind, *timed.competing} <= kinds:
            faults.append(Fault("timed", timed.id, "kind", "must be a kind of event: " + ", ".join(sorted(kinds))))
        if timed.origin == "reviews" and (timed.measure not in measures or timed.when is None):
            faults.append(Fault("timed", timed.id, "measure", "needs a measure, and when = { at_least = … } or { at_most = … }"))
    return faults


def _reference_faults(protocol: Protocol) -> list[Fault]:
    known = {field.id for field in protocol.fields if field.sheet in {"patients", "reconstructions"}}
    named = [
        ("characteristics", each.id, name)
        for each in protocol.characteristics
        for name in (each.field, *each.ratio, each.years_since, each.year_of, each.levels_of, *each.days_between) if name
    ]
    faults = [Fault(table, entry, "", f'"{name}" is not a field of patients or reconstructions') for table, entry, name in named if name not in known]
    by_sheet = {(field.sheet, field.id) for field in protocol.fields}
    for query in protocol.queries:
        faults.extend(
            Fault("queries", query.id, "field", f'"{name}" is not a field of the sheet {query.sheet}')
            for name in (query.field, query.over_field) if name and (query.sheet, name) not in by_sheet
        )
        if query.lacks_event and query.lacks_event not in protocol.field("events", "kind").values:
            faults.append(Fault("queries", query.id, "lacks_event", f'"{query.lacks_event}" is not a kind of event'))
    return faults


_CHECKS = (_field_faults, _measure_faults, _window_faults, _cover_faults, _timed_faults, _reference_faults, counsel_faults)
