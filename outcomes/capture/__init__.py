"""From a person or a sheet to checked rows and refusals."""

from outcomes.capture.amending import check_amended
from outcomes.capture.checking import Checked, check_sheets
from outcomes.capture.entry import Held, Queried
from outcomes.capture.raw import RawSheet, RawSheets
from outcomes.capture.reading import digest_of, read_sheets
from outcomes.capture.template import write_template

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
