"""Make a protocol from the plain tree of its file, gathering every fault with the entry and the key at which it lies."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any

import pydantic

from outcomes.protocol.checks import check_protocol
from outcomes.protocol.counsel import CounselItem, Likeness, Published
from outcomes.protocol.entries import (
    CAPTURES,
    Characteristic,
    CounselRules,
    Cover,
    Ends,
    Measure,
    Primary,
    Query,
    Rules,
    Scale,
    Timed,
    Window,
)
from outcomes.protocol.fault import Fault
from outcomes.protocol.field import Field
from outcomes.protocol.protocol import Protocol
from outcomes.protocol.synonyms import Synonyms
from outcomes.protocol.value_types import one_of

Tree = dict[str, Any]
MAIN_WEIGHT = 2.0
TABLES: dict[str, Any] = {
    "scales": Scale,
    "covers": Cover,
    "windows": Window,
    "fields": Field,
    "measures": Measure,
    "timed": Timed,
    "characteristics": Characteristic,
    "queries": Query,
    "told": CounselItem,
    "likeness": Likeness,
    "published": Published,
}
PARTS: dict[str, Any] = {"rules": Rules, "primary": Primary, "ends": Ends, "counsel": CounselRules}
# Parts that a protocol may lack, as those that registers kept before there were such parts do.
OPTIONAL_PARTS: dict[str, Any] = {"captured": dict[str, Annotated[str, one_of(*CAPTURES)]], "synonyms": Synonyms}


def keys_of(stated: Any) -> tuple[str, ...]:  # noqa: ANN401 - any class of TABLES or PARTS
    """The keys that an entry of a table or a part may have, in the order in which its class states them."""
    return tuple(str(each.validation_alias or name) for name, each in stated.__pydantic_fields__.items())


def unknown_key(stated: Any) -> str:  # noqa: ANN401
    """Say that a key is not one of the class's keys."""
    return "is not known here; known: " + ", ".join(sorted(keys_of(stated)))


def build(tree: Tree) -> tuple[Protocol | None, list[Fault]]:
    """Make the protocol from its whole tree; gives None and the faults when anything is wrong."""
    faults = [*_repeated(tree)]
    if not isinstance(tree.get("name", ""), str):
        faults.append(Fault("", "", "name", "must be one line of text in quotes"))
    tables = {table: _entries(table, tree, faults) for table in ("scales", "covers")}
    resolved = {**tree, **_resolved(tree, tables, faults)}
    tables |= {table: _entries(table, resolved, faults) for table in TABLES if table not in tables}
    parts = {part: _part(part, tree, faults) for part in (*PARTS, *OPTIONAL_PARTS)}
    if faults:
        return None, faults
    protocol = _protocol(tree, tables, parts)
    faults = check_protocol(protocol)
    return (None if faults else protocol), faults


def _repeated(tree: Tree) -> Iterator[Fault]:
    for table in TABLES:
        seen = set()
        for entry in tree[table]:
            key = (str(entry["id"]), str(entry.get("sheet")) if table == "fields" else None)
            if key in seen:
                yield Fault(table, str(entry["id"]), "id", "stands twice; ids must differ")
            seen.add(key)


def _entries(table: str, tree: Tree, faults: list[Fault]) -> tuple[Any, ...]:
    read = pydantic.TypeAdapter(TABLES[table])
    made = []
    for entry in tree[table]:
        try:
            made.append(read.validate_python(entry))
        except pydantic.ValidationError as error:
            faults += _faults(TABLES[table], (table, str(entry["id"])), error)
    return tuple(made)


def _part(part: str, tree: Tree, faults: list[Fault]) -> Any:  # noqa: ANN401 - an instance of the part's own class
    stated = {**PARTS, **OPTIONAL_PARTS}[part]
    try:
        return pydantic.TypeAdapter(stated).validate_python(tree.get(part, {}))
    except pydantic.ValidationError as error:
        faults += _faults(stated, (part, ""), error)
    return None


def _faults(stated: Any, at: tuple[str, str], error: pydantic.ValidationError) -> Iterator[Fault]:  # noqa: ANN401
    """The faults of one entry or part, which is of the class `stated`; all keys that it lacks are one fault."""
    table, entry = at
    lacking = []
    for each in error.errors(include_url=False, include_context=False):
        *above, key = map(str, each["loc"]) if each["loc"] else ("",)
        place = ".".join((table, *above))
        match each["type"]:
            case "missing":
                lacking.append(key)
            case "unexpected_keyword_argument":
                yield Fault(place, entry, key, unknown_key(stated))
            case "dict_type" | "dataclass_type":
                whole = f"{place}.{key}" if key else place
                outer, _, name = whole.rpartition(".")
                yield Fault(outer, "", name, f"write [{whole}] and its keys below")
            case _:
                yield Fault(place, entry, key, each["msg"])
    if lacking:
        yield Fault(table, entry, "", "lacks " + ", ".join(sorted(lacking)))


def _resolved(tree: Tree, tables: dict[str, tuple[Any, ...]], faults: list[Fault]) -> Tree:
    """The entries that point to others, with what they point to, and with what holds unless they say otherwise."""
    scales = {scale.id: scale for scale in tables["scales"]}
    covers = [cover.id for cover in tables["covers"]]
    fields = []
    for entry in tree["fields"]:
        graded = entry.get("kind") == "grade" or "scale" in entry
        if graded and str(entry.get("scale")) not in scales:
            faults.append(Fault("fields", str(entry["id"]), "scale", "must be one of the scales " + ", ".join(scales)))
        words = {"values": covers} if entry.get("kind") == "cover" else {}
        grades = {"scale": scales.get(str(entry.get("scale"))), "step": 1.0} if graded else {}
        fields.append(entry | words | grades)
    yes_no = {str(entry["id"]) for entry in tree["fields"] if entry.get("observed") and entry.get("kind") == "yes_no"}
    return {"fields": fields, "measures": [_usual(entry, yes_no) | entry for entry in tree["measures"]]}


def _usual(entry: Tree, yes_no: set[str]) -> Tree:
    """A yes or no is compared as a share, and a main measure weighs more."""
    share = {"main_outcome": "share"} if str(entry.get("field")) in yes_no else {}
    return share | ({"weight": MAIN_WEIGHT} if entry.get("main") else {})


def _protocol(tree: Tree, tables: dict[str, tuple[Any, ...]], parts: Tree) -> Protocol:
    return Protocol(
        name=tree.get("name", "protocol without a name"),
        rules=parts["rules"],
        primary_window=parts["primary"].window,
        fields=tables["fields"],
        covers=tables["covers"],
        windows=tuple(sorted(tables["windows"], key=lambda window: window.nominal_days)),
        measures=tables["measures"],
        timed=tables["timed"],
        characteristics=tables["characteristics"],
        queries=tables["queries"],
        ends_follow_up=parts["ends"].follow_up,
        captured=tuple(parts["captured"].items()),
        synonyms=parts["synonyms"],
        counsel=parts["counsel"],
        told=tables["told"],
        likeness=tables["likeness"],
        published=tables["published"],
        document=tree,
    )
