"""A workbook is read as its writer saw it, and never with a value lost in silence."""

import io
import zipfile
from datetime import date, datetime, time, timedelta

import openpyxl
import pytest
import xlsxwriter
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from outcomes.capture import digest_of, read_sheets, size_limits
from outcomes.errors import DataRefused
from outcomes.protocol import default_protocol
from tests.capture.clinic import checked, clinic, loaded, said, write_folder, write_workbook


def edited(tmp_path, change):
    """The clinic's workbook after `change` was made to it in the spreadsheet program."""
    path = write_workbook(tmp_path / "clinic.xlsx", clinic())
    book = openpyxl.load_workbook(path)
    change(book)
    book.save(path)
    return path


def lines_after(tmp_path, change):
    return said(checked(edited(tmp_path, change)))


def refusal(path):
    with pytest.raises(DataRefused) as refused:
        read_sheets(path, default_protocol())
    assert str(refused.value)
    return str(refused.value)


# ------------------------------------------------------------------ cells without a result


@pytest.mark.parametrize("error", ["#DIV/0!", "#N/A", "#REF!", "#VALUE!", "#NAME?", "#NUM!", "#NULL!"])
def test_a_formula_that_failed_is_refused_not_blank(tmp_path, error):
    """The spreadsheet library alone reads these cells as blank, which would mean: not recorded."""

    def fail(book):
        book["reviews"]["H4"] = error
        assert book["reviews"]["H4"].data_type == "e"

    [line] = lines_after(tmp_path, fail)
    assert line.startswith(f'reviews row 4, oedema "{error}": a formula ended in an error')


def test_a_formula_that_was_never_calculated_is_refused_not_blank(tmp_path):
    def formula(book):
        book["reviews"]["G2"] = "=F2-1"

    [line] = lines_after(tmp_path, formula)
    assert (
        line
        == 'reviews row 2, fellow_margin_position_mm "=F2-1": is a formula without its result; type the value itself'
    )


def test_a_formula_with_its_result_is_its_result(tmp_path):
    path = tmp_path / "clinic.xlsx"
    book = xlsxwriter.Workbook(str(path))
    sheet = book.add_worksheet("patients")
    sheet.write_row(0, 0, ["patient_id", "birth_year"])
    sheet.write_string(1, 0, "P1")
    sheet.write_formula(1, 1, "=2024-80", None, 1944)
    book.close()
    assert checked(path).rows[0].values == {"patient_id": "P1", "birth_year": 1944}


def test_an_error_in_the_last_row_and_column_is_seen(tmp_path):
    def fail(book):
        sheet = book["events"]
        sheet.cell(1, sheet.max_column + 1, "revision_kinds")
        sheet.cell(9, sheet.max_column, "#N/A")

    assert any(line.startswith("events row 9") for line in lines_after(tmp_path, fail))


# ------------------------------------------------------------------ types


@pytest.mark.parametrize("epoch", [None, CALENDAR_MAC_1904])
def test_dates_are_dates_in_both_calendars(tmp_path, epoch):
    def calendar(book):
        book.epoch = epoch or book.epoch

    rows = checked(edited(tmp_path, calendar)).rows
    assert next(row for row in rows if row.sheet == "reviews").values["reviewed_on"] == date(2024, 4, 2)


@pytest.mark.parametrize(
    "typed, words",
    [
        (45000, "is a bare number; format the cell as a date"),
        (datetime.fromisoformat("2024-04-02T10:30"), "has a time of day; keep only the date"),
        (time(10, 30), "is a time of day"),
        (timedelta(hours=30), "is a time of day"),
        (True, "is a bare number"),
        ("2024-02-30", "is no day of the calendar"),
        ("5.3.24", "can be read day first or month first"),
        ("24.3.24", "has a year of two digits"),
        ("March 2024", "is only a month"),
        ("1850-01-01", "before 1900"),
    ],
)
def test_what_is_no_clear_date_is_refused(tmp_path, typed, words):
    sheets = clinic()
    sheets["events"][0]["happened_on"] = typed
    [line] = said(loaded(tmp_path, sheets))
    assert line.startswith("events row 2, happened_on")
    assert words in line


