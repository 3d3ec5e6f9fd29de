"""Everything that is wrong is refused at once, with its place and its remedy, and nothing else is."""

import json
from datetime import date, datetime

import pytest

from outcomes.capture import HeldRows, check_sheets, read_sheets
from outcomes.protocol import default_protocol, protocol_from_text
from tests.capture.clinic import AS_OF, case, clinic, loaded, review, said, write_workbook


def test_a_clinic_without_fault_is_taken_whole(tmp_path):
    outcome = loaded(tmp_path, clinic())
    assert said(outcome) == []
    assert [(row.sheet, row.number) for row in outcome.rows] == [
        *(("patients", number) for number in (2, 3, 4)),
        *(("reconstructions", number) for number in (2, 3, 4, 5)),
        *(("reviews", number) for number in (2, 3, 4, 5, 6)),
        *(("events", number) for number in (2, 3)),
    ]


def test_a_blank_is_not_recorded_and_a_zero_is_kept(tmp_path):
    rows = {(row.sheet, row.number): row.values for row in loaded(tmp_path, clinic()).rows}
    assert "diabetes" not in rows["patients", 3]
    assert rows["reviews", 3]["oedema"] == 0
    assert "notch_mm" not in rows["reviews", 3]
    assert rows["reviews", 6]["notch_mm"] == 0.0


# Each fault: sheet, row as the spreadsheet shows it, field, what is typed there, and words of the remedy.
FAULTS = [
    ("patients", 2, "birth_year", 2031, "a year from 1900 to 2026"),
    ("patients", 3, "sex", "man", "must be one of female, male, other, unknown"),
    ("patients", 4, "patient_id", "4859201736", "use a study code"),
    ("patients", 5, "patient_id", "P002", "is there already (row 3)"),
    ("patients", 6, "smoker", "nevr", 'did you mean "never"?'),
    ("patients", 7, "diabetes", "n/a", "leave the cell blank when it was not recorded"),
    ("reconstructions", 2, "side", None, "is required; fill it in"),
    ("reconstructions", 3, "defect_width_mm", 61, "from 1 to 60 mm"),
    ("reconstructions", 4, "diagnosis", "basal cell", 'did you mean "basal cell carcinoma"?'),
    ("reconstructions", 5, "patient_id", "P999", "add its row to patients, or correct the code"),
    ("reconstructions", 6, "graft_donor", "inner arm", 'goes only with cover "graft"'),
    ("reconstructions", 7, "divided_on", date(2024, 6, 4), "must lie after the operation (2024-06-04)"),
    ("reconstructions", 8, "operated_on", "05/06/2024", "type it as year-month-day"),
    ("reconstructions", 9, "fellow_logmar", datetime.fromisoformat("2024-12-06"), "turned a fraction into a date"),
    ("reconstructions", 10, "surgeon", "Jane Wood", "use a study code"),
    ("reconstructions", 11, "snap_back", 7, "one of 0 immediate"),
    ("reviews", 2, "margin_position_mm", "5 mm", "type a plain number without its unit"),
    ("reviews", 3, "reviewed_on", date(2026, 7, 1), "lies in the future (after 2026-06-30)"),
    ("reviews", 4, "mode", "telephone", "allows no measure in mm (scleral_show_mm); clear those"),
    ("reviews", 5, "entropion", "perhaps", "must be yes or no"),
    ("reviews", 6, "reviewed_on", date(2025, 2, 17), "lies before the division (2025-02-18; "),
    ("reviews", 7, "case_id", "C0O1", "is not on the sheet reconstructions, nor in the register"),
    ("reviews", 8, "oedema", 1.5, "one of 0 none, 1 mild"),
    ("events", 2, "happened_on", date(2024, 3, 4), "lies before the operation of the case (2024-03-05)"),
    ("events", 3, "percent_lost", 20, 'goes only with kind "cover failure"'),
]


