"""A folder of tables is read the same, whatever country wrote it."""

import subprocess
import sys
from pathlib import Path

import pytest

from outcomes.capture import read_sheets, size_limits
from outcomes.errors import DataRefused
from outcomes.protocol import default_protocol
from tests.capture.clinic import checked, clinic, loaded, said, write_folder


def rows_of(outcome):
    assert said(outcome) == []
    return [(row.sheet, row.number, row.values) for row in outcome.rows]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_manner_of_table_gives_the_rows_of_the_workbook(tmp_path, separator, encoding, end):
    sheets = clinic()
    sheets["reviews"][0]["assessor"] = "Å;,B"
    folder = write_folder(tmp_path / "tables", sheets, separator=separator, encoding=encoding, end=end)
    assert rows_of(checked(folder)) == rows_of(loaded(tmp_path, sheets))


def folder_with(tmp_path, content, name="patients.csv"):
    folder = tmp_path / "tables"
    folder.mkdir(exist_ok=True)
    (folder / name).write_bytes(content)
    return folder


def lines_of(tmp_path, content, name="patients.csv"):
    return said(checked(folder_with(tmp_path, content, name)))


def values_of(tmp_path, content):
    return [row[2] for row in rows_of(checked(folder_with(tmp_path, content)))]


@pytest.mark.parametrize(
    "content",
    [
        b"patient_id,sex\nP1,female\n",
        b"patient_id,sex\nP1,female",
        b"patient_id;sex\r\nP1;female\r\n",
        b'"patient_id";"sex"\n"P1";"female"\n',
        b" patient_id , Sex \n P1 , FEMALE \n",
        b"patient_id,sex,,\nP1,female,,\n,,,\n\n\n",
        b"\xef\xbb\xbfpatient_id\tsex\nP1\tfemale\n",
        b"sep=;\r\npatient_id;sex\r\nP1;female\r\n",
        b"sex,patient_id\nfemale,P1\n",
        b"patient_id,sex,diabetes\nP1,female\n",
    ],
)
def test_messy_tables_are_taken(tmp_path, content):
    assert values_of(tmp_path, content) == [{"patient_id": "P1", "sex": "female"}]


def test_a_quoted_line_break_does_not_shift_the_row_number(tmp_path):
    """RFC 4180, section 2, rule 6: a quoted field may hold line breaks; a spreadsheet shows it in one row."""
    lines = lines_of(tmp_path, b'patient_id,sex\n"P\n1",female\nP2,man\n')
    assert [line.partition(",")[0] for line in lines] == ["patients row 2", "patients row 3"]


def test_blank_lines_count_as_rows(tmp_path):
    assert lines_of(tmp_path, b"patient_id,sex\n\nP1,man\n")[0].startswith('patients row 3, sex "man"')


def test_a_doubled_quotation_mark_is_one(tmp_path):
    """RFC 4180, section 2, rule 7."""
    assert values_of(tmp_path, b'patient_id\n"P""1"\n') == [{"patient_id": 'P"1'}]


@pytest.mark.parametrize(
    "content, words",
    [
        ("patient_id,sex\nP1,female\n".encode("utf-16-le"), "looks like UTF-16"),
        (b"patient_id,sex\nP1,female\n\x81,male\n", "row 3: is neither UTF-8 nor Windows-1252 text"),
        (b'patient_id,sex\nP1,"female\nP2,male\n', "stray quotation mark"),
        (b'patient_id,sex\nP1,"fem"ale\n', "stray quotation mark"),
        (b"patient_id,sex\nP1,=cmd()\n", "is a formula without its result"),
        (b"patient_id\n=P1\n", "is a formula without its result"),
        (b"\n\npatient_id,sex\nP1,female\n", "the first row must hold the field names"),
        (b"patient_id,sex\nP1,female,late\n", "has a value in column C, which has no name in the first row"),
        (b"P1,female\n", "patient_id: is required, and there is no such column"),
        (b"patient_id|sex\nP1|female\n", "patient_id: is required, and there is no such column"),
    ],
)
def test_a_table_that_cannot_be_meant_is_refused(tmp_path, content, words):
    assert any(words in line for line in lines_of(tmp_path, content))


def test_a_comma_inside_a_comma_table_is_no_decimal(tmp_path):
    header = b"case_id,patient_id,side,operated_on,diagnosis,cover,defect_width_mm\n"
    folder = folder_with(tmp_path, b"patient_id\nP1\n")
    folder_with(tmp_path, header + b'C1,P1,left,2024-03-05,benign,graft,"14,5"\n', "reconstructions.csv")
    [line] = said(checked(folder))
    assert line.startswith('reconstructions row 2, defect_width_mm "14,5"')


@pytest.mark.parametrize(
    "typed, taken", [("14,5", True), ("1,5", True), ("1,500", True), ("1.500,5", False), ("1.5", True)]
)
def test_decimal_commas_of_a_semicolon_table(tmp_path, typed, taken):
    """1,500 can only be one and a half, since fifteen hundred millimetres are outside the limits."""
    header = "case_id;patient_id;side;operated_on;diagnosis;cover;defect_width_mm\n"
    folder = folder_with(tmp_path, b"patient_id\nP1\n")
    folder_with(tmp_path, f"{header}C1;P1;left;2024-03-05;benign;graft;{typed}\n".encode(), "reconstructions.csv")
    assert (said(checked(folder)) == []) is taken


