"""Accept queries about the data as right, so that they stay quiet: who, when and why, kept in the audit chain.

An acceptance is a change without rows; the query and the codes that it concerns stand in the change's sealed `file`, so
that an erasure of one of the codes takes the reason with it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from outcomes.errors import RegisterRefused
from outcomes.store.amendment import need_reason
from outcomes.store.audit_chain import Source
from outcomes.store.connection import PATIENT, Patience
from outcomes.store.register import Register
from outcomes.store.transaction import changing

KIND = "accept"
_ID = re.compile(r"[0-9a-f]{8}")


@dataclass(frozen=True)
class AcceptedQuery:
    """The identifier of a query, and the codes of the cases, patients or assessors that it concerns."""

    query_id: str
    codes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Acceptance:
    """A query that was accepted: by which change, when, by whom and why."""

    query_id: str
    change: int
    at: datetime
    who: str
    reason: str


def accept_query(
    path: Path, query: AcceptedQuery, *, source: Source, at: datetime, patience: Patience = PATIENT
) -> int:
    """The query is accepted afterwards; gives the number of the change.

    After a failure nothing is changed. Raises RegisterRefused without a reason, or for what is no identifier of a query.
    """
    need_reason("an acceptance", source)
    if not _ID.fullmatch(query.query_id):
        raise RegisterRefused(
            f'"{query.query_id}" is no identifier of a query: it has eight digits, as `outcomes check` lists it'
        )
    with changing(path, KIND, replace(source, file=f"{query.query_id} {' '.join(query.codes)}"), at, patience) as draft:
        draft.without_rows = True
        return draft.number


def accepted_queries(register: Register) -> dict[str, Acceptance]:
    """Every accepted query by its identifier; a freeze holds none, nor does what was erased count."""
    rows = register.con.execute(
        "select file[:8], change, made_at, who, reason from changes where kind = ? order by change", [KIND]
    ).fetchall()
    return {row[0]: Acceptance(*row) for row in rows if _ID.fullmatch(row[0])}
