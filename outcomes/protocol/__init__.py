"""The protocol of a register: every field, measure, scale, unit, limit, threshold, cover, window and schedule, stated once."""

from outcomes.protocol.counsel import CounselItem, Likeness, Published
from outcomes.protocol.difference import Difference, keys_lacking, protocol_differences
from outcomes.protocol.entries import (
    COHORTS,
    Characteristic,
    CounselRules,
    Cover,
    Measure,
    Query,
    Rules,
    Threshold,
    Timed,
    Window,
    with_unit,
)
from outcomes.protocol.field import SHEETS, Field, Raw, Reading, Value
from outcomes.protocol.protocol import KEYS, Protocol
from outcomes.protocol.reading import DEFAULT, default_protocol, protocol_from_text, read_protocol
from outcomes.protocol.sheet_row import (
    DAYS,
    Key,
    MergedRow,
    RowAddress,
    SheetRow,
    SheetTexts,
    folded_code,
    match_rows,
    merge_row,
    sheet_key,
    value_text,
)
from outcomes.protocol.synonyms import Synonyms

__all__ = [
    "COHORTS",
    "DAYS",
    "DEFAULT",
    "KEYS",
    "SHEETS",
    "Characteristic",
    "CounselItem",
    "CounselRules",
    "Cover",
    "Difference",
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
    "RowAddress",
    "Rules",
    "SheetRow",
    "SheetTexts",
    "Synonyms",
    "Threshold",
    "Timed",
    "Value",
    "Window",
    "default_protocol",
    "folded_code",
    "keys_lacking",
    "match_rows",
    "merge_row",
    "protocol_differences",
    "protocol_from_text",
    "read_protocol",
    "sheet_key",
    "value_text",
    "with_unit",
]
