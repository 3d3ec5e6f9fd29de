"""Read, check and write the sheets that a clinic fills in."""

from outcomes.capture.amendment import check_amended
from outcomes.capture.entry import RowQuery
from outcomes.capture.held_rows import BlankCell, HeldRows
from outcomes.capture.raw_sheets import RawSheet, RawSheets
from outcomes.capture.reader import digest_of, read_sheets
from outcomes.capture.template import write_template
from outcomes.capture.validation import CheckedRows, check_sheets

__all__ = [
    "BlankCell",
    "CheckedRows",
    "HeldRows",
    "RawSheet",
    "RawSheets",
    "RowQuery",
    "check_amended",
    "check_sheets",
    "digest_of",
    "read_sheets",
    "write_template",
]
