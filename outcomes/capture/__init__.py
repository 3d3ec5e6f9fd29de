"""From a person or a sheet to checked rows and refusals."""

from outcomes.capture.amendment import check_amended
from outcomes.capture.entry import Held, Queried
from outcomes.capture.raw_sheets import RawSheet, RawSheets
from outcomes.capture.reader import digest_of, read_sheets
from outcomes.capture.template import write_template
from outcomes.capture.validation import Checked, check_sheets

__all__ = [
    "Checked",
    "Held",
    "Queried",
    "RawSheet",
    "RawSheets",
    "check_amended",
    "check_sheets",
    "digest_of",
    "read_sheets",
    "write_template",
]
