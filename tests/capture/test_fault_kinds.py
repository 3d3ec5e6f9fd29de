"""Each kind of fault is one line with its count, its places and its remedy, and each cell one line of the full list."""

import csv
from datetime import date

import openpyxl
import pytest

from outcomes.capture import (
    HeldRows,
    apply_readings,
    check_sheets,
    fault_kinds,
    parse_readings,
    read_sheets,
    with_date_order,
    write_faults,
    write_marked,
)
from outcomes.errors import OutcomesError, WrongUsage
from outcomes.protocol import default_protocol
from tests.capture.clinic import AS_OF, checked, clinic, loaded, said, write_folder, write_workbook

PROTOCOL = default_protocol()


def spoilt():
    """Eleven "n.a.", two ranges, three numbers beyond the limits and a date in either order, in rows of their own."""
    sheets = clinic()
    sheets["patients"] += [{"patient_id": f"Q{n:02}", "diabetes": "n.a."} for n in range(11)]
    sheets["reviews"][0]["margin_position_mm"] = "5 - 6"
    sheets["reviews"][1]["margin_position_mm"] = "5 - 6"
    for review, value in zip(sheets["reviews"][2:5], (16, 99, 99), strict=True):
        review["margin_position_mm"] = value
    sheets["reviews"][3]["reviewed_on"] = "03/04/2025"
    return sheets


def lines(tmp_path, sheets):
    return [str(kind) for kind in fault_kinds(loaded(tmp_path, sheets).problems)]


def test_a_line_a_kind_with_count_and_places(tmp_path):
    assert lines(tmp_path, spoilt()) == [
        (
            'patients: diabetes "n.a.": must be one of yes, no, unknown; leave the cell blank when it was not recorded, or '
            "for every cell: --read 'n.a.=blank' (11 cells, first E5, E6, E7, E8, …)"
        ),
        'reviews: margin_position_mm "5 - 6": is a range: type the one value that was measured (2 cells, first F2, F3)',
        "reviews: margin_position_mm: must be a number from 0 to 15 mm (3 cells, first F4, F5, F6)",
        (
            'reviews B5: reviewed_on "03/04/2025": can be read day first or month first; type it as year-month-day, such as '
            "2024-03-05, or say the order with --dates"
        ),
    ]


def test_the_places_are_those_of_the_spreadsheet(tmp_path):
    """Read back by another library: the cell at each address holds what is said to be at fault."""
    path = write_workbook(tmp_path / "clinic.xlsx", spoilt())
    book = openpyxl.load_workbook(path)
    problems = checked(path).problems
    assert len(problems) == 17
    for problem in problems:
        assert f'"{book[problem.sheet][problem.address].value}"' in problem.what


@pytest.mark.parametrize(
    "sheet, field, typed, words",
    [
        ("reviews", "entropion", "neg.", "did you mean \"no\"? If so in every cell: --read 'neg.=no'"),
        ("reviews", "notch_mm", "ca. 2", '"ca. 2": is only approximate: type the number alone'),
        ("reviews", "notch_mm", "<1", '"<1": is a bound: type the value that was measured'),
        ("reviews", "notch_mm", "2 x 3", '"2 x 3": is two measurements: type each in its own column'),
        ("reviews", "notch_mm", "5–6", '"5–6": is a range'),
        ("reviews", "oedema", "++", "did you mean \"moderate\"? If so in every cell: --read '++=moderate'"),
        ("reconstructions", "diagnosis", "BZK", "--read 'BZK=basal cell carcinoma'"),
        ("reconstructions", "division_early_reason", "Wunsch", '--read "Wunsch=patient\'s wish"'),
        ("reconstructions", "side", "OD", "--read 'OD=right'"),
        ("reviews", "assessor", "–", "--read '–=blank'"),
        ("patients", "patient_id", "n.a.", '"n.a.": is no code; give one'),
    ],
)
def test_the_remedy_fits_the_word(tmp_path, sheet, field, typed, words):
    sheets = clinic()
    if field == "patient_id":
        sheets["reconstructions"] = sheets["reviews"] = sheets["events"] = []
    sheets[sheet][0][field] = typed
    [line] = said(loaded(tmp_path, sheets))
    assert words in line


