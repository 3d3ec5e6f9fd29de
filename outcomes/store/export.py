"""Export the rows to plain files that are read without this program.

A folder with one CSV file a sheet, as they can be loaded again, and a data dictionary in `datapackage.json` (the open
standard Data Package with Table Schema, version 1), which other programs read and check against.
"""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

from outcomes.errors import RegisterRefused
from outcomes.protocol import KEYS, SHEETS, Field, Protocol, Value
from outcomes.store.archive import new_bundle
from outcomes.store.files import system_errors
from outcomes.store.register import Register
from outcomes.whole_files import write_safely

_TYPES = {"number": "number", "acuity": "number", "grade": "integer", "year": "integer", "date": "date"}
# The first signs of a cell that a spreadsheet may obey: OWASP, "CSV Injection", with the full-width forms.
OBEYED = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_PARENTS = {"reconstructions": "patients", "reviews": "reconstructions", "events": "reconstructions"}


def export_plain(register: Register, folder: Path) -> None:
    """The folder holds the rows as they stand and what their columns mean; after a failure there is no such folder."""
    if folder.exists():
        raise RegisterRefused(f"{folder} is there already and was left as it is; give another folder")
    held = register.held()
    with new_bundle(folder) as part, system_errors(folder):
        for sheet in SHEETS:
            write_safely(part / f"{sheet}.csv", _csv(register.protocol.sheet(sheet), list(held[sheet].values())))
        package = json.dumps(_package(register), indent=1, ensure_ascii=False)
        write_safely(part / "datapackage.json", package.encode() + b"\n")
        write_safely(part / "protocol.json", register.protocol.text.encode() + b"\n")


def _csv(fields: tuple[Field, ...], rows: list[dict[str, Value]]) -> bytes:
    text = io.StringIO()
    writer = csv.DictWriter(text, [field.id for field in fields], restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows({name: _harmless(value) for name, value in row.items()} for row in rows)
    return text.getvalue().encode()


def _harmless(value: Value) -> Value:
    """A text that a spreadsheet would take for a formula, with an apostrophe before it; loading takes it off again."""
    return f"'{value}" if isinstance(value, str) and value.startswith(OBEYED) else value


def _package(register: Register) -> dict[str, Any]:
    return {
        "profile": "tabular-data-package",
        "name": "register",
        "title": register.protocol.name,
        "description": f"Rows as they stand; digest {register.digest}; protocol {register.protocol.fingerprint}.",
        "resources": [_resource(register.protocol, sheet) for sheet in SHEETS],
    }


def _resource(protocol: Protocol, sheet: str) -> dict[str, Any]:
    schema: dict[str, Any] = {
        "fields": [_described(field) for field in protocol.sheet(sheet)],
        "missingValues": [""],
    }
    if len(KEYS[sheet]) == 1:
        schema["primaryKey"] = list(KEYS[sheet])
    if sheet in _PARENTS:
        key = KEYS[_PARENTS[sheet]][0]
        schema["foreignKeys"] = [{"fields": [key], "reference": {"resource": _PARENTS[sheet], "fields": [key]}}]
    return {
        "profile": "tabular-data-resource",
        "name": sheet,
        "path": f"{sheet}.csv",
        "encoding": "utf-8",
        "schema": schema,
    }


def _described(field: Field) -> dict[str, Any]:
    unit = f" In {field.unit}." if field.unit else ""
    levels = " Levels: " + ", ".join(f"{n} {name}" for n, name in enumerate(field.levels)) + "." if field.levels else ""
    only = f" Only with {field.only_with_field}: {', '.join(field.only_with_values)}." if field.only_with_field else ""
    return {
        "name": field.id,
        "type": _TYPES.get(field.kind, "string"),
        "title": field.label,
        "description": field.definition + unit + levels + only + " Blank: not recorded.",
        "constraints": _constraints(field),
    }


def _constraints(field: Field) -> dict[str, Any]:
    constraints: dict[str, Any] = {"required": True} if field.required else {}
    if field.allowed:
        constraints["enum"] = list(field.allowed)
    elif field.levels:
        constraints |= {"minimum": 0, "maximum": len(field.levels) - 1}
    else:
        limits = {"minimum": field.low, "maximum": field.high}
        whole = _TYPES.get(field.kind) == "integer"
        constraints |= {name: int(limit) if whole else limit for name, limit in limits.items() if limit is not None}
    return constraints