@pytest.mark.parametrize(
    "field, typed, kept",
    [
        ("masked", True, "yes"),
        ("masked", False, "no"),
        ("masked", "YES", "yes"),
        ("mode", " Clinic ", "clinic"),
        ("assessor", 12.0, "12"),
        ("assessor", 1234567, "1234567"),
        ("assessor", "  K\u00a0M ", "K M"),
        ("margin_position_mm", "5.5", 5.5),
        ("margin_position_mm", "5,5", 5.5),
        ("margin_position_mm", " 5 ", 5.0),
        ("oedema", "Moderate", 2),
        ("oedema", "2", 2),
        ("oedema", 2.0, 2),
        ("retraction_mm", "\u22121,5", -1.5),
        ("reviewed_on", "2024-04-2", date(2024, 4, 2)),
    ],
)
def test_messy_but_clear_cells_are_taken(tmp_path, field, typed, kept):
    sheets = clinic()
    sheets["reviews"][0][field] = typed
    outcome = loaded(tmp_path, sheets)
    assert said(outcome) == []
    assert next(row for row in outcome.rows if row.sheet == "reviews").values[field] == kept


@pytest.mark.parametrize(
    "field, typed",
    [
        ("margin_position_mm", True),
        ("margin_position_mm", datetime.fromisoformat("2024-05-05")),
        ("margin_position_mm", "5-6"),
        ("margin_position_mm", "1 5"),
        ("margin_position_mm", "0x5"),
        ("margin_position_mm", "nan"),
        ("margin_position_mm", "1,5,0"),
        ("margin_position_mm", "<5"),
        ("oedema", True),
        ("oedema", "mild?"),
        ("assessor", datetime.fromisoformat("2024-05-05")),
        ("assessor", "A\nB"),
        ("assessor", "A\u200bB"),
        ("assessor", "x" * 61),
        ("assessor", time(1, 2)),
        ("assessor", "=1+1"),
        ("mode", "x" * 30_000),
        ("assessor", "n/a"),
        ("masked", "y"),
    ],
)
def test_unclear_cells_are_refused(tmp_path, field, typed):
    sheets = clinic()
    sheets["reviews"][0][field] = typed
    [line] = said(loaded(tmp_path, sheets))
    assert line.startswith(f"reviews row 2, {field}")
    assert len(line) < 300


@pytest.mark.parametrize(
    "typed, kept", [("1,301", 1.301), ("0,3", 0.3), ("6/7,5", 0.097), ("20/40", 0.301), ("-0,1", -0.1)]
)
def test_vision_is_taken_with_a_comma_or_as_a_fraction(tmp_path, typed, kept):
    """log10(7.5/6) = 0.0969 and log10(40/20) = 0.3010 by hand."""
    sheets = clinic()
    sheets["reconstructions"][0]["fellow_logmar"] = typed
    outcome = loaded(tmp_path, sheets)
    assert said(outcome) == []
    assert next(row for row in outcome.rows if row.sheet == "reconstructions").values["fellow_logmar"] == kept


# ------------------------------------------------------------------ sheets


def test_blank_rows_and_columns_around_the_data_do_no_harm(tmp_path):
    def blanks(book):
        sheet = book["reviews"]
        sheet.insert_rows(3)
        sheet.insert_cols(2)
        sheet.cell(500, 40, "  ")
        sheet.cell(9, 1, "")

    outcome = checked(edited(tmp_path, blanks))
    assert said(outcome) == []
    assert [row.number for row in outcome.rows if row.sheet == "reviews"] == [2, 4, 5, 6, 7]


def test_the_row_number_is_the_one_that_the_spreadsheet_shows(tmp_path):
    def blanks(book):
        book["reviews"].insert_rows(3, amount=4)
        book["reviews"]["E8"] = "fax"

    [line] = lines_after(tmp_path, blanks)
    assert line.startswith('reviews row 8, mode "fax"')


def test_a_blank_first_row_is_refused(tmp_path):
    lines = lines_after(tmp_path, lambda book: book["events"].insert_rows(1))
    assert lines == ["events row 1: the field names are in row 2; delete row 1, so that they are in row 1"]


def test_merged_cells_are_refused(tmp_path):
    lines = lines_after(tmp_path, lambda book: book["reviews"].merge_cells("E2:E3"))
    assert (
        lines[0] == "reviews row 2: the cells E2:E3 are merged, and only the first keeps a value; unmerge and fill each"
    )


def test_sheet_names_may_differ_in_capitals_and_spaces(tmp_path):
    names = {"patients": "PATIENTS", "reviews": " Reviews "}
    sheets = {names.get(name, name): rows for name, rows in clinic().items()}
    assert said(loaded(tmp_path, sheets)) == []


def test_definitions_and_lists_are_passed_over(tmp_path):
    def notes(book):
        book.create_sheet("Definitions")["A1"] = "#N/A"
        book.create_sheet("lists")["A1"] = "=1+1"

    assert lines_after(tmp_path, notes) == []


