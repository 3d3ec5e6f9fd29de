"""Cells are read, or refused with what is allowed.

The limits compared here are those of the data dictionary that was agreed with the clinics.
"""

from datetime import date, datetime

import pytest

from outcomes.protocol import default_protocol

AS_OF = date(2026, 6, 30)
PROTOCOL = default_protocol()


def read(sheet, name, raw):
    return PROTOCOL.field(sheet, name).read(raw, as_of=AS_OF)


@pytest.mark.parametrize(
    "sheet, name, raw, value",
    [
        ("patients", "patient_id", " P 1 ", "P 1"),
        ("patients", "patient_id", "P  1", "P 1"),
        ("patients", "patient_id", 12.0, "12"),
        ("patients", "patient_id", 12345678.0, "12345678"),
        ("patients", "patient_id", "007", "007"),
        ("patients", "patient_id", "A\u030a1", "\u00c51"),  # a letter and its ring are one letter
        ("patients", "birth_year", 1950.0, 1950),
        ("patients", "birth_year", "2026", 2026),
        ("patients", "sex", "FEMALE", "female"),
        ("patients", "sex", " female\u00a0", "female"),
        ("reconstructions", "diagnosis", "merkel  cell carcinoma", "Merkel cell carcinoma"),
        ("reconstructions", "re_excised", True, "yes"),
        ("reconstructions", "re_excised", "No", "no"),
        ("reconstructions", "cover", "Secondary Intention", "secondary intention"),
        ("reconstructions", "defect_width_mm", 1, 1.0),
        ("reconstructions", "defect_width_mm", "60", 60.0),
        ("reconstructions", "margin_shortfall_mm", "\u22122", -2.0),
        ("reconstructions", "fellow_logmar", "6/12", 0.301),
        ("reconstructions", "fellow_logmar", "-0.3", -0.3),
        ("reconstructions", "operated_on", "2024-3-5", date(2024, 3, 5)),
        ("reconstructions", "operated_on", "2024-03-05T00:00:00", date(2024, 3, 5)),
        ("reconstructions", "operated_on", datetime.fromisoformat("2024-03-05"), date(2024, 3, 5)),
        ("reconstructions", "operated_on", AS_OF, AS_OF),
        ("reconstructions", "division_planned_on", date(2026, 7, 21), date(2026, 7, 21)),
        ("reconstructions", "snap_back", "stays away", 4),
        ("reviews", "oedema", 0, 0),
        ("reviews", "oedema", "SEVERE", 3),
        ("reviews", "satisfaction", "10", 10),
        ("reviews", "recurrence", "suspected", 1),
    ],
)
def test_a_clear_cell_is_read(sheet, name, raw, value):
    reading = read(sheet, name, raw)
    assert (reading.value, reading.problem) == (value, "")
    assert type(reading.value) is type(value)


