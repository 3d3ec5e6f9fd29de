"""The only room that speaks to DuckDB: open, migrate, record with history, extract, freeze, back up."""

from outcomes.store.acceptance import Acceptance, accept_query, accepted_queries
from outcomes.store.amendment import Amendment, AmendmentResult, amend_value, withdraw_patient
from outcomes.store.audit_chain import Source
from outcomes.store.backup import Backup, backup, check_backup, restore
from outcomes.store.connection import Patience
from outcomes.store.create import create_register
from outcomes.store.erasure import ErasureResult, erase_patients
from outcomes.store.export import export_plain
from outcomes.store.history import ValueVersion
from outcomes.store.integrity import check_register
from outcomes.store.load import LoadResult, OverruledValue, record_rows
from outcomes.store.query.catalogue import Question, Setting, guessed, question, questions
from outcomes.store.query.client import Limits, QueryResult, QuestionRefused, SqlQuestion, ask, write_parquet
from outcomes.store.query.views import VIEWS, View, views
from outcomes.store.register import GRAINS, Erasure, HeldRows, Register, reading
from outcomes.store.snapshot import Freeze, freeze, freezes_of, reading_frozen
from outcomes.store.sql import queries_folder, statement, statements_in

__all__ = [
    "GRAINS",
    "VIEWS",
    "Acceptance",
    "Amendment",
    "AmendmentResult",
    "Backup",
    "Erasure",
    "ErasureResult",
    "Freeze",
    "HeldRows",
    "Limits",
    "LoadResult",
    "OverruledValue",
    "Patience",
    "QueryResult",
    "Question",
    "QuestionRefused",
    "Register",
    "Setting",
    "Source",
    "SqlQuestion",
    "ValueVersion",
    "View",
    "accept_query",
    "accepted_queries",
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
