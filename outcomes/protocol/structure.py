"""Checks of a protocol's structure: the fields that every register needs, their words, and the rules that use them."""

from __future__ import annotations

from outcomes.protocol.entries import Characteristic, Query, Threshold
from outcomes.protocol.fault import Fault
from outcomes.protocol.field import Field
from outcomes.protocol.protocol import KEYS, Protocol

# What every register is built on, and of which kind it must be.
NEEDED = {
    ("patients", "patient_id"): "code",
    ("patients", "birth_year"): "year",
    ("reconstructions", "case_id"): "code",
    ("reconstructions", "patient_id"): "code",
    ("reconstructions", "side"): "choice",
    ("reconstructions", "operated_on"): "date",
    ("reconstructions", "cover"): "cover",
    ("reconstructions", "division_planned_on"): "date",
    ("reconstructions", "divided_on"): "date",
    ("reviews", "case_id"): "code",
    ("reviews", "reviewed_on"): "date",
    ("reviews", "assessor"): "code",
    ("reviews", "masked"): "yes_no",
    ("reviews", "mode"): "choice",
    ("events", "case_id"): "code",
    ("events", "happened_on"): "date",
    ("events", "kind"): "choice",
}
_REQUIRED = {(sheet, keys[0]) for sheet, keys in KEYS.items()} | {
    ("reconstructions", "patient_id"),
    ("reconstructions", "operated_on"),
    ("reconstructions", "cover"),
    ("reviews", "reviewed_on"),
    ("events", "happened_on"),
    ("events", "kind"),
}
_COUNTED = {"number", "grade", "yes_no", "acuity", "year"}
_CLOSED = {"choice", "cover", "yes_no"}


def missing_structure(protocol: Protocol) -> list[Fault]:
    """The fields that the register is built on and that are absent, or of another kind."""
    fields = {(field.sheet, field.id): field for field in protocol.fields}
    faults = []
    for (sheet, name), kind in NEEDED.items():
        field = fields.get((sheet, name))
        if field is None:
            faults.append(Fault("fields", name, "", f"the sheet {sheet} needs the field {name}"))
        elif field.kind != kind:
            faults.append(Fault("fields", name, "kind", f'must be "{kind}" on the sheet {sheet}'))
        elif (sheet, name) in _REQUIRED and not field.required:
            faults.append(Fault("fields", name, "required", f"must be true on the sheet {sheet}"))
    return faults


def structure_faults(protocol: Protocol) -> list[Fault]:
    """Words that stand twice, and rules that point to what they cannot use."""
    faults = []
    for field in protocol.fields:
        faults += [*_word_faults(field), *_only_with_faults(protocol, field)]
    for query in protocol.queries:
        faults += _query_faults(protocol, query)
    for characteristic in protocol.characteristics:
        faults += _characteristic_faults(protocol, characteristic)
    return [*faults, *_threshold_faults(protocol), *_end_faults(protocol)]


def _word_faults(field: Field) -> list[Fault]:
    faults = []
    for key, words in (("values", field.values), ("scale", field.levels)):
        plain = [word.casefold() for word in words]
        if len(set(plain)) < len(plain):
            faults.append(Fault("fields", field.id, key, "a word stands twice; they must differ in more than capitals"))
    if field.kind == "grade" and len(field.levels) < 2:
        faults.append(Fault("fields", field.id, "scale", "needs at least two levels"))
    numbered = [level for level, name in enumerate(field.levels) if name.isdecimal() and name != str(level)]
    if numbered:
        faults.append(Fault("fields", field.id, "scale", f"level {numbered[0]} is called by another number"))
    return faults


def _only_with_faults(protocol: Protocol, field: Field) -> list[Fault]:
    if not field.only_with_field:
        return []
    others = [each for each in protocol.sheet(field.sheet) if each.id == field.only_with_field and each.kind in _CLOSED]
    if not others:
        return [
            Fault("fields", field.id, "only_with", f"must name a field of the sheet {field.sheet} with a closed list")
        ]
    unknown = [word for word in field.only_with_values if word not in others[0].allowed]
    return [Fault("fields", field.id, "only_with", f'"{word}" is not a value of {others[0].id}') for word in unknown]


def _query_faults(protocol: Protocol, query: Query) -> list[Fault]:
    fields = {field.id: field for field in protocol.sheet(query.sheet)}
    if query.over_field == "" and query.under is None and query.over is None:
        return [Fault("queries", query.id, "", "needs one of over_field, under, over")]
    kinds = {fields[name].kind for name in (query.field, query.over_field) if name in fields}
    dates = kinds == {"date"} and query.under is None and query.over is None
    if kinds <= _COUNTED or dates:
        return []
    return [Fault("queries", query.id, "field", "must be a number, a grade or yes_no")]


def _characteristic_faults(protocol: Protocol, each: Characteristic) -> list[Fault]:
    """A characteristic has one way to its value, and the fields that it names are of the kind that this way needs."""
    ways = {
        "field": ((each.field,), _CLOSED if each.values else _COUNTED),
        "ratio": (each.ratio, {"number"}),
        "years_since": ((each.years_since,), {"year"}),
        "year_of": ((each.year_of,), {"date"}),
        "levels_of": ((each.levels_of,), {"code", *_CLOSED}),
        "days_between": (each.days_between, {"date"}),
    }
    used = {key: way for key, way in ways.items() if any(way[0])}
    if len(used) != 1:
        return [Fault("characteristics", each.id, "", "needs exactly one of " + ", ".join(ways))]
    [(key, (names, kinds))] = used.items()
    if key in {"ratio", "days_between"} and len(names) != 2:
        return [Fault("characteristics", each.id, key, "must name two fields")]
    found = {field.id: field for field in protocol.fields if field.sheet in {"patients", "reconstructions"}}
    faults = [
        Fault("characteristics", each.id, key, f'"{name}" must be a field of the kind {" or ".join(sorted(kinds))}')
        for name in names
        if name in found and found[name].kind not in kinds
    ]
    words = found[each.field].allowed if each.field in found and each.values else each.values
    return faults + [
        Fault("characteristics", each.id, "is", f'"{word}" is not a value of {each.field}')
        for word in each.values
        if word not in words
    ]


def _threshold_faults(protocol: Protocol) -> list[Fault]:
    fields = {field.id: field for field in protocol.observed}
    measured = {measure.id: fields.get(measure.field or measure.operated) for measure in protocol.measures}
    cuts = [("measures", measure.id, "poor", measure.poor, measured[measure.id]) for measure in protocol.measures]
    cuts += [("timed", timed.id, "when", timed.when, measured.get(timed.measure)) for timed in protocol.timed]
    return [
        Fault(table, entry, key, f"must lie on the levels of {field.id}, 0 to {len(field.levels) - 1}")
        for table, entry, key, cut, field in cuts
        if cut is not None and field is not None and field.levels and not _is_level(cut, field)
    ]


def _is_level(cut: Threshold, field: Field) -> bool:
    return cut.bound.is_integer() and 0 <= cut.bound < len(field.levels)


def _end_faults(protocol: Protocol) -> list[Fault]:
    kinds = protocol.field("events", "kind").values
    unknown = [kind for kind in protocol.ends_follow_up if kind not in kinds]
    return [Fault("ends", "", "follow_up", f'"{kind}" is not a kind of event') for kind in unknown]
