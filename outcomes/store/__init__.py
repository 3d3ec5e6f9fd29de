"""The only room that speaks to DuckDB: open, migrate, record with history, extract, freeze, back up."""

from outcomes.store.amending import Amended, Amendment, amend_value, withdraw_patient
from outcomes.store.asking import Answer, Asked, Limits, QuestionRefused, ask, write_parquet
from outcomes.store.backing_up import Backup, backup, check_backup, restore
from outcomes.store.chain import Source
from outcomes.store.checking import check_register
from outcomes.store.documented import VIEWS, View, views
from outcomes.store.erasing import Erased, erase_patients
from outcomes.store.exporting import export_plain
from outcomes.store.freezing import Freeze, freeze, freezes_of, reading_frozen
from outcomes.store.making import create_register
from outcomes.store.opening import Patience
from outcomes.store.past import Past
from outcomes.store.questions import Question, Setting, guessed, question, questions
from outcomes.store.recording import Overruled, Recorded, record_rows
from outcomes.store.register import GRAINS, Erasure, Held, Register, reading
from outcomes.store.statements import queries_folder, statement, statements_in

__all__ = [
    "GRAINS",
    "VIEWS",
    "Amended",
    "Amendment",
    "Answer",
    "Asked",
    "Backup",
    "Erased",
    "Erasure",
    "Freeze",
    "Held",
    "Limits",
    "Overruled",
    "Past",
    "Patience",
    "Question",
    "QuestionRefused",
    "Recorded",
    "Register",
    "Setting",
    "Source",
    "View",
    "amend_value",
    "ask",
    "backup",
    "check_backup",
    "check_register",
    "create_register",
    "erase_patients",
    "export_plain",
    "freeze",
    "freezes_of",
    "guessed",
    "queries_folder",
    "question",
    "questions",
    "reading",
    "reading_frozen",
    "record_rows",
    "restore",
    "statement",
    "statements_in",
    "views",
    "withdraw_patient",
    "write_parquet",
]
