"""The dictionary of the shared tables: a Data Package with Table Schema, an open standard."""

from __future__ import annotations

import json
from typing import Any

from outcomes.findings.disclosure.microdata import Coarsening, SharedColumn, SharedData, SharedTable
from outcomes.protocol import Protocol
from outcomes.report import formats

TABLES = {
    "lids": "One row a lid. The order of the rows tells nothing: they are sorted by what they show.",
    "values": (
        "How many lids of a cohort have each value of a measure at a review, of the measures and reviews at which {k} or more "
        "have every value that is had at all."
    ),
}
COARSENED = "Coarsened. 'withheld': the lid would have stood out. 'not recorded': blank in the register."
ABOUT = {
    "cohort": ("Cohort", "How the flap was covered."),
    "age_band": ("Age at operation", "In years, by year of birth."),
    "sex": ("Sex", ""),
    "side": ("Side", ""),
    "year_of_operation": ("Year of operation", ""),
    "diagnosis": ("Diagnosis", ""),
    "days_shut": ("Days from operation to division", "How long the eye was shut."),
    "months_followed": ("Months followed", "Whole months from division to the last day known."),
    "smoker": ("Smoking", ""),
    "prior_lid_radiotherapy": ("Earlier radiotherapy to the lid", ""),
    "measure": ("Measure", "What was measured: see the definitions of the pack."),
    "window": ("Review", "The review window after division of the pedicle."),
    "value": ("Value", "In the unit of the measure; a yes is 1, a no 0, a grade its number."),
    "lids": ("Lids", "How many lids of the cohort have this value."),
    "release": ("Release", "The register's digest, the data lock and the day for which the rows speak."),
    "poor": ("", "Whether the result at {window} after division was poor. Blank: not seen."),
}
LEVELS = {
    "as_held": "as recorded",
    "most_frequent": "the most frequent one against all others",
    "left_out": "left out",
}
BAND_UNITS = {"age_band": "years", "year_of_operation": "years", "days_shut": "days", "months_followed": "months"}
NOTES = (
    (
        "A class is the lids of one cohort, reviewed or not at the primary review, that are alike in every coarsened column. "
        "Each has k patients or more, and in none are all results of a main measure poor."
    ),
    "The loss is the share of a column's entropy, at the finest level that may be given, that is not given.",
    (
        "Left out for every lid: dates, codes, surgeon, place, what was found at the operation, by which a row could be found, and "
        "the link between a lid and its values at other reviews or the patient's other lid."
    ),
    (
        "A result is given as poor or not, of the main measures whose counts the public report gives: with the values themselves its "
        "means would tell small counts."
    ),
)
REFUSALS = {
    "not_requested": "rows of single lids are written only when they are asked for (pack --with-data)",
    "too_few_patients": "there are fewer than {k} patients, so that rows would point at persons",
    "journal": "rows of single lids do not go with counts of any size; make a pack for the public for them",
    "no_results": "of no main measure are the counts at the primary review large enough to be told",
    "few_not_reviewed": "so few lids were reviewed, or not reviewed, at the primary review that rows would tell how many",
    "no_recoding": "no coarsening hides every lid among {k} patients of whom not all have a poor result",
}


def refusal_words(shared: SharedData) -> str:
    """Say why no data are written."""
    return REFUSALS[shared.refusal].format(k=shared.k_required)


def level_words(coarsened: Coarsening) -> str:
    """Say to which level a column was coarsened."""
    unit = BAND_UNITS.get(coarsened.column, "")
    return LEVELS.get(coarsened.level) or f"in bands of {coarsened.level} {unit}"


def coarsening_lines(shared: SharedData) -> tuple[str, ...]:
    """Say of every column that an outsider could know what became of it, and the share of its information lost."""
    return tuple(
        f"{ABOUT[each.column][0]}: {level_words(each)} ({formats.percent(each.loss)} of its information lost)"
        for each in shared.coarsened
    )


def datapackage(shared: SharedData, protocol: Protocol, stamp: str) -> str:
    """Give the dictionary as JSON text."""
    package = {
        "profile": "data-package",
        "name": "shared-lids",
        "title": "De-identified lids after reconstruction with a tarsoconjunctival flap",
        "description": stamp,
        "disclosure_control": _disclosure_control(shared),
        "resources": [each for table in shared.tables for each in _resources(table, shared, protocol)],
    }
    return json.dumps(package, indent=1, ensure_ascii=False) + "\n"


def _disclosure_control(shared: SharedData) -> dict[str, Any]:
    return {
        "k": shared.k,
        "k_required": shared.k_required,
        "rows": shared.lids,
        "rows_withheld": shared.withheld,
        "loss": round(shared.loss, 3),
        "columns": [
            {"name": each.column, "level": each.level, "says": level_words(each), "loss": round(each.loss, 3)}
            for each in shared.coarsened
        ],
        "notes": list(NOTES),
    }


def _resources(table: SharedTable, shared: SharedData, protocol: Protocol) -> tuple[dict[str, Any], ...]:
    schema: dict[str, Any] = {
        "fields": [_field(column, shared, protocol) for column in table.columns],
        "missingValues": [""],
    }
    if table.key:
        schema["primaryKey"] = list(table.key)
    csv = {
        "profile": "tabular-data-resource",
        "name": table.name,
        "description": TABLES[table.name].format(k=shared.k_required),
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


def _field(column: SharedColumn, shared: SharedData, protocol: Protocol) -> dict[str, Any]:
    label, about = ABOUT[column.about]
    window = protocol.window(column.window).label if column.window else ""
    coarse = COARSENED if column.about in {each.column for each in shared.coarsened} else ""
    rule = f"Poor: {column.rule}." if column.rule else ""
    description = " ".join(filter(None, (about.format(window=window), coarse, rule)))
    field: dict[str, Any] = {
        "name": column.name,
        "type": column.kind,
        "title": column.label or label,
        "description": description,
    }
    if column.allowed:
        field["constraints"] = {"enum": list(column.allowed)}
    return field
