"""Check that the rows of the register refer to each other without a fault.

Every query in `queries/checks` returns faults, one a row: where, and what.
"""

from __future__ import annotations

from pathlib import Path

import duckdb

from outcomes.store.connection import PATIENT, Patience, open_to_read
from outcomes.store.create import verified
from outcomes.store.sql import statement, statements_in


def check_register(path: Path, patience: Patience = PATIENT) -> tuple[str, ...]:
    """Every fault found, in words; none when all is well. Raises RegisterRefused when the register cannot be read."""
    with verified(open_to_read, path, patience) as (con, _chain):
        return faults_in(con)


def faults_in(con: duckdb.DuckDBPyConnection) -> tuple[str, ...]:
    """Every fault found by the checks on an open register, in words."""
    faults = [row for name in statements_in("checks") for row in con.execute(statement(name)).fetchall()]
    return tuple(f"{place}: {fault}" for place, fault in faults)
