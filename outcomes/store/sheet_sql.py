"""SQL over the sheets' tables, made from the columns that each table has.

A column added by a migration is read, frozen, sealed and shown in the history without any further line of SQL.
"""

from __future__ import annotations

import duckdb

from outcomes.protocol import KEYS, SHEETS
from outcomes.store.schema import BOOKKEEPING, FLAGS, all_columns, columns
from outcomes.store.sql import statement

_FIELD, _MEASURED = "chr(31)", "chr(30)"
_OF_CASE = "record in (select record from {sheet} where case_id = $case_id)"
_OF_PATIENT = "patient_id in (select patient_id from reconstructions where case_id = $case_id)"


def extract_sql(con: duckdb.DuckDBPyConnection, grain: str) -> str:
    """The rows of one grain as they stand, in order; reviews and their values in none, as they are many."""
    if grain == "reviews":
        return statement("extracts/reviews").format(columns=", ".join(columns(con, grain)))
    if grain not in SHEETS:
        return statement(f"extracts/{grain}")
    key = ", ".join(f"{part} nulls first" for part in KEYS[grain])
    return _filled("extract", grain, columns=", ".join(columns(con, grain)), key=key)


def recorded_sql(sheet: str, view: str) -> str:
    """Every row of one view of a sheet, each with its measured values as one map."""
    return _filled("recorded", sheet, versions=view)


def of_codes_sql(sheet: str, state: str) -> str:
    """The rows of a sheet, `latest` or `current`, of the patients and cases in the table `asked_codes`."""
    named = {"patients": ["patient_id"], "reconstructions": ["case_id", "patient_id"]}.get(sheet, ["case_id"])
    codes = " or ".join(f"{name} in (select code from asked_codes)" for name in named)  # noqa: S608 - our own names
    return _filled("of_codes", sheet, view=f"{state}_{sheet}", codes=codes)


def versions_sql(sheet: str) -> str:
    """Every version of the rows of the case $case_id, or of its patient."""
    where = _OF_PATIENT if sheet == "patients" else _OF_CASE.format(sheet=sheet)
    return recorded_sql(sheet, f"(from {sheet} where {where})")


def frozen_sql(con: duckdb.DuckDBPyConnection, table: str) -> str:
    """What a freeze keeps of one table."""
    if table in SHEETS:
        return _filled("frozen", table, columns=", ".join(columns(con, table)))
    return statement("extracts/withdrawn" if table == "withdrawn" else f"freeze/{table}")


def with_row_texts(con: duckdb.DuckDBPyConnection, name: str, sheet: str, which: str) -> str:
    """A statement that reads `{row_texts}`: the sealed texts of some versions of one sheet, of only what was recorded.

    A column added later is blank in older versions, so it changes none of their seals.
    """
    measured = f"{_LISTED} as measured"
    line = f"(select record, change, {measured} from observations {which} group by all)"  # noqa: S608 - our own tables
    joined = f"left join {line} using (record, change)" if sheet == "reviews" else ""
    return statement(name).replace("{row_texts}", _texts(con, sheet, f"{joined} {which}", ["measured"] * bool(joined)))


def with_texts_unmeasured(con: duckdb.DuckDBPyConnection, name: str, sheet: str, which: str) -> str:
    """The same without what was measured; `{measured}` is the text of a value, `{which}` tells the versions."""
    whole = statement(name).replace("{row_texts}", _texts(con, sheet, which, []))
    return whole.replace("{measured}", _MEASURED_VALUE).replace("{which}", which)


def _texts(con: duckdb.DuckDBPyConnection, sheet: str, which: str, measured: list[str]) -> str:
    held = all_columns(con, sheet)
    flags = [flag for flag in FLAGS if flag in held]  # one of an earlier version has fewer
    parts = [f"case when {flag} then '{flag}' end" for flag in flags]
    parts += [f"'{name}=' || {_as_text(name, kind)}" for name, kind in held.items() if name not in BOOKKEEPING]
    parts += [_MEASURED, *measured] if sheet == "reviews" else []
    text = f"concat_ws({_FIELD}, {', '.join(parts)}) as text"
    return f"select '{sheet}' as sheet, record, change, salt, {text} from {sheet} {which}"  # noqa: S608 - our own tables


def _as_text(name: str, kind: str) -> str:
    """A value as it is sealed: a number with 17 digits, which a whole one has too when it is written as such, and sooner."""
    if kind != "DOUBLE":
        return name
    whole = f"{name} = floor({name}) and abs({name}) < 1e9 and not signbit({name})"
    return f"case when {whole} then {name}::integer::varchar else printf('%.17g', {name}) end"


_MEASURED_VALUE = f"field || '=' || {_as_text('value', 'DOUBLE')}"
# The values in the order of their fields: sorted with a sign between field and value that comes before every letter.
_SORTED = f"list_sort(list(field || chr(1) || {_as_text('value', 'DOUBLE')}))"
_LISTED = f"replace(array_to_string({_SORTED}, {_FIELD}), chr(1), '=')"


def _filled(template: str, sheet: str, **parts: str) -> str:
    return statement(f"sheets/{template}").format(sheet=sheet, **parts)
