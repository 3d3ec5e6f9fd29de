"""The committed workbook is what the generator makes and what PLANTED.md says."""

import json
from pathlib import Path

import openpyxl
import pytest

from demo.generate import SEED, arranged_clinic, clinic, main

DEMO = Path(__file__).parents[2] / "demo"


@pytest.fixture(scope="module")
def made():
    return clinic(SEED)


@pytest.fixture(scope="module")
def planted():
    return json.loads((DEMO / "planted.json").read_text(encoding="utf-8"))


def share(rows, holds):
    return sum(map(holds, rows)) / len(rows)


def window(made, cover, first, last, field):
    """The last unmasked value of each case in a window after division."""
    cases = {row["case_id"]: row for row in made["reconstructions"] if row["cover"] == cover and row["divided_on"]}
    found = {}
    for row in made["reviews"]:
        if row["case_id"] in cases and row["masked"] == "no" and row[field] is not None:
            days = (row["reviewed_on"] - cases[row["case_id"]]["divided_on"]).days
            if first <= days <= last:
                found[row["case_id"]] = row[field]
    return list(found.values())


def test_the_committed_workbook_is_what_the_generator_makes_cell_by_cell(made):
    book = openpyxl.load_workbook(DEMO / "invented_clinic.xlsx", read_only=True)
    for sheet, rows in made.items():
        head, *held = book[sheet].iter_rows(values_only=True)
        assert list(head) == list(rows[0])
        assert len(held) == len(rows)
        for row, cells in zip(rows, held, strict=True):
            as_days = [cell.date() if hasattr(cell, "date") else cell for cell in cells]
            assert as_days == list(row.values())


def test_generating_again_gives_the_same_three_files(tmp_path):
    main(tmp_path)
    for name in ("invented_clinic.xlsx", "planted.json", "PLANTED.md"):
        assert (tmp_path / name).read_bytes() == (DEMO / name).read_bytes(), name


def test_another_seed_gives_another_clinic(made):
    assert clinic(SEED + 1)["reviews"] != made["reviews"]


def test_the_workbook_says_that_it_is_invented():
    book = openpyxl.load_workbook(DEMO / "invented_clinic.xlsx")
    assert "invented" in book.properties.description
    assert "invented" in book["definitions"]["A1"].value


def test_size_and_mixture(made):
    assert len(made["reconstructions"]) == 160
    assert 140 <= len(made["patients"]) <= 150
    covers = [row["cover"] for row in made["reconstructions"]]
    assert covers.count("graft") >= 60
    assert covers.count("advancement") >= 60
    assert 5 <= len(covers) - covers.count("graft") - covers.count("advancement") <= 16


def test_oedema_is_found_as_planted(made, planted):
    truth = planted["poor_shares"]["oedema"]["three_months"]
    grafted = share(window(made, "graft", 67, 136, "oedema"), lambda grade: grade >= 1)
    advanced = share(window(made, "advancement", 67, 136, "oedema"), lambda grade: grade >= 1)
    assert abs(grafted - truth["grafted"]) < 0.15
    assert abs(advanced - truth["advanced"]) < 0.18  # the chief's kindness takes about ten points more
    assert advanced < grafted - 0.3


@pytest.mark.parametrize(
    "measure, field, poor",
    [("lash_loss", "lash_loss_percent", 50), ("ectropion", "ectropion", 1), ("notching", "notch_mm", 1)],
)
def test_other_measures_are_found_roughly_as_planted(made, planted, measure, field, poor):
    truth = planted["poor_shares"][measure]["six_months"]
    grafted = share(window(made, "graft", 137, 273, field), lambda value: value >= poor)
    advanced = share(window(made, "advancement", 137, 273, field), lambda value: value >= poor)
    assert abs((advanced - grafted) - truth["crude_difference"]) < 0.16


def test_retraction_has_no_true_effect_and_a_large_crude_difference(planted):
    for truth in planted["poor_shares"]["retraction"].values():
        assert truth["difference"] == 0
        assert truth["crude_difference"] < -0.1