def test_a_title_above_the_names_is_one_fault(tmp_path):
    path = write_workbook(tmp_path / "clinic.xlsx", clinic())
    book = openpyxl.load_workbook(path)
    book["reviews"].insert_rows(1, amount=2)
    book["reviews"]["A1"] = "Reviews of our lids"
    book.save(path)
    assert said(checked(path)) == [
        "reviews row 1: the field names are in row 3; delete rows 1 to 2, so that they are in row 1"
    ]


def test_a_sheet_of_another_form_is_one_fault(tmp_path):
    sheets = {**clinic(), "reviews": [{"Name": "a", "Datum": "b", "MRD2": 5}] * 248}
    assert said(loaded(tmp_path, sheets)) == [
        "reviews row 1: no name in the first row is a field; for a sheet of another form: outcomes map FILE"
    ]


# ------------------------------------------------------------------ words and orders by option


def read_with(path, *texts, order=""):
    raw, notes = apply_readings(
        with_date_order(read_sheets(path, PROTOCOL), order), parse_readings(texts, PROTOCOL), PROTOCOL
    )
    return check_sheets(raw, PROTOCOL, as_of=AS_OF, held=HeldRows()), notes


def test_a_word_is_read_as_it_is_said_to_mean_and_counted(tmp_path):
    path = write_workbook(tmp_path / "clinic.xlsx", spoilt())
    outcome, notes = read_with(
        path, "n.a.=blank", "margin_position_mm:5 - 6=5.5", "16=6", "notch_mm:99=1", order="month first"
    )
    assert notes == (
        '"n.a." was read as not recorded (11 in all)',
        '"5 - 6" was read as 5.5 (2 in all)',
        '"16" was read as 6 (1 in all)',
        '"99" was read as 1 (0 in all)',
    )
    assert [problem.what for problem in outcome.problems] == ['"99": must be a number from 0 to 15 mm'] * 2
    clean, _ = read_with(path, "n.a.=blank", "5 - 6=5.5", "16=6", "99=blank", order="month first")
    assert clean.problems == ()
    values = [row.values for row in clean.rows if row.sheet == "reviews"]
    assert [each.get("margin_position_mm") for each in values] == [5.5, 5.5, 6.0, None, None]
    assert values[3]["reviewed_on"] == date(2025, 3, 4)


@pytest.mark.parametrize("text", ["n.a.", "=blank", "n.a.=", ""])
def test_a_reading_that_says_nothing_is_refused(text):
    with pytest.raises(WrongUsage, match="write it as --read"):
        parse_readings([text], PROTOCOL)


# ------------------------------------------------------------------ codes and countries


def test_codes_match_without_regard_to_case_and_say_so(tmp_path):
    sheets = clinic()
    sheets["reconstructions"][1]["surgeon"] = "km"
    sheets["reviews"][0]["case_id"] = "c001"
    sheets["reviews"][1]["case_id"] = "Ｃ001"  # noqa: RUF001 - a wide letter, as some keyboards type it
    outcome = loaded(tmp_path, sheets)
    assert said(outcome) == []
    assert {row.values["surgeon"] for row in outcome.rows if row.sheet == "reconstructions"} == {"KM"}
    assert [row.values["case_id"] for row in outcome.rows if row.sheet == "reviews"][:2] == ["C001", "C001"]
    assert outcome.notes == (
        'surgeon "km" is "KM" (1 in all)',
        'case_id "c001" is "C001" (1 in all)',
        'case_id "Ｃ001" is "C001" (1 in all)',  # noqa: RUF001
    )


