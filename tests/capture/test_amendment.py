"""One amended value is held to the same rules as a loaded row."""

from datetime import date

import pytest

from outcomes.capture import check_amended
from outcomes.errors import DataRefused
from outcomes.protocol import RowAddress, default_protocol
from tests.capture.clinic import AS_OF, clinic, loaded


@pytest.fixture
def amended(tmp_path):
    held = {}
    for row in loaded(tmp_path, clinic()).rows:
        held.setdefault(row.sheet, {})[row.key] = row.values

    def check(case_id, field, value, day=None, assessor=""):
        return check_amended(default_protocol(), held, RowAddress(case_id, day, assessor), (field, value), as_of=AS_OF)

    return check


@pytest.mark.parametrize(
    "case_id, field, value, day",
    [
        ("C001", "defect_width_mm", 15.0, None),
        ("C001", "graft_donor", None, None),
        ("C001", "birth_year", 1951, None),
        ("C001", "oedema", 1, date(2024, 9, 24)),
        ("C001", "reviewed_on", date(2024, 9, 25), date(2024, 9, 24)),
        ("C001", "percent_lost", 20.0, date(2024, 3, 12)),
    ],
)
def test_a_lawful_value_passes(amended, case_id, field, value, day):
    assert amended(case_id, field, value, day) == ()


@pytest.mark.parametrize(
    "case_id, field, value, day, words",
    [
        ("C001", "divided_on", date(2024, 3, 1), None, "must lie after the operation (2024-03-05)"),
        (
            "C001",
            "divided_on",
            date(2024, 4, 9),
            None,
            "does not suit a review that the register holds (of 2024-04-02",
        ),
        (
            "C001",
            "operated_on",
            date(2024, 3, 13),
            None,
            "does not suit a event that the register holds (of 2024-03-12",
        ),
        ("C001", "cover", "advancement", None, 'goes only with cover "graft"'),
        ("C001", "surgeon", "Jane Wood", None, "use a study code"),
        ("C001", "birth_year", 2025, None, "lies after the operation of the patient's case (2024-03-05)"),
        ("C001", "mode", "telephone", date(2024, 9, 24), "allows no measure in mm"),
        ("C001", "reviewed_on", date(2024, 3, 20), date(2024, 9, 24), "lies before the division (2024-03-26; "),
        ("C001", "kind", "infection", date(2024, 3, 12), 'goes only with kind "cover failure"'),
    ],
)
def test_an_unlawful_value_is_refused_without_a_row_number(amended, case_id, field, value, day, words):
    with pytest.raises(DataRefused) as refusal:
        amended(case_id, field, value, day)
    assert any(words in reason for reason in refusal.value.reasons)
    assert not any(" row " in reason for reason in refusal.value.reasons)


def test_a_review_cannot_be_moved_onto_another(amended):
    with pytest.raises(DataRefused, match="hold such a row already"):
        amended("C001", "reviewed_on", date(2024, 4, 2), date(2024, 9, 24))


def test_an_odd_value_is_queried(amended):
    [query] = amended("C001", "margin_position_mm", 10.0, date(2024, 9, 24))
    assert query.query_id == "jump_margin_position_mm"


@pytest.mark.parametrize(
    "case_id, field, day, assessor",
    [
        ("C999", "defect_width_mm", None, ""),
        ("C001", "oedema", date(2024, 9, 1), ""),
        ("C001", "oedema", date(2024, 9, 24), "XY"),
        ("C001", "nonsense", None, ""),
        ("C999", "birth_year", None, ""),
    ],
)
def test_a_row_that_is_not_there_is_left_to_the_store(amended, case_id, field, day, assessor):
    assert amended(case_id, field, 1, day, assessor) == ()
