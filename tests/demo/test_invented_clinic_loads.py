"""The invented clinic loads whole, with queries on just the odd rows."""

from collections import Counter
from datetime import date
from pathlib import Path

from outcomes.capture import HeldRows
from outcomes.capture.reader import read_sheets
from outcomes.capture.validation import check_sheets
from outcomes.protocol import default_protocol

WORKBOOK = Path(__file__).parents[2] / "demo" / "invented_clinic.xlsx"


def test_nothing_is_refused_and_the_odd_rows_are_asked_about():
    protocol = default_protocol()
    checked = check_sheets(read_sheets(WORKBOOK, protocol), protocol, as_of=date(2026, 6, 30), held=HeldRows())
    assert checked.problems == ()
    asked = Counter(query.query_id for query in checked.queries)
    assert asked["defect_wider_than_lid"] == 1
    assert asked["little_tarsus"] == 2
    assert asked["unusual_division"] >= 1
    assert asked["jump_margin_position_mm"] == 2  # there, and back again
    assert asked.total() < 12