def test_codes_are_written_as_the_register_holds_them(tmp_path):
    held = {"patients": {("p001",): {"patient_id": "p001"}}}
    outcome = loaded(tmp_path, clinic(), held=held)
    assert next(row for row in outcome.rows if row.sheet == "patients").values["patient_id"] == "p001"


def test_one_code_in_two_spellings_is_one_row_too_many(tmp_path):
    sheets = clinic()
    sheets["patients"].append({"patient_id": "p001"})
    assert said(loaded(tmp_path, sheets)) == [
        'patients row 5, patient_id "P001": is there already (row 2); each row must differ, so take one out or correct it'
    ]


def dotted(sheets):
    return {
        name: [
            {key: f"{value:%d.%m.%Y}" if isinstance(value, date) else value for key, value in row.items()}
            for row in rows
        ]
        for name, rows in sheets.items()
    }


def test_a_table_in_a_european_dress_gives_the_rows_of_the_workbook(tmp_path):
    """Semicolons, decimal commas, dates with full stops, Windows-1252: as a German or French spreadsheet saves it."""
    folder = write_folder(tmp_path / "tables", dotted(clinic()), separator=";", encoding="cp1252", end="\r\n")
    outcome = checked(folder)
    assert said(outcome) == []
    assert outcome.rows == loaded(tmp_path, clinic()).rows


def test_a_comma_table_declares_no_order(tmp_path):
    lines = said(checked(write_folder(tmp_path / "tables", dotted(clinic()))))
    assert lines
    assert all("can be read day first or month first" in line for line in lines)


# ------------------------------------------------------------------ the full list and the marked workbook


def test_every_problem_is_a_line_of_the_list(tmp_path):
    problems = loaded(tmp_path, spoilt()).problems
    write_faults(tmp_path / "list.csv", problems)
    write_faults(tmp_path / "list.csv", problems)  # its own list is replaced
    with (tmp_path / "list.csv").open(encoding="utf-8-sig", newline="") as table:
        rows = list(csv.DictReader(table))
    assert [row["cell"] for row in rows] == [problem.address for problem in problems]
    (tmp_path / "other.csv").write_text("mine")
    with pytest.raises(OutcomesError, match="is no list of problems"):
        write_faults(tmp_path / "other.csv", problems)
    assert (tmp_path / "other.csv").read_text() == "mine"


def test_the_marked_workbook_is_the_sheet_with_notes_on_its_faults(tmp_path):
    path = write_workbook(tmp_path / "clinic.xlsx", spoilt())
    outcome = checked(path)
    count = write_marked(tmp_path / "marked.xlsx", read_sheets(path, PROTOCOL), outcome.problems, PROTOCOL)
    before, after = openpyxl.load_workbook(path), openpyxl.load_workbook(tmp_path / "marked.xlsx")
    noted = set()
    for sheet in before.sheetnames:
        for row in before[sheet].iter_rows():
            for cell in row:
                other = after[sheet][cell.coordinate]
                assert other.value == cell.value
                if other.comment:
                    noted.add((sheet, cell.coordinate))
                    assert other.fill.fgColor.rgb == "FFF7C6C0"
                else:
                    assert other.fill.fill_type is None
    assert noted == {(problem.sheet, problem.address) for problem in outcome.problems}
    assert count == len(noted)
    assert "--read 'n.a.=blank'" in after["patients"]["E5"].comment.text


def test_a_marked_workbook_mended_in_its_marked_cells_is_loaded(tmp_path):
    path = write_workbook(tmp_path / "clinic.xlsx", spoilt())
    write_marked(tmp_path / "marked.xlsx", read_sheets(path, PROTOCOL), checked(path).problems, PROTOCOL)
    book = openpyxl.load_workbook(tmp_path / "marked.xlsx")
    for problem in checked(path).problems:
        book[problem.sheet][problem.address].value = date(2025, 3, 4) if problem.field == "reviewed_on" else None
    book.save(tmp_path / "mended.xlsx")
    assert said(checked(tmp_path / "mended.xlsx")) == []