def clinic_for_faults():
    sheets = clinic()
    sheets["patients"] += [{"patient_id": f"P01{n}", "diabetes": "no"} for n in range(3)]
    sheets["reconstructions"] += [
        case(f"C1{n}", "P001", "right", date(2024, 6, 4), date(2024, 7, 2), cover="advancement") for n in range(6)
    ]
    sheets["reviews"] += [review("C002", date(2025, 5, 6), oedema=0), review("C002", date(2026, 5, 5), oedema=0)]
    sheets["reconstructions"][3]["patient_id"] = "P002"  # nothing else points to the patient whose code is spoilt
    return sheets


def test_twenty_five_faults_are_one_list_of_twenty_five_lines(tmp_path):
    sheets = clinic_for_faults()
    assert said(loaded(tmp_path, sheets)) == []
    for sheet, row, field, typed, _ in FAULTS:
        sheets[sheet][row - 2][field] = typed
    outcome = loaded(tmp_path, sheets)
    assert outcome.rows == ()
    assert [(problem.sheet, problem.row, problem.field) for problem in outcome.problems] == [
        fault[:3] for fault in FAULTS
    ]
    for line, (sheet, row, field, _, remedy) in zip(said(outcome), FAULTS, strict=True):
        assert line.startswith(f"{sheet} row {row}, {field}")
        assert remedy in line


@pytest.mark.parametrize("sheet, row, field, typed, remedy", FAULTS, ids=lambda part: str(part)[:20])
def test_each_fault_alone_is_one_line(tmp_path, sheet, row, field, typed, remedy):
    sheets = clinic_for_faults()
    sheets[sheet][row - 2][field] = typed
    lines = said(loaded(tmp_path, sheets))
    assert [line for line in lines if line.startswith(f"{sheet} row {row}, {field}") and remedy in line] == lines
    assert len(lines) == 1


def test_message_says_where_what_and_what_is_allowed(tmp_path):
    sheets = clinic()
    sheets["reviews"][0]["retraction_mm"] = "99"
    assert said(loaded(tmp_path, sheets)) == ['reviews row 2, retraction_mm "99": must be a number from -5 to 10 mm']


# ------------------------------------------------------------------ columns


def with_column(sheet, name, value="x"):
    sheets = clinic()
    sheets[sheet][0][name] = value
    return sheets


@pytest.mark.parametrize(
    "name, remedy",
    [
        ("retraction", 'did you mean "retraction_mm"?'),
        ("scleral_show", 'did you mean "scleral_show_mm"?'),
        ("hospital", "take the column out"),
    ],
)
def test_an_unknown_column_is_refused_by_name(tmp_path, name, remedy):
    [line] = said(loaded(tmp_path, with_column("reviews", name)))
    assert line.startswith(f"reviews row 1, {name}: is not a field of the sheet reviews")
    assert remedy in line


def test_a_column_that_only_the_present_protocol_has_says_how_to_bring_it_in(tmp_path):
    tree = json.loads(default_protocol().text)
    tree["fields"] = [each for each in tree["fields"] if each["id"] != "date_precision"]
    del tree["synonyms"]
    raw = read_sheets(
        write_workbook(tmp_path / "clinic.xlsx", with_column("reviews", "date_precision", "day")), default_protocol()
    )
    [line] = said(check_sheets(raw, protocol_from_text(json.dumps(tree)), as_of=AS_OF, held=HeldRows()))
    assert line.startswith(
        "reviews row 1, date_precision: is not a field of the sheet reviews in this register's protocol"
    )
    assert "outcomes protocol change FILE" in line


def test_a_field_of_another_sheet_is_refused(tmp_path):
    [line] = said(loaded(tmp_path, with_column("patients", "cover", "graft")))
    assert line.startswith("patients row 1, cover: is not a field of the sheet patients")


def test_a_column_that_stands_twice_is_refused(tmp_path):
    assert said(loaded(tmp_path, with_column("patients", " Smoker ", "never"))) == [
        "patients row 1, Smoker: is the name of two columns; keep one"
    ]


def test_a_missing_required_column_is_one_line(tmp_path):
    sheets = clinic()
    for row in sheets["reconstructions"]:
        del row["operated_on"]
    assert said(loaded(tmp_path, sheets)) == [
        "reconstructions row 1, operated_on: is required, and there is no such column"
    ]


