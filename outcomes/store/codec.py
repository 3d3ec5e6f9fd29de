"""Convert recorded values to what the tables keep, and back."""

from __future__ import annotations

from typing import Any

import duckdb

from outcomes.protocol import Field, Protocol, Value

Values = dict[str, Value]


def kept(field: Field, value: Value) -> Any:  # noqa: ANN401 - what the column takes
    """A recorded value as the table keeps it."""
    if field.observed:
        return field.number(value)
    return float(value) if isinstance(value, int | float) else value


def recorded(field: Field, stored: Any) -> Value:  # noqa: ANN401 - what the column gave
    """A value from the table as it was recorded: grades and years whole, yes and no as words."""
    if stored is None:
        return None
    if field.kind in {"grade", "year"}:
        return int(stored)
    if field.kind == "yes_no" and field.observed:
        return field.word(stored)
    return stored  # type: ignore[no-any-return]


def recorded_values(protocol: Protocol, sheet: str, row: dict[str, Any], observed: dict[str, float] | None) -> Values:
    """What was recorded in one row from the table; fields that were not recorded have no key."""
    measured = observed or {}
    both = ((field, measured.get(field.id) if field.observed else row.get(field.id)) for field in protocol.sheet(sheet))
    return {field.id: recorded(field, stored) for field, stored in both if stored is not None}


def named_rows(con: duckdb.DuckDBPyConnection, query: str, given: dict[str, Any] | None = None) -> list[dict[str, Any]]:
    """The rows of a query, each by column name."""
    answer = con.execute(query, given or {})
    names = [column[0] for column in answer.description or []]
    return [dict(zip(names, row, strict=True)) for row in answer.fetchall()]