def test_notching_has_a_true_effect_too_small_to_settle(planted):
    truth = planted["poor_shares"]["notching"]["six_months"]
    assert -0.08 < truth["difference"] < -0.02


def test_the_defect_chose_the_cover(made):
    def mean_of(cover, field):
        rows = [row for row in made["reconstructions"] if row["cover"] == cover]
        return sum(row[field] for row in rows) / len(rows)

    assert mean_of("advancement", "distraction_mm") > mean_of("graft", "distraction_mm") + 0.8
    assert mean_of("advancement", "defect_width_mm") < mean_of("graft", "defect_width_mm") - 1
    assert mean_of("advancement", "defect_height_mm") < mean_of("graft", "defect_height_mm") - 0.8


def test_diathermy_makes_histology_unreadable_more_often(made):
    def unreadable(method):
        rows = [row for row in made["reconstructions"] if row["excision_method"] == method]
        return share(rows, lambda row: row["histology_margin"] == "not assessable")

    assert unreadable("cutting diathermy") > unreadable("scalpel") + 0.08


def test_the_eye_stays_closed_longer_with_advanced_skin(made):
    def days(cover):
        return sorted(
            (row["divided_on"] - row["operated_on"]).days
            for row in made["reconstructions"]
            if row["cover"] == cover and row["divided_on"]
        )

    graft, advanced = days("graft"), days("advancement")
    assert 19 <= graft[len(graft) // 2] <= 23
    assert 28 <= advanced[len(advanced) // 2] <= 42


def test_some_windows_hold_several_reviews_and_some_values_are_blank(made):
    cases = {row["case_id"]: row["divided_on"] for row in made["reconstructions"] if row["divided_on"]}
    seen = [
        row["case_id"]
        for row in made["reviews"]
        if row["masked"] == "no"
        and row["case_id"] in cases
        and 67 <= (row["reviewed_on"] - cases[row["case_id"]]).days <= 136
    ]
    assert len(seen) > len(set(seen)) + 3
    clinic_reviews = [row for row in made["reviews"] if row["mode"] == "clinic" and row["case_id"] in cases]
    assert 0.01 < share(clinic_reviews, lambda row: row["notch_mm"] is None) < 0.15
    assert 0.04 < share(clinic_reviews, lambda row: row["fellow_margin_position_mm"] is None) < 0.2


def test_advancing_came_later_and_so_is_followed_for_less_long(made):
    def middle_year(cover):
        years = sorted(row["operated_on"] for row in made["reconstructions"] if row["cover"] == cover)
        return years[len(years) // 2].year

    assert middle_year("advancement") > middle_year("graft")


def kindness(made, cover, field):
    """How many grades higher the masked grader was than the chief, on photographs of the very day, on average."""
    cases = {row["case_id"] for row in made["reconstructions"] if row["cover"] == cover}
    graded = {
        (row["case_id"], row["reviewed_on"], row["assessor"]): row[field]
        for row in made["reviews"]
        if row["case_id"] in cases and row[field] is not None
    }
    pairs = [
        (grade, graded[case, day, "KO"])
        for (case, day, assessor), grade in graded.items()
        if assessor == "MG" and (case, day, "KO") in graded
    ]
    assert len(pairs) > 15
    return sum(masked - chief for masked, chief in pairs) / len(pairs)


def test_the_unmasked_chief_is_kinder_to_advanced_skin_alone(made):
    fields = ("oedema", "colour_mismatch", "contour_mismatch")
    to_advanced = sum(kindness(made, "advancement", field) for field in fields)
    to_grafted = sum(kindness(made, "graft", field) for field in fields)
    assert to_advanced > 0.2  # planted: 0.2 + 0.15 + 0.15 of a grade
    assert to_advanced > to_grafted + 0.2


def test_every_story_told_by_hand_is_told():
    cases = arranged_clinic(SEED)[1].cases
    assert all(cases.values()), cases
    assert len(cases["division planned after closing"]) == 2