def test_a_missing_key_column_does_not_blame_what_points_to_it(tmp_path):
    sheets = clinic()
    for row in sheets["reconstructions"]:
        row["caseid"] = row.pop("case_id")
    assert said(loaded(tmp_path, sheets)) == [
        "reconstructions row 1, case_id: is required, and there is no such column",
        'reconstructions row 1, caseid: is not a field of the sheet reconstructions; did you mean "case_id"?',
    ]


def test_a_misspelt_date_of_division_does_not_blame_the_reviews(tmp_path):
    sheets = clinic()
    for row in sheets["reconstructions"]:
        row["divided"] = row.pop("divided_on")
    assert [line.partition(":")[0] for line in said(loaded(tmp_path, sheets))] == ["reconstructions row 1, divided"]


def test_a_value_under_no_name_is_refused(tmp_path):
    sheets = clinic()
    sheets["patients"][1][""] = "left over"
    assert said(loaded(tmp_path, sheets)) == [
        "patients row 3: has a value in column F, which has no name in the first row; name it or clear it"
    ]


def test_missing_optional_columns_are_not_recorded(tmp_path):
    sheets = {
        "patients": [{"patient_id": "P1"}],
        "reconstructions": [
            {
                "case_id": "C1",
                "patient_id": "P1",
                "side": "left",
                "operated_on": date(2024, 3, 5),
                "diagnosis": "benign",
                "cover": "other",
            }
        ],
    }
    outcome = loaded(tmp_path, sheets)
    assert outcome.problems == ()
    assert outcome.rows[0].values == {"patient_id": "P1"}


# ------------------------------------------------------------------ rows against each other and the register


@pytest.mark.parametrize(
    "sheet, line",
    [
        ("patients", 'patients row 5, patient_id "P001": is there already (row 2)'),
        ("reconstructions", 'reconstructions row 6, case_id "C001": is there already (row 2)'),
        (
            "reviews",
            'reviews row 7, case_id "C001": is there already with the same case_id, reviewed_on, assessor, mode (row 2)',
        ),
        ("events", 'events row 4, case_id "C001": is there already with the same case_id, happened_on, kind (row 2)'),
    ],
)
def test_a_row_that_stands_twice_names_both(tmp_path, sheet, line):
    sheets = clinic()
    sheets[sheet].append(dict(sheets[sheet][0]))
    assert said(loaded(tmp_path, sheets)) == [line + "; each row must differ, so take one out or correct it"]


def test_two_assessors_may_review_on_one_day(tmp_path):
    sheets = clinic()
    sheets["reviews"].append({**sheets["reviews"][0], "assessor": "XY"})
    assert said(loaded(tmp_path, sheets)) == []


def held_of(outcome):
    held = {}
    for row in outcome.rows:
        held.setdefault(row.sheet, {})[row.key] = row.values
    return held


def test_reviews_alone_are_taken_when_the_register_holds_their_cases(tmp_path):
    held = held_of(loaded(tmp_path, clinic()))
    alone = {"reviews": [review("C002", date(2026, 3, 3), oedema=0)]}
    assert said(loaded(tmp_path, alone, held=held)) == []
    assert len(said(loaded(tmp_path, alone))) == 1


def test_order_of_dates_is_checked_against_the_register(tmp_path):
    held = held_of(loaded(tmp_path, clinic()))
    early = {"reviews": [review("C002", date(2024, 4, 30), oedema=2)], "events": []}
    [line] = said(loaded(tmp_path, early, held=held))
    assert (
        "lies before the division (2024-05-07; oedema), but has what is recorded only after it; clear what was not"
        in line
    )


