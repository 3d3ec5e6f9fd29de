"""The only room that speaks to DuckDB: open, migrate, record with history, extract, freeze, back up."""

from outcomes.store.amending import Amended, Amendment, amend_value, withdraw_patient
from outcomes.store.chain import Source
from outcomes.store.checking import check_register
from outcomes.store.making import create_register
from outcomes.store.opening import Patience
from outcomes.store.past import Past
from outcomes.store.recording import Overruled, Recorded, record_rows
from outcomes.store.register import GRAINS, Erasure, Held, Register, reading
from outcomes.store.statements import queries_folder, statement, statements_in

__all__ = [
    "GRAINS",
    "Erasure",
    "Held",
    "Overruled",
    "Past",
    "Patience",
    "Recorded",
    "Register",
    "Source",
    "check_register",
    "create_register",
    "queries_folder",
    "reading",
    "record_rows",
    "statement",
    "statements_in",
]
