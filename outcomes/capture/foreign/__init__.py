"""Bring sheets of another form into the register by a mapping that the clinic reads and edits."""

from outcomes.capture.foreign.account import OUTCOMES, CellAccount
from outcomes.capture.foreign.context import LoadContext
from outcomes.capture.foreign.guesses import MappingGuess, completed_mapping, guess_mapping
from outcomes.capture.foreign.mapping import BY_LINK, UNMAPPED, Mapping
from outcomes.capture.foreign.mapping_file import MappingFile, doubts_in, read_mapping, write_mapping
from outcomes.capture.foreign.settlement import MappedRows, first_cases, map_rows, shown_values
from outcomes.capture.foreign.sheet import ForeignSheet, read_foreign

__all__ = [
    "BY_LINK",
    "OUTCOMES",
    "UNMAPPED",
    "CellAccount",
    "ForeignSheet",
    "LoadContext",
    "MappedRows",
    "Mapping",
    "MappingFile",
    "MappingGuess",
    "completed_mapping",
    "doubts_in",
    "first_cases",
    "guess_mapping",
    "map_rows",
    "read_foreign",
    "read_mapping",
    "shown_values",
    "write_mapping",
]
