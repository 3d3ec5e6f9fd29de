"""The protocol of a register: every field, measure, scale, unit, limit, threshold, cover, window and schedule, stated once."""

from outcomes.protocol.counsel import CounselItem, Likeness, Published
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
)
from outcomes.protocol.field import SHEETS, Field, Raw, Reading, Value
from outcomes.protocol.protocol import KEYS, Protocol
from outcomes.protocol.reading import DEFAULT, default_protocol, protocol_from_text, read_protocol
from outcomes.protocol.sheet_row import SheetRow
from outcomes.protocol.synonyms import Synonyms

__all__ = [
    "COHORTS",
    "DEFAULT",
    "KEYS",
    "SHEETS",
    "Characteristic",
    "CounselItem",
    "CounselRules",
    "Cover",
    "Field",
    "Likeness",
    "Measure",
    "Protocol",
    "Published",
    "Query",
    "Raw",
    "Reading",
    "Rules",
    "SheetRow",
    "Synonyms",
    "Threshold",
    "Timed",
    "Value",
    "Window",
    "default_protocol",
    "protocol_from_text",
    "read_protocol",
]
