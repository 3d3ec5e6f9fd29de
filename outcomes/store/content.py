"""The digest of the rows as they stand, computed part by part so that their texts are never in memory at once."""

from __future__ import annotations

from collections.abc import Iterator

import duckdb

from outcomes.protocol import KEYS, SHEETS, Protocol
from outcomes.store.audit_chain import SPAN, LongText, digest_of_parts
from outcomes.store.sheet_sql import with_row_texts, with_texts_unmeasured
from outcomes.store.sql import statement

Part = tuple[int, int, int]
"""Its number, and the first and last record of its rows."""


def content_digest(con: duckdb.DuckDBPyConnection, protocol: Protocol, *, span: int = SPAN) -> str:
    """The digest of the rows as they stand and of the protocol: of the texts of all rows, in the order of the texts.

    A text begins with its sheet and a code, so that rows in the order of sheet and code come in the order of their texts.
    """
    parts = {sheet: _standing(con, sheet, span) for sheet in sorted(SHEETS)}
    sizes = [_size(con, sheet) for sheet in SHEETS]
    lines, letters = (sum(each) for each in zip(*sizes, strict=True))
    text = LongText(letters + max(lines - 1, 0), _pieces(con, parts))
    digest = digest_of_parts("content", protocol.text, text)
    for sheet in SHEETS:
        con.execute(f"drop table standing_{sheet}")
    return digest


def _standing(con: duckdb.DuckDBPyConnection, sheet: str, span: int) -> list[Part]:
    """The rows of the sheet as they stand are in a table of their own, in parts; gives those."""
    sql = statement("chain/standing").format(sheet=sheet, code=KEYS[sheet][0])
    con.execute(f"create temp table standing_{sheet} as {sql}", {"span": span})
    ends = f"select part, min(record), max(record) from standing_{sheet} group by part order by part"  # noqa: S608
    return con.execute(ends).fetchall()


def _size(con: duckdb.DuckDBPyConnection, sheet: str) -> tuple[int, int]:
    """How many rows of the sheet stand, and how many letters their texts have."""
    which = f"semi join standing_{sheet} using (record, change)"
    sql = with_texts_unmeasured(con, "chain/content_size", sheet, which)
    lines, letters = con.execute(sql, {"sheet": sheet}).fetchall()[0]
    return int(lines), int(letters)


def _pieces(con: duckdb.DuckDBPyConnection, parts: dict[str, list[Part]]) -> Iterator[str]:
    """The texts of all rows in order, with a line break between two."""
    begun = False
    for sheet, its in parts.items():
        for part, low, high in its:
            which = f"semi join (from standing_{sheet} where part = {part}) as part using (record, change)"
            which += f" where record between {low} and {high}"  # few, of a table that was loaded in the order of codes
            sql = with_row_texts(con, "chain/content", sheet, which)
            yield ("\n" if begun else "") + con.execute(sql).fetchall()[0][0]
            begun = True
