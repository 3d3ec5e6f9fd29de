"""Read a protocol file, laid over the default where it extends it, and name the line of every fault."""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from outcomes.errors import DataRefused, Problem
from outcomes.protocol.document import OPTIONAL_PARTS, PARTS, TABLES, build, keys_of, unknown_key
from outcomes.protocol.fault import Fault
from outcomes.protocol.protocol import Protocol
from outcomes.protocol.synonyms import merged_lists

DEFAULT = Path(__file__).with_name("default.toml")
FORMAT = 1
RETIRED_RULES = ("resamples", "seed")
"""Rules that nothing reads any more; registers keep protocols that still have them."""
Tree = dict[str, Any]


@cache
def default_protocol() -> Protocol:
    """The protocol that ships with the program."""
    return read_protocol(DEFAULT)


def read_protocol(path: Path) -> Protocol:
    """Read a protocol file, laid over the default when it says `extends = "default"`.

    Raises DataRefused with a reason a line, each naming the file, the line and the remedy.
    """
    text = _text(path)
    tree = _tree(text, path)
    problems = _shape_problems(tree, text, path)
    if problems:
        raise _refused(path, problems)
    whole = _overlaid(tree) if tree.pop("extends", "") else tree
    faults = _missing_parts(whole)
    protocol, found = (None, faults) if faults else build(whole)
    if protocol is None or found:
        raise _refused(path, [_placed(fault, text, path) for fault in found])
    return protocol


def protocol_from_text(text: str) -> Protocol:
    """Make the protocol again from what a register kept, retired rules included; raises DataRefused when that is damaged."""
    try:
        tree = json.loads(text)
        rules = {name: value for name, value in tree["rules"].items() if name not in RETIRED_RULES}
        protocol, faults = build({**tree, "rules": rules})
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise DataRefused("the protocol kept in the register cannot be read", []) from error
    if protocol is None or faults:
        raise DataRefused("the protocol kept in the register is not valid", [])
    return replace(protocol, document=tree)


def _refused(path: Path, problems: list[Problem]) -> DataRefused:
    return DataRefused(f"the protocol file {path.name} was refused; nothing was changed", sorted(set(problems)))


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        reason = error.strerror or "it cannot be opened"
        raise DataRefused(f"the protocol file {path} cannot be read: {reason}", []) from error
    except UnicodeDecodeError as error:
        raise DataRefused(f"the protocol file {path} is not UTF-8 text; save it as UTF-8", []) from error


def _tree(text: str, path: Path) -> Tree:
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise _refused(path, [Problem(path.name, 0, "", "is nested too deeply; write it flat")]) from error
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"line (\d+)", str(error))
        row = int(found.group(1)) if found else text.count("\n") + 1
        raise _refused(path, [Problem(path.name, row, "", f"is not valid TOML: {error}")]) from error


def _shape_problems(tree: Tree, text: str, path: Path) -> list[Problem]:
    """Unknown tables and keys, with the nearest known one: most slips of a clinic's own file are these."""
    known = {*TABLES, "format", "name", "extends", *PARTS, *OPTIONAL_PARTS}
    problems = [
        Problem(
            path.name,
            _line(text, name, 0, ""),
            name,
            "is not a table of the protocol; known: " + ", ".join(sorted(known)),
        )
        for name in tree
        if name not in known
    ]
    if tree.get("extends", "default") != "default":
        problems.append(Problem(path.name, _line(text, "", 0, "extends"), "extends", 'can only be "default"'))
    if tree.get("format", FORMAT) != FORMAT:
        problems.append(Problem(path.name, _line(text, "", 0, "format"), "format", f"must be {FORMAT}"))
    for table, stated in TABLES.items():
        entries = tree.get(table, [])
        if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
            problems.append(Problem(path.name, _line(text, table, 0, ""), table, f"write each entry under [[{table}]]"))
            continue
        for place, entry in enumerate(entries):
            if "id" not in entry:
                problems.append(Problem(path.name, _line(text, table, place, ""), f"[[{table}]]", "has no id"))
            problems.extend(
                Problem(
                    path.name,
                    _line(text, table, place, key),
                    key,
                    unknown_key(stated),
                )
                for key in entry
                if key not in keys_of(stated)
            )
    return problems


def _line(text: str, table: str, place: int, key: str) -> int:
    """The line of a key in the place-th [[table]] (or [table]); of the header itself when the key is not found."""
    lines = text.splitlines()
    headers = (
        [n for n, line in enumerate(lines) if re.match(rf"\s*\[\[?\s*{re.escape(table)}\s*\]\]?", line)]
        if table
        else [-1]
    )
    if place >= len(headers):
        return 1
    start = headers[place]
    for number in range(start + 1, len(lines)):
        if lines[number].lstrip().startswith("["):
            break
        if key and re.match(rf"\s*\"?{re.escape(key)}\"?\s*=", lines[number]):
            return number + 1
    return max(start + 1, 1)


def _overlaid(own: Tree) -> Tree:
    """The default tree with the clinic's entries laid over: same id replaces keys, a new id is added at the end."""
    whole: Tree = tomllib.loads(DEFAULT.read_text(encoding="utf-8"))
    for name, part in own.items():
        if name in TABLES:
            whole[name] = _merged(whole.get(name, []), part)
        elif name == "synonyms":
            whole[name] = merged_lists(whole.get(name, {}), part)
        elif isinstance(part, dict):
            whole[name] = {**whole.get(name, {}), **part}
        else:
            whole[name] = part
    return whole


def _merged(base: list[Tree], own: list[Tree]) -> list[Tree]:
    merged = [dict(entry) for entry in base]
    for entry in own:
        same = [
            each
            for each in merged
            if each["id"] == entry["id"] and each.get("sheet") == entry.get("sheet", each.get("sheet"))
        ]
        if same:
            if "important_difference" in entry:
                same[0].pop("important_reason", None)  # the reason of another number
            same[0].update(entry)
        else:
            merged.append(entry)
    return merged


def _missing_parts(tree: Tree) -> list[Fault]:
    wanted = [*TABLES, *PARTS]
    return [
        Fault("", "", "", f'has no part "{name}"; begin with extends = "default" to keep it')
        for name in wanted
        if name not in tree
    ]


def _placed(fault: Fault, text: str, path: Path) -> Problem:
    places = [
        n
        for n, entry in enumerate(tomllib.loads(text).get(fault.table, []))
        if isinstance(entry, dict) and entry.get("id") == fault.entry
    ]
    row = _line(text, fault.table, places[0] if places else 0, fault.key)
    where = ", ".join(part for part in (f"{fault.table} {fault.entry}".strip(), fault.key) if part)
    return Problem(path.name, row, where, fault.what)
