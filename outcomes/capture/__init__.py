"""Read, check and write the sheets that a clinic fills in."""

from outcomes.capture.amendment import check_amended
from outcomes.capture.date_text import ORDERS
from outcomes.capture.entry import RowQuery
from outcomes.capture.fault_kinds import FaultKind, fault_kinds, write_faults
from outcomes.capture.held_rows import BlankCell, HeldRows
from outcomes.capture.marked_workbook import write_marked
from outcomes.capture.raw_sheets import RawSheet, RawSheets, SheetForm, with_date_order
from outcomes.capture.reader import digest_of, read_sheets
from outcomes.capture.template import write_template
from outcomes.capture.validation import CheckedRows, check_sheets
from outcomes.capture.word_readings import apply_readings, parse_readings

__all__ = [
    "ORDERS",
    "BlankCell",
    "CheckedRows",
    "FaultKind",
    "HeldRows",
    "RawSheet",
    "RawSheets",
    "RowQuery",
    "SheetForm",
    "apply_readings",
    "check_amended",
    "check_sheets",
    "digest_of",
    "fault_kinds",
    "parse_readings",
    "read_sheets",
    "with_date_order",
    "write_faults",
    "write_marked",
    "write_template",
]
