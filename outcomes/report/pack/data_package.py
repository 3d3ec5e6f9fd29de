"""The dictionary of the shared columns: a Data Package with Table Schema, an open standard."""

from __future__ import annotations

import json
from typing import Any

from outcomes.findings.disclosure.k_anonymity import KEY
from outcomes.findings.disclosure.microdata import Shared, SharedColumn, SharedTable


def datapackage(shared: Shared, stamp: str) -> str:
    """Give the dictionary as JSON text."""
    package = {
        "profile": "data-package",
        "name": "shared-lids",
        "title": "De-identified lids after reconstruction with a tarsoconjunctival flap",
        "description": stamp,
        "k_anonymity": {
            "k": shared.k,
            "asked": shared.asked,
            "key": list(KEY),
            "recoding": shared.recoding,
            "withheld": shared.withheld,
            "lids": shared.lids,
            "note": "Two lids of one patient are not linked, so that nobody stands out by having two.",
        },
        "resources": [each for table in shared.tables for each in _resources(table)],
    }
    return json.dumps(package, indent=1, ensure_ascii=False) + "\n"


def _resources(table: SharedTable) -> tuple[dict[str, Any], ...]:
    schema: dict[str, Any] = {"fields": [_field(column) for column in table.columns], "missingValues": [""]}
    if table.name == "wide":
        schema["primaryKey"] = ["lid"]
    else:
        schema["primaryKey"] = ["lid", "measure", "window"]
        schema["foreignKeys"] = [{"fields": ["lid"], "reference": {"resource": "wide", "fields": ["lid"]}}]
    csv = {
        "profile": "tabular-data-resource",
        "name": table.name,
        "path": f"{table.name}.csv",
        "encoding": "utf-8",
        "schema": schema,
    }
    same = {
        "name": f"{table.name}-parquet",
        "path": f"{table.name}.parquet",
        "mediatype": "application/vnd.apache.parquet",
    }
    return csv, {"profile": "data-resource", **same, "description": f"The rows of {table.name}.csv; the same columns."}


def _field(column: SharedColumn) -> dict[str, Any]:
    unit = f" In {column.unit}." if column.unit else ""
    told: dict[str, Any] = {
        "name": column.name,
        "type": column.kind,
        "title": column.title,
        "description": f"{column.description}{unit}",
    }
    if column.allowed:
        told["constraints"] = {"enum": list(column.allowed)}
    return told
