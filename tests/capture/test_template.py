"""The template, read back by another library than the one that wrote it, is what a clinic can fill in."""

import openpyxl
import pytest

from outcomes.capture import read_sheets, write_template
from outcomes.errors import OutcomesError
from outcomes.protocol import SHEETS, default_protocol, read_protocol
from tests.capture.clinic import checked

# The data dictionary that was agreed with the clinics, typed here again by hand.
AGREED = {
    "patients": "patient_id birth_year sex smoker diabetes immunosuppressed anticoagulated prior_lid_radiotherapy",
    "reconstructions": "case_id patient_id side surgeon site operated_on diagnosis bcc_subtype recurrent_tumour "
    "defect_width_mm lid_width_mm defect_height_mm defect_depth canthus_involved distraction_mm snap_back "
    "fellow_logmar excision_method clinical_margin_mm margin_control "
    "histology_lateral_mm histology_deep_mm histology_margin "
    "histology_reason re_excised residual_tumour flap_width_mm tarsus_left_mm cover_planned cover graft_donor "
    "margin_shortfall_mm division_planned_on divided_on division_early_reason",
    "reviews": "case_id reviewed_on assessor masked mode date_precision margin_position_mm fellow_margin_position_mm retraction_mm "
    "scleral_show_mm notch_mm lash_loss_percent oedema ectropion entropion trichiasis margin_redness lagophthalmos_mm "
    "corneal_staining watering colour_mismatch contour_mismatch upper_margin_position_mm "
    "fellow_upper_margin_position_mm satisfaction recurrence",
    "events": "case_id happened_on kind percent_lost revision_kind",
}

CLINIC_PROTOCOL = """
extends = "default"

[[fields]]
id = "brow_droop_mm"
sheet = "reviews"
kind = "number"
observed = true
unit = "mm"
low = 0
high = 12
label = "Droop of the brow"
definition = "From the upper rim of the orbit."

[[fields]]
id = "scar_kind"
sheet = "reviews"
kind = "choice"
values = ["flat, pale", "flat, red", "raised"]
label = "Scar"
definition = "How the scar looks."

[[measures]]
id = "brow_droop"
field = "brow_droop_mm"
worse = "higher"
label = "Droop of the brow"
"""


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    path = tmp_path_factory.mktemp("template") / "template.xlsx"
    write_template(path, default_protocol())
    return path


@pytest.fixture(scope="module")
def book(path):
    return openpyxl.load_workbook(path)


@pytest.fixture
def clinic_protocol(tmp_path):
    file = tmp_path / "clinic.toml"
    file.write_text(CLINIC_PROTOCOL, encoding="utf-8")
    return read_protocol(file)


def rules_of(sheet):
    """Each column's rule by the field name in its first row."""
    rules = {}
    for rule in sheet.data_validations.dataValidation:
        for cells in rule.sqref.ranges:
            rules[sheet.cell(1, cells.min_col).value] = rule
    return rules


def words_of(book, rule):
    """The words of a drop-down, which stand in the rule or in a range of the hidden sheet."""
    source = rule.formula1
    if source.startswith('"'):
        return source.strip('"').split(",")
    sheet, cells = source.split("!")
    return [str(row[0].value) for row in book[sheet][cells.replace("$", "")]]


def column_of(sheet, number):
    """A column's width and format; alike neighbours are kept as one span."""
    spans = sheet.column_dimensions.values()
    return next(span for span in spans if span.min <= number <= span.max)


@pytest.mark.parametrize("sheet", SHEETS)
def test_first_row_holds_the_agreed_names_and_no_row_follows(book, sheet):
    assert [cell.value for cell in book[sheet][1]] == AGREED[sheet].split()
    assert book[sheet].max_row == 1


def test_sheets_stand_in_order_and_the_lists_are_hidden(book):
    assert book.sheetnames == [*SHEETS, "definitions", "lists"]
    assert [sheet.title for sheet in book if sheet.sheet_state != "visible"] == ["lists"]