@pytest.mark.parametrize(
    "title, remedy",
    [("review", 'did you mean "reviews"?'), ("Sheet1", "known: patients, reconstructions, reviews, events")],
)
def test_an_unknown_sheet_is_refused_by_name(tmp_path, title, remedy):
    [line] = lines_after(tmp_path, lambda book: book.create_sheet(title))
    assert line.startswith(f"{title}: is not a sheet that is loaded")
    assert remedy in line


def test_a_workbook_without_any_known_sheet_is_refused(tmp_path):
    lines = said(checked(write_workbook(tmp_path / "x.xlsx", {"definitions": [{"a": 1}]})))
    assert lines == ["x.xlsx: holds no sheet to load; known: patients, reconstructions, reviews, events"]


def test_reviews_and_events_may_be_missing_or_empty(tmp_path):
    sheets = {name: clinic()[name] for name in ("patients", "reconstructions")}
    assert said(loaded(tmp_path, sheets)) == []
    assert said(loaded(tmp_path, {**sheets, "reviews": [], "events": []})) == []


# ------------------------------------------------------------------ files that are no workbook


def renamed_part(path, change):
    """Copy a workbook part by part, each through `change`, which gives the part's new bytes."""
    with zipfile.ZipFile(path) as package:
        parts = {name: package.read(name) for name in package.namelist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as package:
        for name, content in parts.items():
            package.writestr(name, change(name, content))
    return path


@pytest.mark.parametrize(
    "name, content, words",
    [
        ("a.xlsx", b"", "is empty"),
        ("a.xlsx", b"patient_id;sex\n", "is not a workbook"),
        ("a.csv", b"patient_id;sex\n", "is a single table; put it into a folder"),
        ("a.xlsx", b"PK\x03\x04 and then nothing of the kind", "damaged"),
        ("a.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "old .xls format; save it as .xlsx"),
        (
            "a.xlsx",
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + "EncryptedPackage".encode("utf-16-le"),
            "protected by a password",
        ),
        ("a.png", b"\x89PNG\r\n\x1a\n" + bytes(100), "is not a workbook"),
    ],
)
def test_a_file_of_another_kind_is_one_sentence(tmp_path, name, content, words):
    path = tmp_path / name
    path.write_bytes(content)
    assert words in refusal(path)


@pytest.mark.parametrize(
    "part, words", [("content.xml", "OpenDocument"), ("xl/workbook.bin", ".xlsb"), ("note.txt", "no workbook")]
)
def test_another_zip_is_one_sentence(tmp_path, part, words):
    path = tmp_path / "a.xlsx"
    with zipfile.ZipFile(path, "w") as package:
        package.writestr(part, "x")
    assert words in refusal(path)


def test_a_missing_file_is_one_sentence(tmp_path):
    assert "there is no file" in refusal(tmp_path / "none.xlsx")
    assert "there is no file" in refusal(tmp_path / "a\0b.xlsx")
    assert "cannot be read: File name too long" in refusal(tmp_path / ("a" * 300))


def test_a_file_that_unpacks_to_far_more_is_refused_unread(tmp_path):
    path = write_workbook(tmp_path / "clinic.xlsx", clinic())
    with (
        zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED, compresslevel=1) as package,
        package.open("xl/media/big.bin", "w") as part,
    ):
        for _ in range(size_limits.UNPACKED_BYTES // 1_000_000 + 1):
            part.write(bytes(1_000_000))
    assert path.stat().st_size < 2_000_000
    assert "would unpack to more than 200 MB" in refusal(path)


@pytest.mark.parametrize(
    "cell, words",
    [
        ("XFD1048576", "holds a value in row 1,048,576"),
        ("ZZ3", "holds a value in column 702"),
        ("A900000", "row 900,000"),
    ],
)
def test_a_value_far_out_is_refused_before_the_sheet_is_laid_out(tmp_path, cell, words):
    def far(book):
        book["reviews"][cell] = 1

    lines = lines_after(tmp_path, far)
    assert [line for line in lines if words in line]
    assert all(line.startswith("reviews") for line in lines)


def test_format_without_values_far_out_does_no_harm(tmp_path):
    def paint(book):
        book["reviews"]["XFD1048576"].fill = openpyxl.styles.PatternFill("solid", fgColor="FFFF00")

    assert lines_after(tmp_path, paint) == []


def test_declared_entities_are_refused(tmp_path):
    def swell(name, content):
        if name != "xl/worksheets/sheet1.xml":
            return content
        return b'<!DOCTYPE a [<!ENTITY b "bb"><!ENTITY c "&b;&b;&b;">]>' + content

    path = write_workbook(tmp_path / "clinic.xlsx", clinic())
    assert "damaged" in refusal(renamed_part(path, swell))


@pytest.mark.parametrize(
    "part", ["xl/worksheets/sheet1.xml", "xl/_rels/workbook.xml.rels", "xl/workbook.xml", "xl/styles.xml"]
)
def test_a_missing_or_broken_part_is_one_sentence(tmp_path, part):
    path = write_workbook(tmp_path / "clinic.xlsx", clinic())
    assert "damaged" in refusal(
        renamed_part(path, lambda name, content: content[: len(content) // 2] if name == part else content)
    )


def flipped(path, to, place):
    content = bytearray(path.read_bytes())
    content[place] ^= 0x01
    to.write_bytes(content)
    return to


def test_a_flipped_byte_is_refused_or_changes_no_cell(tmp_path):
    """A part stored without compression is read whatever a byte is flipped to, unless its checksum is compared."""
    path = write_workbook(tmp_path / "clinic.xlsx", clinic())
    stored = tmp_path / "stored.xlsx"
    with zipfile.ZipFile(path) as package, zipfile.ZipFile(stored, "w", zipfile.ZIP_STORED) as to:
        for name in package.namelist():
            to.writestr(name, package.read(name))
    whole = read_sheets(stored, default_protocol()).sheets
    start = stored.read_bytes().index(b"P001")
    refusals = 0
    for place in [*range(start, start + 400, 7), *range(0, stored.stat().st_size, 997)]:
        try:
            assert read_sheets(flipped(stored, tmp_path / "flipped.xlsx", place), default_protocol()).sheets == whole
        except DataRefused:
            refusals += 1
    assert refusals > 50


def test_the_damaged_part_is_named(tmp_path):
    path = write_workbook(tmp_path / "clinic.xlsx", clinic())
    with zipfile.ZipFile(path) as package:
        sheet = package.getinfo("xl/worksheets/sheet1.xml")
    damaged = flipped(path, tmp_path / "flipped.xlsx", sheet.header_offset + 14)  # the checksum in the part's own head
    assert zipfile.ZipFile(damaged).testzip() is None  # the directory's copy is what counts
    central = path.read_bytes().rindex(b"xl/worksheets/sheet1.xml") - 46 + 16
    assert "its part xl/worksheets/sheet1.xml is not as it was saved" in refusal(
        flipped(path, tmp_path / "flipped.xlsx", central)
    )


def test_a_part_that_is_there_twice_is_refused(tmp_path):
    path = write_workbook(tmp_path / "clinic.xlsx", clinic())
    with zipfile.ZipFile(path, "a") as package, pytest.warns(UserWarning, match="Duplicate name"):
        package.writestr("xl/worksheets/sheet1.xml", "<worksheet/>")
    assert "is in the file twice" in refusal(path)


def test_a_long_text_repeated_in_many_cells_is_refused(tmp_path):
    """The cells hold the number of one shared text, and the library would make a copy for each."""
    path = tmp_path / "long.xlsx"
    book = xlsxwriter.Workbook(str(path))
    sheet = book.add_worksheet("patients")
    sheet.write_column(0, 0, ["patient_id", *(["x" * 32_000] * 4_000)])
    book.close()
    assert path.stat().st_size < 200_000
    assert "holds more than 100,000,000 characters" in refusal(path)


# ------------------------------------------------------------------ the digest


def test_digest_is_that_of_the_file(tmp_path):
    path = tmp_path / "abc"
    path.write_bytes(b"abc")
    # FIPS 180-2, appendix B.1: the SHA-256 of "abc".
    assert digest_of(path) == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_digest_of_a_folder_changes_with_any_table(tmp_path):
    folder = write_folder(tmp_path / "a", clinic())
    before = digest_of(folder)
    (folder / "note.txt").write_text("not a table")
    assert digest_of(folder) == before
    (folder / "events.csv").write_bytes((folder / "events.csv").read_bytes() + b"\n")
    assert digest_of(folder) != before
    assert digest_of(write_folder(tmp_path / "b", clinic())) == before


def test_reading_leaves_the_file_as_it_was(tmp_path):
    path = write_workbook(tmp_path / "clinic.xlsx", clinic())
    before = path.read_bytes()
    checked(path)
    assert path.read_bytes() == before
    assert zipfile.ZipFile(io.BytesIO(before)).testzip() is None
