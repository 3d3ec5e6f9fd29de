"""The only room that speaks to DuckDB: open, migrate, record with history, extract, freeze, back up."""

from outcomes.store.acceptance import Acceptance, AcceptedQuery, accept_query, accepted_queries
from outcomes.store.amendment import Amendment, AmendmentResult, amend_value, withdraw_patient
from outcomes.store.audit_chain import Source
from outcomes.store.backup import Backup, backup, check_backup, restore
from outcomes.store.connection import Patience
from outcomes.store.create import create_register
from outcomes.store.erasure import ErasureResult, erase_patients, patients_of_cases
from outcomes.store.export import export_plain
from outcomes.store.history import ValueVersion
from outcomes.store.integrity import check_register
from outcomes.store.load import LoadResult, OverruledValue, record_rows
from outcomes.store.protocol_change import (
    ProtocolEffects,
    ProtocolVersion,
    change_protocol,
    protocol_effects,
    protocol_versions,
)
from outcomes.store.query.catalogue import Question, Setting, guessed, question, questions
from outcomes.store.query.client import Limits, QueryResult, QuestionRefused, SqlQuestion, ask, write_parquet
from outcomes.store.query.views import VIEWS, View, views
from outcomes.store.register import GRAINS, Erasure, Register, RowsByKey, code_as_held, reading
from outcomes.store.removal import remove_row, restore_row
from outcomes.store.snapshot import Freeze, freeze, freezes_of, reading_frozen
from outcomes.store.sql import queries_folder, statement, statements_in

__all__ = [
    "GRAINS",
    "VIEWS",
    "Acceptance",
    "AcceptedQuery",
    "Amendment",
    "AmendmentResult",
    "Backup",
    "Erasure",
    "ErasureResult",
    "Freeze",
    "Limits",
    "LoadResult",
    "OverruledValue",
    "Patience",
    "ProtocolEffects",
    "ProtocolVersion",
    "QueryResult",
    "Question",
    "QuestionRefused",
    "Register",
    "RowsByKey",
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
    "change_protocol",
    "check_backup",
    "check_register",
    "code_as_held",
    "create_register",
    "erase_patients",
    "export_plain",
    "freeze",
    "freezes_of",
    "guessed",
    "patients_of_cases",
    "protocol_effects",
    "protocol_versions",
    "queries_folder",
    "question",
    "questions",
    "reading",
    "reading_frozen",
    "record_rows",
    "remove_row",
    "restore",
    "restore_row",
    "statement",
    "statements_in",
    "views",
    "withdraw_patient",
    "write_parquet",
]