@pytest.mark.parametrize(
    "sheet, name, raw, problem",
    [
        ("patients", "sex", "f", '"f": must be one of female, male, other, unknown'),
        ("patients", "sex", "femail", 'unknown; did you mean "female"?'),
        ("patients", "birth_year", 1899, '"1899": must be a year from 1900 to 2026'),
        ("patients", "birth_year", 2027, "must be a year from 1900 to 2026"),
        ("patients", "birth_year", 1950.5, "must be a year"),
        ("patients", "birth_year", date(1950, 1, 1), "must be a year"),
        ("patients", "patient_id", date(2024, 1, 2), "format the column as text"),
        ("patients", "patient_id", "a\tb", "control character"),
        ("patients", "patient_id", "x" * 61, "at most 60 characters; shorten it"),
        ("reconstructions", "defect_width_mm", 0.9, '"0.9": must be a number from 1 to 60 mm'),
        ("reconstructions", "defect_width_mm", 60.1, "from 1 to 60 mm"),
        ("reconstructions", "lid_width_mm", 14, "from 15 to 45 mm"),
        ("reconstructions", "margin_shortfall_mm", 6.5, "from -2 to 6 mm"),
        ("reconstructions", "fellow_logmar", "6/1200000", "from -0.3 to 3 logMAR"),
        ("reconstructions", "fellow_logmar", "hand movements", "or a Snellen fraction such as 6/12 or 20/40"),
        ("reconstructions", "fellow_logmar", date(2024, 12, 6), "format the cell as text"),
        ("reconstructions", "operated_on", date(2026, 7, 1), "lies in the future (after 2026-06-30)"),
        ("reconstructions", "operated_on", "05-03-2024", "is not a clear date; type it as year-month-day"),
        ("reconstructions", "operated_on", "2023-02-29", "is no day of the calendar"),
        ("reconstructions", "operated_on", 45356, "is a bare number; format the cell as a date"),
        ("reconstructions", "re_excised", "maybe", '"maybe": must be yes or no'),
        ("reviews", "oedema", 4, "must be one of 0 none, 1 mild, 2 moderate, 3 severe"),
        ("reviews", "oedema", 1.5, "must be one of 0 none"),
        ("reviews", "corneal_staining", 6, "must be a whole number from 0 to 5"),
        ("reviews", "corneal_staining", -1, "must be a whole number from 0 to 5"),
        ("reviews", "notch_mm", "1 mm", "type a plain number without its unit"),
        ("reviews", "notch_mm", "1 5", "type a plain number"),
        ("reviews", "notch_mm", float("nan"), "from 0 to 8 mm"),
        ("reviews", "notch_mm", True, "type a plain number"),
        ("reviews", "notch_mm", "#DIV/0!", "a formula ended in an error"),
        ("events", "percent_lost", 101, "from 0 to 100%"),
    ],
)
def test_a_wrong_cell_is_refused_with_what_is_allowed(sheet, name, raw, problem):
    reading = read(sheet, name, raw)
    assert reading.value is None
    assert problem in reading.problem


@pytest.mark.parametrize("field", PROTOCOL.fields, ids=lambda field: f"{field.sheet}.{field.id}")
@pytest.mark.parametrize("blank", [None, "", "   ", "\u00a0", "\t\n"])
def test_blank_is_not_recorded(field, blank):
    reading = field.read(blank, as_of=AS_OF)
    assert (reading.value, reading.problem) == (None, "")


@pytest.mark.parametrize(
    "name, number, word",
    [("entropion", 1.0, "yes"), ("entropion", 0.0, "no"), ("oedema", 2.0, "moderate"), ("satisfaction", 7.0, "7"),
     ("notch_mm", 0.5, "0.5"), ("recurrence", 2.0, "confirmed")],
)  # fmt: skip
def test_an_observed_number_is_said_and_read_back(name, number, word):
    field = PROTOCOL.field("reviews", name)
    assert field.word(number) == word
    assert field.number(read("reviews", name, word).value) == number


def test_the_future_is_what_lies_after_the_date_given():
    field = PROTOCOL.field("reviews", "reviewed_on")
    assert field.read(date(2026, 7, 1), as_of=date(2026, 6, 30)).problem
    assert not field.read(date(2026, 7, 1), as_of=date(2026, 7, 1)).problem


@pytest.mark.parametrize(
    "measure, words",
    [("retraction", "1 mm or more"), ("lash_loss", "50% or more"), ("oedema", "1 (mild) or more"), ("entropion", "yes"),
     ("corneal_staining", "2 or more"), ("satisfaction", "6 or less"), ("margin_position", "")],
)  # fmt: skip
def test_a_poor_result_is_said_in_words(measure, words):
    assert PROTOCOL.poor_words(PROTOCOL.measure(measure)) == words


def test_a_minus_before_zero_is_no_other_value():
    [reading] = [default_protocol().field("reconstructions", "fellow_logmar").read("-0", as_of=date(2026, 6, 30))]
    assert str(reading.value) == "0.0"
