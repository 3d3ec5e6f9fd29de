"""The words: every measure, scale, unit, limit, threshold, cover, window and schedule, said once."""

from outcomes.protocol.counsel import CounselRules, Likeness, Published, Told
from outcomes.protocol.entries import COHORTS, Characteristic, Cover, Measure, Query, Rules, Threshold, Timed, Window
from outcomes.protocol.field import Field, Raw, Reading, Value
from outcomes.protocol.protocol import KEYS, SHEETS, Protocol
from outcomes.protocol.reading import DEFAULT, default_protocol, protocol_from_text, read_protocol
from outcomes.protocol.row import (
    DAYS,
    Key,
    MergedRow,
    Row,
    RowAddress,
    SheetTexts,
    folded_code,
    match_rows,
    merge_row,
    sheet_key,
    value_text,
)

__all__ = [
    "COHORTS",
    "DAYS",
    "DEFAULT",
    "KEYS",
    "SHEETS",
    "Characteristic",
    "CounselRules",
    "Cover",
    "Field",
    "Key",
    "Likeness",
    "Measure",
    "MergedRow",
    "Protocol",
    "Published",
    "Query",
    "Raw",
    "Reading",
    "Row",
    "RowAddress",
    "Rules",
    "SheetTexts",
    "Threshold",
    "Timed",
    "Told",
    "Value",
    "Window",
    "default_protocol",
    "folded_code",
    "match_rows",
    "merge_row",
    "protocol_from_text",
    "read_protocol",
    "sheet_key",
    "value_text",
]
