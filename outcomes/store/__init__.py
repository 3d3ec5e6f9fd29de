"""The only room that speaks to DuckDB: open, migrate, record with history, extract, freeze, back up.

The names below are imported when they are first used, so that who reads does not wait for what writes.
"""

from typing import TYPE_CHECKING

from outcomes.lazy_names import lazy_names

if TYPE_CHECKING:
    from outcomes.store.acceptance import Acceptance, AcceptedQuery, accept_query, accepted_queries
    from outcomes.store.amendment import Amendment, AmendmentResult, amend_value, withdraw_patient
    from outcomes.store.audit_chain import Source
    from outcomes.store.backup import Backup, back_up, check_backup, restore
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
    "back_up",
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
_MODULES = {
    "GRAINS": "outcomes.store.register",
    "VIEWS": "outcomes.store.query.views",
    "Acceptance": "outcomes.store.acceptance",
    "AcceptedQuery": "outcomes.store.acceptance",
    "Amendment": "outcomes.store.amendment",
    "AmendmentResult": "outcomes.store.amendment",
    "Backup": "outcomes.store.backup",
    "Erasure": "outcomes.store.register",
    "ErasureResult": "outcomes.store.erasure",
    "Freeze": "outcomes.store.snapshot",
    "Limits": "outcomes.store.query.client",
    "LoadResult": "outcomes.store.load",
    "OverruledValue": "outcomes.store.load",
    "Patience": "outcomes.store.connection",
    "ProtocolEffects": "outcomes.store.protocol_change",
    "ProtocolVersion": "outcomes.store.protocol_change",
    "QueryResult": "outcomes.store.query.client",
    "Question": "outcomes.store.query.catalogue",
    "QuestionRefused": "outcomes.store.query.client",
    "Register": "outcomes.store.register",
    "RowsByKey": "outcomes.store.register",
    "Setting": "outcomes.store.query.catalogue",
    "Source": "outcomes.store.audit_chain",
    "SqlQuestion": "outcomes.store.query.client",
    "ValueVersion": "outcomes.store.history",
    "View": "outcomes.store.query.views",
    "accept_query": "outcomes.store.acceptance",
    "accepted_queries": "outcomes.store.acceptance",
    "amend_value": "outcomes.store.amendment",
    "ask": "outcomes.store.query.client",
    "back_up": "outcomes.store.backup",
    "change_protocol": "outcomes.store.protocol_change",
    "check_backup": "outcomes.store.backup",
    "check_register": "outcomes.store.integrity",
    "code_as_held": "outcomes.store.register",
    "create_register": "outcomes.store.create",
    "erase_patients": "outcomes.store.erasure",
    "export_plain": "outcomes.store.export",
    "freeze": "outcomes.store.snapshot",
    "freezes_of": "outcomes.store.snapshot",
    "guessed": "outcomes.store.query.catalogue",
    "patients_of_cases": "outcomes.store.erasure",
    "protocol_effects": "outcomes.store.protocol_change",
    "protocol_versions": "outcomes.store.protocol_change",
    "queries_folder": "outcomes.store.sql",
    "question": "outcomes.store.query.catalogue",
    "questions": "outcomes.store.query.catalogue",
    "reading": "outcomes.store.register",
    "reading_frozen": "outcomes.store.snapshot",
    "record_rows": "outcomes.store.load",
    "remove_row": "outcomes.store.removal",
    "restore": "outcomes.store.backup",
    "restore_row": "outcomes.store.removal",
    "statement": "outcomes.store.sql",
    "statements_in": "outcomes.store.sql",
    "views": "outcomes.store.query.views",
    "withdraw_patient": "outcomes.store.amendment",
    "write_parquet": "outcomes.store.query.client",
}
__getattr__ = lazy_names(_MODULES)