@pytest.mark.parametrize("sheet", SHEETS)
def test_sheet_is_frozen_and_set_up_for_print(book, sheet):
    sheet = book[sheet]
    assert sheet.freeze_panes == "B2"
    assert sheet.page_setup.orientation == "landscape"
    assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight) == (1, 0)  # 1 is what stands for unset
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert sheet.print_title_rows == "$1:$1"
    assert "&A" in sheet.oddHeader.right.text
    assert "no name" in sheet.oddFooter.center.text


@pytest.mark.parametrize("field", default_protocol().fields, ids=lambda field: f"{field.sheet}.{field.id}")
def test_every_name_has_a_comment_with_its_definition_and_unit(book, field):
    column = AGREED[field.sheet].split().index(field.id)
    comment = book[field.sheet].cell(1, column + 1).comment.text
    assert field.definition in comment
    assert field.label in comment
    assert not field.unit or f"Unit: {field.unit}." in comment
    assert field.required == ("required" in comment)


@pytest.mark.parametrize("sheet", SHEETS)
def test_columns_are_as_wide_as_their_names(book, sheet):
    for cell in book[sheet][1]:
        assert column_of(book[sheet], cell.column).width >= min(len(cell.value), 30)


@pytest.mark.parametrize(
    "sheet, field, words",
    [
        ("patients", "sex", "female male other unknown"),
        ("reconstructions", "side", "right left"),
        ("reconstructions", "re_excised", "yes no"),
        ("reviews", "mode", "clinic photograph telephone letter"),
        ("reviews", "oedema", "none mild moderate severe 0 1 2 3"),
        ("reviews", "recurrence", "none suspected confirmed 0 1 2"),
        ("reviews", "corneal_staining", "0 1 2 3 4 5"),
        ("reviews", "satisfaction", "0 1 2 3 4 5 6 7 8 9 10"),
    ],
)
def test_closed_list_is_a_drop_down(book, sheet, field, words):
    rule = rules_of(book[sheet])[field]
    assert rule.type == "list"
    assert words_of(book, rule) == words.split()


def test_every_closed_list_of_the_protocol_is_a_drop_down(book):
    for field in default_protocol().fields:
        if field.allowed or field.levels:
            rule = rules_of(book[field.sheet])[field.id]
            wanted = field.allowed or field.levels
            assert rule.type == "list"
            assert words_of(book, rule)[: len(wanted)] == list(wanted)


@pytest.mark.parametrize(
    "sheet, field, kind, low, high",
    [
        ("reconstructions", "defect_width_mm", "decimal", "1", "60"),
        ("reconstructions", "margin_shortfall_mm", "decimal", "-2", "6"),
        ("reviews", "retraction_mm", "decimal", "-5", "10"),
        ("reviews", "lash_loss_percent", "decimal", "0", "100"),
        ("patients", "birth_year", "whole", "1900", "YEAR(TODAY())"),
        ("reconstructions", "operated_on", "date", "1", "TODAY()"),  # day 1 of the spreadsheet's calendar is 1900-01-01
    ],
)
def test_limits_hold_while_typing(book, sheet, field, kind, low, high):
    rule = rules_of(book[sheet])[field]
    assert (rule.type, rule.formula1, rule.formula2) == (kind, low, high)


def test_a_planned_date_may_lie_ahead(book):
    rule = rules_of(book["reconstructions"])["division_planned_on"]
    assert (rule.type, rule.operator, rule.formula2) == ("date", "greaterThanOrEqual", None)


def test_rules_reach_below_every_row_that_will_be_typed(book):
    for sheet in SHEETS:
        for rule in book[sheet].data_validations.dataValidation:
            assert all(cells.min_row == 2 and cells.max_row >= 5000 for cells in rule.sqref.ranges)


