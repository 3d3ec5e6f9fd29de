"""Shapes that a person can be known by are kept out, and ordinary codes let in.

Which codes are ordinary, and which shapes are a person's, is common practice, no source. All names are invented.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.capture import identifiers
from outcomes.capture.identifiers import doubtful_shape, refused_shape
from tests.capture.clinic import clinic, loaded, said


@pytest.mark.parametrize(
    "code",
    [
        "P001", "P-001", "12", "0001", "A-12", "KM", "K.M.", "C1", "VB-624M-L", "2024-017", "2024-0001", "24/17",
        "S1/P3", "20240001", "1234567", "12345678", "Site A", "Surgeon B", "patient 7", "Patient One", "R2-D4", "ÅB",
        "a1b2c3d4", "P001_left", "BCC 2024 17", "001-002", "01-02-003", "X", "case-2024-03-A", "9.1", "202403-0001",
        "MS 12", "DR2", "OP 12 L",
    ],
)  # fmt: skip
def test_an_ordinary_code_is_let_in(code):
    assert refused_shape("patient_id", code) == ""


@pytest.mark.parametrize(
    "code, shape",
    [
        ("jane@clinic.example", "an e-mail address"),
        ("p001 <jw@mail.example.org>", "an e-mail address"),
        ("4859201736", "a hospital or telephone number"),
        ("P4859201736", "a hospital or telephone number"),
        ("485 920 1736", "a hospital or telephone number"),
        ("485-920-1736", "a hospital or telephone number"),
        ("485.920.1736", "a hospital or telephone number"),
        ("078-05-1120", "a hospital or telephone number"),
        ("+44 20 7946 0000", "a hospital or telephone number"),
        ("(020) 7946 0000", "a hospital or telephone number"),
        ("020 7946 0000", "a hospital or telephone number"),
        ("123456789", "a hospital or telephone number"),
        ("1941-05-06", "a full date"),
        ("P 06.05.1941", "a full date"),
        ("6/5/1941", "a full date"),
        ("06/05/41", "a full date"),
        ("19410506", "a full date"),
        ("06051941", "a full date"),
        ("P19410506", "a full date"),
        ("060541-1234", "a hospital or telephone number"),
        ("410506-1234", "a full date"),
        ("Jane Wood", "a person's name"),
        ("Wood, Jane", "a person's name"),
        ("Jane Mary Wood", "a person's name"),
        ("Åse Öberg", "a person's name"),
        ("Jane O'Wood", "a person's name"),
        ("Anne-Marie Wood", "a person's name"),
        ("Dr Wood", "a person's name"),
        ("mrs. wood", "a person's name"),
        ("J. Wood", "a person's name"),
        ("J.M.Wood", "a person's name"),
        ("Wood, J", "a person's name"),
    ],
)
def test_a_person_s_shape_is_kept_out(code, shape):
    assert refused_shape("patient_id", code).startswith(shape)


@pytest.mark.parametrize("words", ["lid tightening", "Lid Tightening", "graft of 12/05/2024", "Lateral strip"])
def test_free_words_are_not_refused(words):
    assert refused_shape("revision_kind", words) == ""


@pytest.mark.parametrize("words", ["ring 020 7946 0000", "jane@clinic.example", "see 4859201736"])
def test_an_address_or_a_number_is_refused_in_free_words_too(words):
    assert refused_shape("revision_kind", words) != ""


@pytest.mark.parametrize(
    "field, code, doubtful",
    [
        ("patient_id", "Wood", True), ("surgeon", "Wood", True), ("surgeon", "WOOD", False), ("surgeon", "Km", False),
        ("site", "North Clinic", True), ("site", "North", False), ("revision_kind", "Jane Wood", True),
        ("revision_kind", "lid tightening", False), ("patient_id", "Patient", False),
    ],
)  # fmt: skip
def test_a_shape_that_a_code_may_have_is_queried(field, code, doubtful):
    assert refused_shape(field, code) == ""
    assert bool(doubtful_shape(field, code)) is doubtful


def test_refusal_says_what_to_do_instead(tmp_path):
    sheets = clinic()
    sheets["reviews"][0]["assessor"] = "J. Wood"
    [line] = said(loaded(tmp_path, sheets))
    assert line == (
        'reviews row 2, assessor "J. Wood": looks like a person\'s name; use a study code, and keep the list of whom '
        "it stands for elsewhere"
    )


@settings(max_examples=300)
@given(code=st.from_regex(identifiers._PLAIN, fullmatch=True), name=st.sampled_from(["patient_id", "site"]))
def test_a_few_letters_and_a_number_have_none_of_the_shapes(code, name):
    """What lets them by at once says what the shapes would: the same letters and number between brackets are looked at."""
    assert identifiers._PLAIN.fullmatch(code)
    assert refused_shape(name, f"[{code}]") == refused_shape(name, code) == doubtful_shape(name, code) == ""
