"""How does the plain tree of a protocol file become checked entries?

Every fault is gathered with the entry and the key at which it lies; nothing is raised, so that a clinic that writes its
own file sees all of them at once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, fields
from typing import Any, TypeVar

from outcomes.protocol.checks import check_protocol
from outcomes.protocol.counsel import CounselRules, Likeness, Published, Told
from outcomes.protocol.entries import (
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
from outcomes.protocol.protocol import Protocol
from outcomes.protocol.shapes import LARGEST, captured_shape_faults, shape_faults
from outcomes.protocol.synonyms import SYNONYMS, read_synonyms, synonym_shape_faults

Tree = dict[str, Any]
T = TypeVar("T")


TABLES: dict[str, set[str]] = {
    "scales": {"id", "levels", "source"},
    "covers": {"id", "cohort", "label", "division_days", "usual_division_days"},
    "windows": {"id", "label", "nominal_days", "days"},
    "fields": {
        "id",
        "sheet",
        "kind",
        "required",
        "observed",
        "before_division",
        "future",
        "unit",
        "low",
        "high",
        "jump",
        "step",
        "values",
        "scale",
        "only_with",
        "label",
        "definition",
    },
    "measures": {
        "id",
        "field",
        "computed",
        "main",
        "worse",
        "poor",
        "poor_from",
        "poor_note",
        "label",
        "main_outcome",
        "important_difference",
        "important_reason",
        "weight",
        "after_revision",
    },
    "timed": {
        "id",
        "label",
        "from",
        "kind",
        "clock",
        "competing",
        "months",
        "main",
        "measure",
        "when",
        "good",
        "main_month",
    },
    "characteristics": {
        "id",
        "label",
        "field",
        "is",
        "ratio",
        "years_since",
        "year_of",
        "levels_of",
        "days_between",
        "unit",
        "adjust",
        "consequence",
    },
    "queries": {"id", "sheet", "field", "over_field", "under", "over", "lacks_event", "says"},
    "told": {"id", "words", "measure", "window", "timed", "within_months", "characteristic"},
    "likeness": {"id", "same", "within"},
    "published": {"id", "told", "what", "count", "of", "percent", "low", "high", "followed_months", "source", "note"},
}
MAIN_WEIGHT = 2.0
PARTS = ("rules", "primary", "ends", "counsel")
# Parts that a protocol may lack, as those that registers kept before there were such parts do.
OPTIONAL_PARTS = ("captured", SYNONYMS)


def build(tree: Tree) -> tuple[Protocol | None, list[Fault]]:
    """Make the protocol from its whole tree; gives None and the faults when anything is wrong."""
    faults = shape_faults(tree, TABLES, PARTS) or _repeated(tree)
    faults = faults or captured_shape_faults(tree) or synonym_shape_faults(tree.get(SYNONYMS, {}))
    if faults:
        return None, faults
    try:
        protocol = _protocol(tree)
    except _Wrong as wrong:
        return None, [wrong.fault]
    faults = check_protocol(protocol)
    return (None if faults else protocol), faults


class _Wrong(Exception):
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


def _protocol(tree: Tree) -> Protocol:
    levels = dict(_scale(entry) for entry in tree["scales"])
    covers = tuple(_entry(Cover, "covers", entry) for entry in tree["covers"])
    kinds = {entry["id"]: entry.get("kind", "") for entry in tree["fields"] if entry.get("observed")}
    return Protocol(
        name=str(tree.get("name", "protocol without a name")),
        rules=_rules(tree["rules"]),
        primary_window=str(tree["primary"].get("window", "")),
        fields=tuple(_field(entry, levels, covers) for entry in tree["fields"]),
        covers=covers,
        windows=tuple(
            sorted((_entry(Window, "windows", entry) for entry in tree["windows"]), key=lambda w: w.nominal_days)
        ),
        measures=tuple(_measure(entry, kinds) for entry in tree["measures"]),
        timed=tuple(_timed(entry) for entry in tree["timed"]),
        characteristics=tuple(
            _entry(Characteristic, "characteristics", entry, **{"is": "values"}) for entry in tree["characteristics"]
        ),
        queries=tuple(_entry(Query, "queries", entry) for entry in tree["queries"]),
        ends_follow_up=tuple(tree["ends"].get("follow_up", [])),
        captured=tuple(tree.get("captured", {}).items()),
        synonyms=read_synonyms(tree.get(SYNONYMS, {})),
        counsel=_counsel(tree["counsel"]),
        told=tuple(_entry(Told, "told", entry) for entry in tree["told"]),
        likeness=tuple(_likeness(entry) for entry in tree["likeness"]),
        published=tuple(_entry(Published, "published", entry) for entry in tree["published"]),
        document=tree,
    )


def _scale(entry: Tree) -> tuple[str, tuple[tuple[str, ...], str]]:
    if "levels" not in entry:
        raise _Wrong("scales", entry["id"], "", "lacks levels")
    return entry["id"], (tuple(entry["levels"]), entry.get("source", ""))


def _entry(made: Callable[..., T], table: str, entry: Tree, **renamed: str) -> T:
    known = {renamed.get(key, key): tuple(value) if isinstance(value, list) else value for key, value in entry.items()}
    wanted = {each.name for each in fields(made) if each.default is MISSING}  # type: ignore[arg-type]
    lacking = sorted(wanted - known.keys())
    if lacking:
        raise _Wrong(table, str(entry.get("id", "")), "", "lacks " + ", ".join(lacking))
    return made(**known)


def _rules(tree: Tree) -> Rules:
    known = {each.name: each.type for each in fields(Rules)}
    for key, value in tree.items():
        if key not in known:
            raise _Wrong("rules", "", key, "is not a rule; known: " + ", ".join(sorted(known)))
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= LARGEST:
            raise _Wrong("rules", "", key, "must be a number, 0 or more")
        if known[key] == "int" and not isinstance(value, int):
            raise _Wrong("rules", "", key, "must be a whole number, 0 or more")
    return _entry(Rules, "rules", tree)


def _counsel(tree: Tree) -> CounselRules:
    known = {each.name for each in fields(CounselRules)}
    for key in tree:
        if key not in known:
            raise _Wrong("counsel", "", key, "is not a rule; known: " + ", ".join(sorted(known)))
    return _entry(CounselRules, "counsel", tree)


def _likeness(entry: Tree) -> Likeness:
    return _entry(Likeness, "likeness", {**entry, "within": sorted(entry.get("within", {}).items())})


def _field(entry: Tree, levels: dict[str, tuple[tuple[str, ...], str]], covers: tuple[Cover, ...]) -> Field:
    plain = {key: value for key, value in entry.items() if key not in {"scale", "only_with"}}
    if entry.get("kind") not in KINDS:
        raise _Wrong("fields", entry["id"], "kind", "must be one of " + ", ".join(KINDS))
    if "scale" in entry or entry["kind"] == "grade":
        if entry.get("scale") not in levels:
            raise _Wrong("fields", entry["id"], "scale", "must be one of the scales " + ", ".join(levels))
        plain["levels"], plain["source"] = levels[entry["scale"]]
        plain["step"] = 1.0
    if entry["kind"] == "cover":
        plain["values"] = [cover.id for cover in covers]
    if "only_with" in entry:
        plain["only_with_field"] = entry["only_with"]["field"]
        plain["only_with_values"] = entry["only_with"]["values"]
    return _entry(Field, "fields", plain)


def _threshold(cut: dict[str, float] | None) -> Threshold | None:
    return None if cut is None else Threshold(**{side: float(bound) for side, bound in cut.items()})


def _measure(entry: Tree, kinds: dict[str, str]) -> Measure:
    """The measure; unless the entry says otherwise, a yes or no is compared as a share, and a main measure weighs 2."""
    plain = {key: value for key, value in entry.items() if key not in {"poor", "computed"}}
    usual = {
        "main_outcome": "share" if kinds.get(entry.get("field", "")) == "yes_no" else "mean",
        "weight": MAIN_WEIGHT if entry.get("main") else 1.0,
    }
    given = {**usual, **plain, **entry.get("computed", {}), "poor": _threshold(entry.get("poor"))}
    return _entry(Measure, "measures", given)


def _timed(entry: Tree) -> Timed:
    plain = {**entry, "when": _threshold(entry.get("when"))}
    return _entry(Timed, "timed", plain, **{"from": "origin"})
