"""The checks of the sheets at their boundaries: the same day, the last allowed value, 1 % against 100 %. Expected by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta

import pytest

from outcomes.capture import HeldRows, check_sheets
from outcomes.capture.cells import _unreadable_text, _with_decimal_point
from outcomes.capture.raw_sheets import RawSheets, SheetForm, raw_sheet
from outcomes.capture.size_limits import CELL_LENGTH
from outcomes.errors import Problem
from outcomes.protocol import default_protocol
from tests.capture.clinic import AS_OF, grid
from tests.capture.rows import DIVIDED, OPERATED, PROTOCOL, checked, clinic, day, event, problems, queries, review

pytestmark = pytest.mark.quick

GRAFT = PROTOCOL.cover("graft").usual_division_days


def case_of(case_id, **more):
    return {**clinic()["reconstructions"][0], "case_id": case_id, **more}


# Order of dates.


@pytest.mark.parametrize("field", ["divided_on", "division_planned_on"])
@pytest.mark.parametrize("days,refused", [(-1, True), (0, True), (1, False)])
def test_division_lies_after_the_day_of_operation(field, days, refused):
    more = {"division_early_reason": "only-seeing eye"} if field == "divided_on" and days > 0 else {}
    found = problems(clinic(case={field: day(days), **more}))
    assert found == ([("reconstructions", 2, field)] if refused else [])


@pytest.mark.parametrize("year,refused", [(2023, False), (2024, False), (2025, True)])
def test_nobody_is_operated_on_before_the_year_of_birth(year, refused):
    found = problems(clinic(patients=[{"patient_id": "P1", "birth_year": year}]))
    assert [each[:2] for each in found if each[2] == "operated_on"] == ([("reconstructions", 2)] if refused else [])


@pytest.mark.parametrize("days,refused", [(-1, True), (0, False)])
def test_an_event_may_happen_on_the_day_of_operation_and_not_before(days, refused):
    found = problems(clinic(events=[event(days, "infection")]))
    assert found == ([("events", 2, "happened_on")] if refused else [])


@pytest.mark.parametrize("days,refused", [(-1, True), (0, False)])
def test_a_review_may_be_on_the_day_of_operation_and_not_before(days, refused):
    found = problems(clinic(reviews=[review(days, OPERATED)]))
    assert found == ([("reviews", 2, "reviewed_on")] if refused else [])


@pytest.mark.parametrize("days,refused", [(-1, True), (0, False)])
def test_a_measure_of_the_divided_lid_may_be_taken_on_the_day_of_division_and_not_before(days, refused):
    found = problems(clinic(reviews=[review(days, notch_mm=0)]))
    assert found == ([("reviews", 2, "reviewed_on")] if refused else [])


def test_a_review_before_division_without_a_measure_is_let_through():
    assert problems(clinic(reviews=[review(-1)])) == []


def test_a_measure_of_a_lid_that_was_never_divided_is_refused():
    assert problems(clinic(case={"divided_on": None}, reviews=[review(50, notch_mm=0)])) == [
        ("reviews", 2, "reviewed_on")
    ]


@pytest.mark.parametrize("days,refused", [(99, False), (100, False), (101, True)])
def test_a_review_may_be_on_the_day_of_death_and_not_after(days, refused):
    found = problems(clinic(reviews=[review(days, notch_mm=0)], events=[event(100, "death", DIVIDED)]))
    assert found == ([("reviews", 2, "reviewed_on")] if refused else [])


def test_a_death_recorded_for_one_lid_is_that_of_the_other_lid_too():
    other = case_of("C2", side="left")
    death = {"case_id": "C2", "happened_on": day(100, DIVIDED), "kind": "death"}
    assert problems(clinic(more_cases=[other], reviews=[review(101, notch_mm=0)], events=[death])) == [
        ("reviews", 2, "reviewed_on")
    ]


def test_of_two_deaths_the_earlier_counts_in_whatever_order_they_stand():
    deaths = [
        {"case_id": name, "happened_on": day(days, DIVIDED), "kind": "death"}
        for name, days in (("C1", 200), ("C2", 100))
    ]
    rows = {"more_cases": [case_of("C2", side="left")], "reviews": [review(150, notch_mm=0)]}
    for order in (deaths, deaths[::-1]):
        assert ("reviews", 2, "reviewed_on") in problems(clinic(**rows, events=order))


@pytest.mark.parametrize(
    "mode,refused", [("telephone", True), ("letter", True), ("clinic", False), ("photograph", False)]
)
def test_millimetres_are_not_measured_by_telephone_or_letter(mode, refused):
    found = problems(clinic(reviews=[review(50, mode=mode, notch_mm=0)]))
    assert found == ([("reviews", 2, "mode")] if refused else [])


def test_what_is_no_millimetre_may_be_told_by_telephone():
    assert problems(clinic(reviews=[review(50, mode="telephone", satisfaction=8)])) == []


# Rows that the register holds are checked with those that are read, and the row that was read is blamed.


def test_a_division_that_no_longer_suits_a_review_that_is_held_is_the_fault_of_the_case():
    held = {"reviews": {("C1", DIVIDED.isoformat(), "AB"): review(10, notch_mm=0)}}
    rows = {**clinic(case={"divided_on": day(11, DIVIDED)}), "reviews": []}
    assert problems(rows, held=held) == [("reconstructions", 2, "divided_on")]
    assert problems({**clinic(case={"divided_on": day(10, DIVIDED)}), "reviews": []}, held=held) == []


def test_a_death_before_a_review_that_is_held_is_the_fault_of_the_event():
    held = {"reviews": {("C1", DIVIDED.isoformat(), "AB"): review(10, notch_mm=0)}}
    assert problems(clinic(events=[event(9, "death", DIVIDED)]), held=held) == [("events", 2, "happened_on")]
    assert problems(clinic(events=[event(10, "death", DIVIDED)]), held=held) == []


def test_a_year_of_birth_after_an_operation_that_is_held_is_the_fault_of_the_patient():
    held = {"reconstructions": {("C1",): clinic()["reconstructions"][0]}}
    for year, refused in ((2024, []), (2025, [("patients", 2, "birth_year")])):
        assert problems({"patients": [{"patient_id": "P1", "birth_year": year}]}, held=held) == refused


# Legal but odd.


@pytest.mark.parametrize(
    "percent,asked", [(0, False), (0.05, True), (0.5, True), (1, True), (1.5, False), (2, False), (100, False)]
)
def test_one_percent_and_less_is_asked_about_for_100_percent_is_kept_as_1(percent, asked):
    found = queries(clinic(reviews=[review(50, lash_loss_percent=percent)]))
    assert found == ([("reviews", 2, "share_lash_loss_percent")] if asked else [])


def test_the_question_says_what_may_have_been_meant():
    [query] = checked(clinic(reviews=[review(50, lash_loss_percent=1)])).queries
    assert query.says == "lash_loss_percent is 1 %; was 100 % meant?"


@pytest.mark.parametrize("days,odd", [(GRAFT[0] - 1, True), (GRAFT[0], False), (GRAFT[1], False), (GRAFT[1] + 1, True)])
def test_a_division_is_usual_on_the_first_and_the_last_usual_day(days, odd):
    found = queries(clinic(case={"divided_on": day(days)}))
    assert found == ([("reconstructions", 2, "unusual_division")] if odd else [])


@pytest.mark.parametrize("days,odd", [(GRAFT[0] - 1, False), (GRAFT[1] + 1, True)])
def test_a_reason_explains_an_early_division_and_no_late_one(days, odd):
    found = queries(clinic(case={"divided_on": day(days), "division_early_reason": "only-seeing eye"}))
    assert found == ([("reconstructions", 2, "unusual_division")] if odd else [])


@pytest.mark.parametrize(
    "margin,lateral,deep,query",
    [
        ("close", 1, 1, "close_yet_wide"),
        ("close", 1, 0.9, None),
        ("close", 0.9, 1, None),
        ("close", 3, None, None),
        ("clear", 1, 1, None),
        ("clear", 0.9, 1, "clear_yet_narrow"),
        ("clear", None, 0.9, "clear_yet_narrow"),
        ("clear", None, None, None),
    ],
)
def test_the_margin_agrees_with_its_distances(margin, lateral, deep, query):
    assert PROTOCOL.rules.close_margin_mm == 1
    found = queries(
        clinic(case={"histology_margin": margin, "histology_lateral_mm": lateral, "histology_deep_mm": deep})
    )
    assert found == ([("reconstructions", 2, query)] if query else [])


@pytest.mark.parametrize("step,odd", [(-0.5, False), (0, True), (0.5, True)])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_jump_is_asked_about_from_its_bound_on_up_or_down(step, odd, sign):
    jump = default_protocol().field("reviews", "margin_position_mm").jump
    first, second = (0.5, 0.5 + jump + step)[::sign]
    found = queries(clinic(reviews=[review(50, margin_position_mm=first), review(90, margin_position_mm=second)]))
    assert found == ([("reviews", 3, "jump_margin_position_mm")] if odd else [])


def test_a_jump_is_between_neighbouring_days_and_not_neighbouring_rows():
    reviews = [review(days, margin_position_mm=value) for days, value in ((90, 6), (50, 0.5), (70, 3))]
    assert queries(clinic(reviews=reviews)) == []


@pytest.mark.parametrize("days,odd", [(99, False), (100, False), (101, True)])
@pytest.mark.parametrize("kind", ["moved away", "withdrawn"])
def test_a_review_after_the_patient_was_lost_is_asked_about_and_one_on_that_day_is_not(days, odd, kind):
    found = queries(clinic(reviews=[review(days, notch_mm=0)], events=[event(100, kind, DIVIDED)]))
    assert found == ([("reviews", 2, "review_after_end")] if odd else [])


def test_of_two_ends_the_first_counts_in_whatever_order_they_stand():
    ends = [event(200, "withdrawn", DIVIDED), event(100, "moved away", DIVIDED)]
    for order in (ends, ends[::-1]):
        [query] = checked(clinic(reviews=[review(150, notch_mm=0)], events=order)).queries
        assert query.says == f'the case was recorded as "moved away" on {day(100, DIVIDED)}, before this review'


@pytest.mark.parametrize(
    "other,odd",
    [({}, True), ({"side": "left"}, False), ({"operated_on": date(2024, 3, 6)}, False), ({"patient_id": "P2"}, False)],
)
def test_the_same_operation_twice_is_the_same_patient_side_and_day(other, odd):
    patients = [{"patient_id": "P1", "birth_year": 1950}, {"patient_id": "P2", "birth_year": 1950}]
    found = queries(clinic(patients=patients, more_cases=[case_of("C2", **other)]))
    assert found == ([("reconstructions", 3, "same_operation_twice")] if odd else [])


@pytest.mark.parametrize("width,odd", [(29, False), (30, False), (30.5, True)])
def test_a_defect_as_wide_as_the_lid_is_no_query(width, odd):
    found = queries(clinic(case={"defect_width_mm": width, "lid_width_mm": 30}))
    assert found == ([("reconstructions", 2, "defect_wider_than_lid")] if odd else [])


@pytest.mark.parametrize(
    "kind,case_id,odd",
    [(None, "", True), ("recurrence", "C1", False), ("revision", "C1", True), ("recurrence", "C2", True)],
)
def test_a_confirmed_recurrence_is_settled_by_the_event_of_its_own_case_only(kind, case_id, odd):
    events = [{"case_id": case_id, "happened_on": day(90, DIVIDED), "kind": kind}] if kind else []
    found = queries(
        clinic(more_cases=[case_of("C2", side="left")], reviews=[review(90, recurrence="confirmed")], events=events)
    )
    assert found == ([("reviews", 2, "confirmed_without_event")] if odd else [])


# Cells.


@pytest.mark.parametrize(
    "text,value",
    [("1,5", 1.5), (",5", 0.5), ("1,50", 1.5), ("2", 2.0)],
)
def test_a_decimal_comma_is_read_where_the_sheet_writes_it(text, value):
    rows = clinic(case={"defect_width_mm": 18, "histology_lateral_mm": text, "histology_margin": "clear"})
    found = checked(rows, decimal_comma=True)
    assert found.problems == ()
    assert found.rows[1].values["histology_lateral_mm"] == value


def test_a_decimal_comma_is_refused_where_the_sheet_does_not_write_it():
    assert problems(clinic(case={"defect_width_mm": "1,5"})) == [("reconstructions", 2, "defect_width_mm")]


@pytest.mark.parametrize("cell", ["=A1", " =1+1", "n/a", "-", "?"])
def test_what_is_no_value_is_refused(cell):
    assert problems(clinic(case={"defect_width_mm": cell})) == [("reconstructions", 2, "defect_width_mm")]


@pytest.mark.parametrize("cell", [None, "", "  "])
def test_what_is_blank_was_not_recorded_and_what_is_required_is_refused(cell):
    assert problems(clinic(case={"defect_width_mm": cell})) == []
    assert problems(clinic(case={"side": cell})) == [("reconstructions", 2, "side")]


def test_a_cell_that_goes_only_with_another_is_refused_without_it():
    assert problems(clinic(events=[event(5, "cover failure", percent_lost=20)])) == []
    assert problems(clinic(events=[event(5, "infection", percent_lost=20)])) == [("events", 2, "percent_lost")]


def test_every_problem_is_listed_in_the_order_of_sheets_rows_and_columns():
    rows = clinic(
        patients=[{"patient_id": "P1", "birth_year": 1950, "sex": "x"}],
        case={"side": "up", "cover": "x"},
        reviews=[review(9), review(-50)],
    )
    assert problems(rows) == [
        ("patients", 2, "sex"),
        ("reconstructions", 2, "side"),
        ("reconstructions", 2, "cover"),
        ("reviews", 3, "reviewed_on"),
    ]


def test_nothing_is_stored_and_nothing_asked_when_anything_is_refused():
    found = checked(clinic(case={"side": "up"}, reviews=[review(50, lash_loss_percent=1)]))
    assert (found.rows, found.queries) == ((), ())
    assert len(found.problems) == 1


# What was refused in one row is not held against another.


def test_a_death_of_an_unknown_case_or_on_no_known_day_is_refused_once_and_is_nobodys_death():
    rows = clinic(reviews=[review(50, notch_mm=0)])
    unknown = {**event(20, "death", DIVIDED), "case_id": "C9"}
    undated = {**event(20, "death"), "happened_on": "soon"}
    later = event(60, "death", DIVIDED)
    assert problems({**rows, "events": [unknown]}) == [("events", 2, "case_id")]
    assert problems({**rows, "events": [undated, later]}) == [("events", 2, "happened_on")]


def test_a_refused_division_is_held_against_no_review():
    assert problems(clinic(case={"divided_on": "soon"}, reviews=[review(50, notch_mm=0)])) == [
        ("reconstructions", 2, "divided_on")
    ]


@pytest.mark.parametrize(
    "measures,told",
    [
        (("notch_mm",), "notch_mm"),
        (("notch_mm", "retraction_mm", "scleral_show_mm"), "retraction_mm, scleral_show_mm, notch_mm"),
        (
            ("notch_mm", "retraction_mm", "scleral_show_mm", "lagophthalmos_mm"),
            "retraction_mm, scleral_show_mm, notch_mm and 1 more",
        ),
    ],
)
def test_three_measures_are_named_and_the_others_counted(measures, told):
    [problem] = checked(clinic(reviews=[review(50, mode="telephone", **dict.fromkeys(measures, 0))])).problems
    assert f"({told})" in problem.what


# Progress and order.


@pytest.mark.parametrize("rows,told", [(1, [1]), (3, [3]), (4, [3, 4]), (7, [3, 6, 7])])
def test_progress_is_told_block_by_block_and_at_the_end(monkeypatch, rows, told):
    monkeypatch.setattr("outcomes.capture.cell_columns.BLOCK", 3)
    patients = [{"patient_id": f"P{number}", "birth_year": 1950} for number in range(rows)]
    sheet = raw_sheet("patients", [list(row) for row in grid(patients)], SheetForm(decimal_comma=False))
    said = []
    check_sheets(
        RawSheets("rows", (sheet,)), PROTOCOL, as_of=AS_OF, held=HeldRows(), progress=lambda *each: said.append(each)
    )
    assert said == [(done, rows) for done in told]


def test_a_problem_of_the_whole_file_stands_before_those_of_its_rows_and_none_is_listed_twice():
    whole = Problem("workbook", 0, "", "holds a sheet that is not known")
    sheet = raw_sheet("patients", [["patient_id", "birth_year"], ["P1", "x"]], SheetForm(decimal_comma=False))
    found = check_sheets(RawSheets("rows", (sheet,), (whole, whole)), PROTOCOL, as_of=AS_OF, held=HeldRows())
    assert [problem.sheet for problem in found.problems] == ["workbook", "patients"]


@pytest.mark.parametrize(
    "text,limits,value",
    [
        ("1,500", (0, 2000), "1,500"),
        ("1,500", (0, 1499), "1.500"),
        ("1,500", (0, 1500), "1,500"),
        ("0,500", (0, 2000), "0.500"),
        ("1,50", (0, 2000), "1.50"),
        ("-1,5", (-5, 10), "-1.5"),
        (",5", (0, 10), "0.5"),
        ("1,5,5", (0, 10), "1,5,5"),
        (1.5, (0, 10), 1.5),
    ],
)
def test_a_comma_is_a_point_unless_it_may_as_well_part_thousands(text, limits, value):
    low, high = limits
    number = replace(PROTOCOL.field("reconstructions", "defect_width_mm"), low=low, high=high)
    assert _with_decimal_point(number, text) == value


def test_a_comma_in_what_is_no_number_stays():
    assert _with_decimal_point(PROTOCOL.field("reconstructions", "surgeon"), "1,5") == "1,5"


@pytest.mark.parametrize("length,refused", [(CELL_LENGTH, False), (CELL_LENGTH + 1, True)])
def test_a_cell_may_be_so_long_and_no_longer(length, refused):
    assert bool(_unreadable_text("x" * length)) is refused


@pytest.mark.parametrize("cell", [time(9, 30), timedelta(hours=1)])
def test_a_time_of_day_is_refused(cell):
    assert problems(clinic(case={"defect_width_mm": cell})) == [("reconstructions", 2, "defect_width_mm")]


@pytest.mark.parametrize("cell,told", [("n/a", True), ("abc", False)])
def test_only_a_word_for_nothing_is_told_to_be_left_blank(cell, told):
    [problem] = checked(clinic(case={"defect_width_mm": cell})).problems
    assert ("leave the cell blank" in problem.what) is told


@pytest.mark.parametrize("code", ["n/a", "unknown", "NONE"])
def test_a_word_for_nothing_is_no_code(code):
    [problem] = checked(clinic(case={"surgeon": code})).problems
    assert (problem.field, "leave the cell blank" in problem.what) == ("surgeon", True)
    [first, *_] = checked(clinic(patients=[{"patient_id": code, "birth_year": 1950}])).problems
    assert (first.field, "give one" in first.what) == ("patient_id", True)