def test_a_comma_that_may_part_thousands_is_refused():
    from outcomes.capture.cells import _with_decimal_point
    from outcomes.protocol import Field

    steps = Field("steps", "reviews", "number", "Steps", "Steps in a day.", low=0, high=20_000)
    assert _with_decimal_point(steps, "1,500") == "1,500"
    assert _with_decimal_point(steps, "0,500") == "0.500"
    assert _with_decimal_point(steps, "1,50") == "1.50"


@pytest.mark.parametrize(
    "name, words",
    [
        ("reviewss.csv", 'did you mean "reviews"?'),
        ("Patients .csv", "stands twice"),
        ("PATIENTS.CSV", "stands twice"),
        ("export.csv", "known: patients, reconstructions, reviews, events"),
    ],
)
def test_an_unknown_table_is_refused_by_name(tmp_path, name, words):
    folder = folder_with(tmp_path, b"patient_id\nP1\n")
    folder_with(tmp_path, b"patient_id\nP1\n", name)
    [line] = said(checked(folder))
    assert words in line


def test_what_is_no_table_is_passed_over(tmp_path):
    folder = folder_with(tmp_path, b"patient_id\nP1\n")
    for name in ("notes.txt", "definitions.csv", ".hidden.csv", "photo.jpg"):
        folder_with(tmp_path, b"\xff\xfe", name)
    (folder / "sub").mkdir()
    assert rows_of(checked(folder)) == [("patients", 2, {"patient_id": "P1"})]


def test_an_unreadable_table_does_not_blame_what_points_to_it(tmp_path):
    folder = write_folder(tmp_path / "tables", clinic())
    (folder / "patients.csv").write_bytes("patient_id\nP1".encode("utf-16-le"))
    assert [line.partition(":")[0] for line in said(checked(folder))] == ["patients"]


def test_a_folder_without_tables_is_one_sentence(tmp_path):
    with pytest.raises(DataRefused, match="holds no CSV table; wanted: patients"):
        read_sheets(tmp_path, default_protocol())


def test_a_folder_named_like_a_table_is_one_line(tmp_path):
    folder = folder_with(tmp_path, b"patient_id\nP1\n")
    (folder / "events.csv").mkdir()
    assert said(checked(folder)) == ["events: cannot be read: Is a directory"]


@pytest.mark.parametrize(
    "content, words",
    [
        (b"patient_id" + b",x" * 10_000 + b"\n", "has more than 500 columns"),
        (b"patient_id\n" + b"x" * 200_000, "field larger than field limit"),
        (b"patient_id\n" + b"x" * 100_000, "holds 100,000 characters; shorten it"),
        (b"patient_id\n\x00\x01\x02\n", "UTF-16"),
        (b"patient_id\nP\x07\n", "control character"),
    ],
)
def test_a_table_out_of_all_bounds_is_one_line(tmp_path, content, words):
    [line] = lines_of(tmp_path, content)
    assert words in line
    assert len(line) < 300


def test_too_many_rows_are_one_line(tmp_path, monkeypatch):
    monkeypatch.setattr(size_limits, "TABLE_ROWS", 3)
    assert "more than 3 rows" in lines_of(tmp_path, b"patient_id\n" + b"P1\n" * 4)[0]


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="the largest resident set is read as Linux gives it")
@pytest.mark.parametrize(
    "name, size, words", [("patients.csv", 99_000_000, "characters"), ("patients.csv", 29_000_000, "characters")]
)
@pytest.mark.parametrize("unit", [b",", b"1;", b'"\n",'])
def test_a_table_of_separators_is_refused_in_little_memory(tmp_path, name, size, words, unit):
    """The largest resident set of a process of its own; that of `getrusage` would keep the peak of the tests before it."""
    folder_with(tmp_path, unit * (size // len(unit)), name)
    code = (
        "import sys; from pathlib import Path; from outcomes.capture import digest_of, read_sheets\n"
        "from outcomes.protocol import default_protocol\n"
        "folder = Path(sys.argv[1]); digest_of(folder); read = read_sheets(folder, default_protocol())\n"
        "status = dict(line.split(':', 1) for line in Path('/proc/self/status').read_text().splitlines())\n"
        "print(read.problems[0].what, '|', status['VmHWM'].split()[0])"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code, tmp_path / "tables"], capture_output=True, text=True, check=True, timeout=120
    )
    what, _, kilobytes = ran.stdout.partition("|")
    assert words in what
    assert int(kilobytes) < 500_000


def test_wide_but_empty_is_no_harm(tmp_path):
    assert values_of(tmp_path, b"patient_id" + b"," * 10_000 + b"\nP1" + b"," * 10_000 + b"\n") == [
        {"patient_id": "P1"}
    ]


@pytest.mark.quick
def test_the_rows_of_a_table_are_those_below_its_first_that_are_not_blank(tmp_path):
    (tmp_path / "patients.csv").write_text("patient_id,birth_year\n\nA1,1950\n,\nA2,1951\n", encoding="utf-8")
    assert read_sheets(tmp_path, default_protocol()).row_count == 2