@pytest.mark.parametrize(
    "sheet, field, format_",
    [
        ("patients", "patient_id", "@"),
        ("reconstructions", "fellow_logmar", "@"),  # 6/12 must not become the sixth of December
        ("events", "revision_kind", "@"),
        ("reconstructions", "divided_on", "yyyy-mm-dd"),
        ("reviews", "reviewed_on", "yyyy-mm-dd"),
        ("reviews", "notch_mm", "General"),
    ],
)
def test_column_has_the_format_of_its_kind(book, sheet, field, format_):
    number = next(cell.column for cell in book[sheet][1] if cell.value == field)
    assert column_of(book[sheet], number).number_format == format_


def test_messages_fit_what_a_spreadsheet_shows(book):
    """Titles of at most 32 and messages of at most 255 characters: ECMA-376 part 1, 18.3.1.32 (from memory)."""
    rules = [rule for sheet in SHEETS for rule in book[sheet].data_validations.dataValidation]
    assert len(rules) == len(default_protocol().fields)
    for rule in rules:
        assert 0 < len(rule.promptTitle) <= 32
        assert 0 < len(rule.prompt) <= 255
        assert not rule.formula1 or len(rule.formula1) <= 257


def test_definitions_say_every_field_once(book):
    rows = list(book["definitions"].values)
    titles = dict(zip(rows[0], range(len(rows[0])), strict=True))
    assert [(row[0], row[1]) for row in rows[1:]] == [(s, f) for s in SHEETS for f in AGREED[s].split()]
    oxford = next(row for row in rows if row[1] == "corneal_staining")
    assert "Cornea 2003;22:640-650" in oxford[titles["scale"]]
    width = next(row for row in rows if row[1] == "defect_width_mm")
    assert width[titles["unit"]] == "mm"


def test_same_protocol_gives_the_same_bytes(path, tmp_path):
    write_template(tmp_path / "again.xlsx", default_protocol())
    assert (tmp_path / "again.xlsx").read_bytes() == path.read_bytes()


def test_the_empty_template_loads_as_nothing(path):
    outcome = checked(path)
    assert (outcome.rows, outcome.problems) == ((), ())
    assert [sheet.name for sheet in read_sheets(path, default_protocol()).sheets] == list(SHEETS)


def test_a_file_that_is_there_is_kept(tmp_path):
    filled = tmp_path / "filled.xlsx"
    filled.write_bytes(b"entries of a year")
    with pytest.raises(OutcomesError, match="is there already"):
        write_template(filled, default_protocol())
    assert filled.read_bytes() == b"entries of a year"


def test_a_place_that_cannot_be_written_to_is_one_sentence(tmp_path):
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(OutcomesError, match="cannot be written"):
        write_template(tmp_path / "file" / "template.xlsx", default_protocol())


def test_a_clinic_s_own_measure_appears_and_loads(clinic_protocol, tmp_path):
    path = tmp_path / "own.xlsx"
    write_template(path, clinic_protocol)
    book = openpyxl.load_workbook(path)
    names = [cell.value for cell in book["reviews"][1]]
    rule = rules_of(book["reviews"])["brow_droop_mm"]
    assert (rule.type, rule.formula1, rule.formula2) == ("decimal", "0", "12")
    assert words_of(book, rules_of(book["reviews"])["scar_kind"]) == ["flat, pale", "flat, red", "raised"]

    book["patients"].append(["P001"])
    fill(
        book["reconstructions"],
        case_id="C1",
        patient_id="P001",
        side="left",
        operated_on="2024-03-05",
        diagnosis="benign",
        cover="graft",
        divided_on="2024-03-26",
    )
    fill(book["reviews"], case_id="C1", reviewed_on="2024-06-04", brow_droop_mm=3.5, scar_kind="Flat, pale")
    book.save(path)
    outcome = checked(path, protocol=clinic_protocol)
    assert outcome.problems == ()
    assert outcome.rows[-1].values["brow_droop_mm"] == 3.5
    assert outcome.rows[-1].values["scar_kind"] == "flat, pale"
    assert "brow_droop_mm" in names


def fill(sheet, **values):
    names = [cell.value for cell in sheet[1]]
    sheet.append([values.get(name) for name in names])
