"""Remove a wrong row from every extract and count, and restore a removed one; its versions are kept."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from outcomes.errors import RegisterRefused
from outcomes.protocol import RowAddress
from outcomes.store.amendment import need_reason, the_case, the_only
from outcomes.store.audit_chain import Source
from outcomes.store.connection import PATIENT, Patience
from outcomes.store.current_rows import CurrentRow, current_rows, newest_rows
from outcomes.store.transaction import Draft, changing


def remove_row(
    path: Path, address: RowAddress, *, source: Source, at: datetime, patience: Patience = PATIENT
) -> tuple[str, ...]:
    """The row is in no extract, count or later freeze afterwards; with a case go its reviews and events.

    A file that holds the row does not bring it back. Gives the row's key. After a failure nothing is changed.
    """
    need_reason("a removal", source)
    with changing(path, "remove", source, at, patience) as draft:
        row = _case_or(draft, address, current_rows(draft.con, draft.protocol, address.sheet))
        _write(draft, row, "removed")
        return row.key


def restore_row(
    path: Path, address: RowAddress, *, source: Source, at: datetime, patience: Patience = PATIENT
) -> tuple[str, ...]:
    """The removed row stands again as it stood; gives its key. After a failure nothing is changed."""
    need_reason("bringing back a row", source)
    with changing(path, "restore-row", source, at, patience) as draft:
        rows = newest_rows(draft.con, draft.protocol, address.sheet)
        row = _case_or(draft, address, [row for row in rows if row.removed])
        _write(draft, row, "")
        return row.key


def _case_or(draft: Draft, address: RowAddress, rows: list[CurrentRow]) -> CurrentRow:
    """The row that is meant; a review or event only of a case that is not removed."""
    case = the_case(draft, address.case_id)
    if address.day is not None and case.removed:
        raise RegisterRefused(f'the case "{address.case_id}" was removed; bring it back first')
    if address.day is not None:
        return the_only(rows, address, address.sheet)
    if case.record not in {row.record for row in rows}:
        state = "is already removed" if case.removed else "is not removed"
        raise RegisterRefused(f'the case "{address.case_id}" {state}; nothing was changed')
    return case


def _write(draft: Draft, row: CurrentRow, flag: str) -> None:
    draft.add_version(row.sheet, row.record, row.values, flag)
    for name, said in row.amended.items():
        draft.add_overruled(row.sheet, row.record, name, said)
    for query_id, says in row.queries:
        draft.add_query(row.sheet, row.record, query_id, says)