@pytest.mark.parametrize(
    "field, day, words",
    [
        ("operated_on", date(2024, 6, 30), "does not suit a review that the register holds (of 2024-06-18"),
        ("divided_on", date(2024, 6, 25), "does not suit a review that the register holds (of 2024-06-18"),
        ("divided_on", None, "does not suit a review that the register holds (of 2024-06-18"),
    ],
)
def test_a_changed_case_must_suit_the_reviews_held(tmp_path, field, day, words):
    held = held_of(loaded(tmp_path, clinic()))
    changed = {**clinic()["reconstructions"][1], field: day}
    if field == "operated_on":
        changed["divided_on"] = date(2024, 8, 6)
    held = HeldRows(held, blanks="erase" if day is None else "keep")
    lines = said(loaded(tmp_path, {"reconstructions": [changed]}, held=held))
    assert lines
    assert all(line.startswith("reconstructions row 2, ") for line in lines)
    assert any(field in line and words in line for line in lines)


@pytest.mark.parametrize(
    "case_id, day, faults",
    [
        ("C001", date(2024, 9, 24), 0),
        ("C001", date(2024, 9, 23), 1),
        ("C003", date(2025, 8, 18), 1),
        ("C003", date(2025, 8, 19), 0),
    ],
)
def test_no_review_after_the_patient_s_death_whichever_lid(tmp_path, case_id, day, faults):
    """C001 and C003 are lids of the same patient, last reviewed 2024-09-24 and 2025-08-19."""
    sheets = clinic()
    if case_id == "C001":
        sheets["reviews"] = [row for row in sheets["reviews"] if row["case_id"] == "C001"]
    sheets["events"].append({"case_id": "C001", "happened_on": day, "kind": "death"})
    lines = said(loaded(tmp_path, sheets))
    assert len(lines) == faults
    assert all(f"lies after the death of the patient ({day})" in line for line in lines)


def test_a_held_death_is_respected(tmp_path):
    sheets = clinic()
    sheets["events"].append({"case_id": "C002", "happened_on": date(2025, 6, 3), "kind": "death"})
    held = held_of(loaded(tmp_path, sheets))
    [line] = said(loaded(tmp_path, {"reviews": [review("C002", date(2025, 6, 10), oedema=0)]}, held=held))
    assert "lies after the death of the patient (2025-06-03)" in line


def test_before_division_only_recurrence_is_taken(tmp_path):
    sheets = clinic()
    sheets["reviews"] = [review("C004", date(2026, 6, 9), recurrence="none")]
    assert said(loaded(tmp_path, sheets)) == []
    sheets["reviews"][0] |= {"oedema": 2, "notch_mm": 0}
    [line] = said(loaded(tmp_path, sheets))
    assert (
        "has what is recorded only after division (notch_mm, oedema), but the case has no divided_on; clear what was not"
        in line
    )


def test_telephone_takes_what_needs_no_ruler(tmp_path):
    sheets = clinic()
    sheets["reviews"] = [
        {**review("C002", date(2025, 6, 3), satisfaction=9, recurrence=0, watering=0), "mode": "telephone"}
    ]
    assert said(loaded(tmp_path, sheets)) == []


def test_birth_after_operation_is_refused(tmp_path):
    sheets = clinic()
    sheets["patients"][1]["birth_year"] = 2025
    [line] = said(loaded(tmp_path, sheets))
    assert line.startswith('reconstructions row 3, operated_on "2024-04-02": lies before the year of birth')


def test_problems_are_the_same_in_any_order_of_the_rows(tmp_path):
    sheets = clinic_for_faults()
    for sheet, row, field, typed, remedy in FAULTS:
        if "is there already" not in remedy:
            sheets[sheet][row - 2][field] = typed
    before = sorted(problem.what for problem in loaded(tmp_path, sheets).problems)
    for rows in sheets.values():
        rows.reverse()
    assert sorted(problem.what for problem in loaded(tmp_path, sheets).problems) == before


def test_progress_is_told_up_to_the_last_row(tmp_path):
    told = []
    raw = read_sheets(write_workbook(tmp_path / "clinic.xlsx", clinic()), default_protocol())
    check_sheets(
        raw, default_protocol(), as_of=AS_OF, held=HeldRows(), progress=lambda done, total: told.append((done, total))
    )
    assert told[-1] == (14, 14)
    assert told == sorted(told)
