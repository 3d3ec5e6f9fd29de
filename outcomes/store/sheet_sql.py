"""SQL over the sheets' tables, made from the columns that each table has.

A column added by a migration is read, frozen, sealed and shown in the history without any further line of SQL.
"""

from __future__ import annotations

import duckdb

from outcomes.protocol import KEYS, SHEETS
from outcomes.store.schema import FLAGS, all_columns, columns
from outcomes.store.sql import statement

_SPAN = "where record between $low and $high"
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


def versions_sql(sheet: str) -> str:
    """Every version of the rows of the case $case_id, or of its patient."""
    where = _OF_PATIENT if sheet == "patients" else _OF_CASE.format(sheet=sheet)
    return recorded_sql(sheet, f"(from {sheet} where {where})")


def frozen_sql(con: duckdb.DuckDBPyConnection, table: str) -> str:
    """What a freeze keeps of one table."""
    if table in SHEETS:
        return _filled("frozen", table, columns=", ".join(columns(con, table)))
    return statement("extracts/withdrawn" if table == "withdrawn" else f"freeze/{table}")


def with_row_texts(con: duckdb.DuckDBPyConnection, name: str) -> str:
    """A statement that reads `{row_texts}`: the sealed text of every version, of only what was recorded.

    A column added later is blank in older versions, so it changes none of their seals.
    """
    return statement(name).replace("{row_texts}", " union all ".join(_sheet_texts(con, sheet) for sheet in SHEETS))


def with_texts_of_span(con: duckdb.DuckDBPyConnection, name: str, sheet: str) -> str:
    """A statement that reads `{row_texts}`: the same of the versions of one sheet with a record from $low to $high."""
    return statement(name).replace("{row_texts}", _sheet_texts(con, sheet, _SPAN))


def _sheet_texts(con: duckdb.DuckDBPyConnection, sheet: str, where: str = "") -> str:
    parts = [f"'{name}=' || {_as_text(name, kind)}" for name, kind in columns(con, sheet).items()]
    source = sheet
    flags = [flag for flag in FLAGS if flag in all_columns(con, sheet)]  # one of an earlier version has fewer
    parts[:0] = [f"case when {flag} then '{flag}' end" for flag in flags]
    if sheet == "reviews":
        parts += [_MEASURED, "measured"]
        line = f"string_agg(field || '=' || {_as_text('value', 'DOUBLE')}, {_FIELD} order by field) as measured"
        source += (
            f" left join (select record, change, {line} from observations {where} group by all) using (record, change)"  # noqa: S608
        )
    text = f"concat_ws({_FIELD}, {', '.join(parts)}) as text"
    return f"select '{sheet}' as sheet, record, change, salt, {text} from {source} {where}"  # noqa: S608 - our own tables


def _as_text(name: str, kind: str) -> str:
    return f"printf('%.17g', {name})" if kind == "DOUBLE" else name


def _filled(template: str, sheet: str, **parts: str) -> str:
    return statement(f"sheets/{template}").format(sheet=sheet, **parts)
