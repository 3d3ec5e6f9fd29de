"""The words: every measure, scale, unit, limit, threshold, cover, window and schedule, said once."""

from outcomes.protocol.counsel import CounselRules, Likeness, Published, Told
from outcomes.protocol.entries import COHORTS, Characteristic, Cover, Measure, Query, Rules, Threshold, Timed, Window
from outcomes.protocol.field import Field, Raw, Reading, Value
from outcomes.protocol.protocol import KEYS, SHEETS, Protocol
from outcomes.protocol.reading import DEFAULT, default_protocol, protocol_from_text, read_protocol
from outcomes.protocol.row import Row
from outcomes.protocol.synonyms import Synonyms

__all__ = [
    "COHORTS",
    "DEFAULT",
    "KEYS",
    "SHEETS",
    "Characteristic",
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
    "Row",
    "Rules",
    "Synonyms",
    "Threshold",
    "Timed",
    "Told",
    "Value",
    "Window",
    "default_protocol",
    "protocol_from_text",
    "read_protocol",
]
