"""Rows laid over those that the register holds: a blank changes nothing unless told, and the merged row is checked whole."""

from datetime import date

import pytest

from outcomes.capture import HeldRows
from tests.capture.clinic import clinic, loaded, said

CASE = {
    "case_id": "C001",
    "patient_id": "P001",
    "side": "right",
    "operated_on": date(2024, 3, 5),
    "diagnosis": "basal cell carcinoma",
    "cover": "graft",
}
REVIEW = {"case_id": "C001", "reviewed_on": date(2024, 4, 2)}


@pytest.fixture
def held(tmp_path):
    (tmp_path / "held").mkdir()
    rows = {}
    for row in loaded(tmp_path / "held", clinic()).rows:
        rows.setdefault(row.sheet, {})[row.key] = row.values
    return rows


def test_a_column_that_is_not_there_blanks_nothing(tmp_path, held):
    for blanks in ("keep", "erase"):
        checked = loaded(tmp_path, {"reconstructions": [CASE]}, held=HeldRows(held, blanks=blanks))
        assert (checked.problems, checked.blanks) == ((), ())
        assert checked.rows[0].erases == frozenset()


def test_a_blank_cell_is_listed_and_erases_only_when_told(tmp_path, held):
    sheets = {"reviews": [{**REVIEW, "assessor": "AB", "mode": "clinic", "oedema": None, "masked": "no"}]}
    kept = loaded(tmp_path, sheets, held=HeldRows(held))
    assert [str(cell) for cell in kept.blanks] == ["reviews row 2, oedema: 2"]
    assert kept.rows[0].erases == frozenset()
    assert loaded(tmp_path, sheets, held=HeldRows(held, blanks="erase")).rows[0].erases == {"oedema"}


def test_the_merged_row_is_checked_whole(tmp_path, held):
    sheets = {"reconstructions": [{**CASE, "cover": "advancement", "graft_donor": None}]}
    [line] = said(loaded(tmp_path, sheets, held=HeldRows(held)))
    assert line.startswith('reconstructions row 2, graft_donor "upper lid": goes only with cover "graft", and cover is')
    assert line.endswith('is "advancement" here, while the register holds this; amend it to blank, or correct cover')
    assert said(loaded(tmp_path, sheets, held=HeldRows(held, blanks="erase"))) == []


def test_a_held_condition_counts_for_a_cell_given_alone(tmp_path, held):
    sheets = {"reconstructions": [{**CASE, "residual_tumour": "no"}]}
    held["reconstructions"]["C001",]["re_excised"] = "yes"
    assert said(loaded(tmp_path, sheets, held=HeldRows(held))) == []
    held["reconstructions"]["C001",]["re_excised"] = "no"
    [line] = said(loaded(tmp_path, sheets, held=HeldRows(held)))
    assert line.endswith('re_excised is "no" in the register; clear it or correct the other')


def test_a_sheet_without_a_column_of_the_key_means_the_only_such_row(tmp_path, held):
    sheets = {"reviews": [{**REVIEW, "oedema": 1}]}
    checked = loaded(tmp_path, sheets, held=HeldRows(held))
    assert [row.key for row in checked.rows] == [("C001", "2024-04-02", "AB", "clinic")]
    other = {**held["reviews"]["C001", "2024-04-02", "AB", "clinic"], "assessor": "CD"}
    held["reviews"]["C001", "2024-04-02", "CD", "clinic"] = other
    [line] = said(loaded(tmp_path, sheets, held=HeldRows(held)))
    assert "holds 2 such rows, and the sheet has no column assessor and mode; add it" in line


@pytest.mark.parametrize("code", ["c001", "\uff23001"])
def test_codes_that_differ_only_in_case_or_width_are_one(tmp_path, held, code):
    sheets = {"reviews": [{**REVIEW, "case_id": code, "assessor": "ab", "mode": "clinic", "oedema": 1}]}
    checked = loaded(tmp_path, sheets, held=HeldRows(held))
    assert [row.key for row in checked.rows] == [("C001", "2024-04-02", "AB", "clinic")]
    sheets = clinic()
    sheets["reconstructions"][3]["case_id"] = code
    assert "is there already (row 2)" in said(loaded(tmp_path, sheets))[0]


def test_an_amended_value_that_the_sheet_repeats_is_checked_as_it_stands(tmp_path, held):
    key = ("C001",)
    held["reconstructions"][key] |= {"cover": "advancement"}
    del held["reconstructions"][key]["graft_donor"]
    amended = {"reconstructions": {key: {"cover": "graft", "graft_donor": "upper lid"}}}
    assert said(loaded(tmp_path, clinic(), held=HeldRows(held, amended))) == []
    assert said(loaded(tmp_path, clinic(), held=HeldRows(held, {"reconstructions": {key: {"cover": "graft"}}}))) != []


def test_two_codes_that_an_older_register_holds_apart_stay_apart(tmp_path, held):
    held["reconstructions"]["c001",] = {**held["reconstructions"]["C001",], "case_id": "c001"}
    sheets = {"reviews": [{**REVIEW, "case_id": code, "assessor": "AB", "mode": "clinic"} for code in ("c001", "C001")]}
    checked = loaded(tmp_path, sheets, held=HeldRows(held))
    assert [row.key[0] for row in checked.rows] == ["c001", "C001"]
