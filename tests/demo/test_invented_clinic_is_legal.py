"""Every row of the invented clinic's workbook keeps the data dictionary, and its planted oddities are there."""

from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
import python_calamine

from tests.demo.legality import BEFORE_DIVISION, ENDS, REQUIRED, faults, without_blanks

WORKBOOK = Path(__file__).parents[2] / "demo" / "invented_clinic.xlsx"


@pytest.fixture(scope="module")
def clinic():
    book = python_calamine.CalamineWorkbook.from_path(str(WORKBOOK))
    assert book.sheet_names == ["patients", "reconstructions", "reviews", "events", "definitions"]
    found = {}
    for name in REQUIRED:
        head, *rows = book.get_sheet_by_name(name).to_python()
        found[name] = [dict(zip(head, row, strict=True)) for row in rows]
    return without_blanks(found)


@pytest.fixture(scope="module")
def cases(clinic):
    return {row["case_id"]: row for row in clinic["reconstructions"]}


def copied(register):
    return {sheet: [dict(row) for row in rows] for sheet, rows in register.items()}


def test_every_row_is_legal(clinic):
    assert faults(clinic) == []


@pytest.mark.parametrize(
    "sheet, changes, says",
    [
        ("reviews", {"notch_mm": 9}, "notch_mm: 9"),
        ("reviews", {"oedema": 1.5}, "oedema: 1.5"),
        ("reviews", {"shoe_size": 44}, "shoe_size: 44"),
        ("reviews", {"mode": "letter"}, "millimetres by letter"),
        ("reviews", {"reviewed_on": date(2026, 7, 1)}, "outside the story"),
        ("reviews", {"recurrence": "confirmed"}, "without its event"),
        ("reviews", {"case_id": "VB-000Z-R"}, "no such cases"),
        ("reconstructions", {"divided_on": date(2016, 1, 1)}, "divided before the operation"),
        ("reconstructions", {"graft_donor": "upper lid", "cover": "advancement"}, "without its condition"),
        ("reconstructions", {"patient_id": "VB-000Z"}, "no such patient"),
        ("events", {"happened_on": date(2026, 7, 1)}, "outside the story"),
        ("events", {"kind": "sneeze"}, "'sneeze'"),
    ],
)
def test_the_check_sees_a_planted_fault(clinic, sheet, changes, says):
    spoilt = copied(clinic)
    row = next(row for row in spoilt[sheet] if sheet != "reviews" or "notch_mm" in row)
    row.update(changes)
    assert any(says in fault for fault in faults(spoilt)), faults(spoilt)


def test_the_check_sees_a_measure_before_division(clinic):
    spoilt = copied(clinic)
    undivided = {row["case_id"] for row in spoilt["reconstructions"] if "divided_on" not in row}
    watched = [row for row in spoilt["reviews"] if row["case_id"] in undivided]
    assert watched
    assert all(set(row) <= BEFORE_DIVISION for row in watched)
    watched[0]["oedema"] = 1
    assert any("before division" in fault for fault in faults(spoilt))


def test_margin_words_agree_with_the_clear_distances(cases):
    for row in cases.values():
        clear = [row[field] for field in ("histology_lateral_mm", "histology_deep_mm") if field in row]
        if row.get("histology_margin") == "clear":
            assert min(clear) >= 1
        if row.get("histology_margin") == "close":
            assert 0 < min(clear) < 1
        if row.get("histology_margin") == "involved":
            assert min(clear) == 0


def test_a_reason_for_early_division_goes_with_an_early_division(cases):
    early = [row for row in cases.values() if "division_early_reason" in row]
    assert len(early) > 5
    assert all(row["divided_on"] < row["division_planned_on"] for row in early)


def test_every_lid_of_a_person_has_its_own_side(cases):
    assert len({(row["patient_id"], row["side"]) for row in cases.values()}) == len(cases)


def test_a_departure_is_the_same_for_both_lids(clinic, cases):
    ends, lids = {}, {}
    for row in cases.values():
        lids.setdefault(row["patient_id"], set()).add(row["case_id"])
    for row in clinic["events"]:
        if row["kind"] in ENDS:
            ends.setdefault(cases[row["case_id"]]["patient_id"], []).append((row["kind"], row["happened_on"]))
    assert all(len(set(days)) == 1 and len(days) == len(lids[patient]) for patient, days in ends.items())


def test_a_dated_recurrence_was_confirmed_at_a_review_of_that_day(clinic):
    said = {(row["case_id"], row["reviewed_on"]) for row in clinic["reviews"] if row.get("recurrence") == "confirmed"}
    dated = {(row["case_id"], row["happened_on"]) for row in clinic["events"] if row["kind"] == "recurrence"}
    assert said == dated
    assert len(dated) >= 3


def test_retraction_is_entered_only_where_the_fellow_lid_cannot_serve(clinic):
    entered = [row for row in clinic["reviews"] if "retraction_mm" in row]
    assert entered
    assert not [row for row in entered if "fellow_margin_position_mm" in row]


def test_lengths_are_whole_and_half_millimetres(clinic):
    lengths = [value for row in clinic["reviews"] for column, value in row.items() if column.endswith("_mm")]
    assert all(value * 2 == int(value * 2) for value in lengths)


def test_the_odd_rows_are_there_and_few(clinic, cases):
    wide = [row for row in cases.values() if row["defect_width_mm"] > row["lid_width_mm"]]
    thin = [row for row in cases.values() if row["tarsus_left_mm"] < 4]
    late = [
        row
        for row in cases.values()
        if row["cover"] == "graft"
        and "divided_on" in row
        and row["divided_on"] - row["operated_on"] > timedelta(days=42)
    ]
    assert (len(wide), len(thin), len(late)) == (1, 2, 1)
    runs = {}
    for row in clinic["reviews"]:
        if "margin_position_mm" in row:
            runs.setdefault(row["case_id"], []).append(row["margin_position_mm"])
    jumps = [case for case, run in runs.items() if any(abs(b - a) >= 4 for a, b in pairwise(run))]
    assert len(jumps) == 1
