"""Values that are legal but odd are stored, and listed."""

from datetime import date

import pytest

from tests.capture.clinic import case, clinic, loaded, review, said


def odd(tmp_path, sheets, **given):
    outcome = loaded(tmp_path, sheets, **given)
    assert said(outcome) == []
    assert outcome.rows
    return [(query.sheet, query.row, query.query_id) for query in outcome.queries]


def changed(sheet, row, **values):
    sheets = clinic()
    sheets[sheet][row - 2].update(values)
    return sheets


def test_an_ordinary_clinic_has_no_query(tmp_path):
    assert odd(tmp_path, clinic()) == []


@pytest.mark.parametrize(
    "sheet, row, values, query_id",
    [
        ("reconstructions", 2, {"defect_width_mm": 29}, "defect_wider_than_lid"),
        ("reconstructions", 2, {"tarsus_left_mm": 3.5}, "little_tarsus"),
        ("reconstructions", 2, {"divided_on": date(2024, 3, 18)}, "unusual_division"),
        ("reconstructions", 3, {"divided_on": date(2024, 5, 15)}, "unusual_division"),
        (
            "reconstructions", 2, {"histology_margin": "close", "histology_lateral_mm": 1, "histology_deep_mm": 3},
            "close_yet_wide",
        ),
        ("reconstructions", 2, {"histology_margin": "clear", "histology_deep_mm": 0.5}, "clear_yet_narrow"),
        ("reviews", 3, {"reviewed_on": date(2024, 4, 5)}, "same_visit_twice"),
        ("reviews", 3, {"reviewed_on": date(2024, 4, 5), "assessor": None}, "same_visit_twice"),
        ("reconstructions", 2, {"surgeon": "Wood"}, "identity_surgeon"),
        ("reviews", 3, {"margin_position_mm": 9.5}, "jump_margin_position_mm"),
        ("reviews", 6, {"lash_loss_percent": 0.4}, "share_lash_loss_percent"),
        ("reviews", 3, {"recurrence": "confirmed"}, "confirmed_without_event"),
        ("events", 3, {"revision_kind": "Jane Wood"}, "identity_revision_kind"),
    ],
)  # fmt: skip
def test_each_oddity_is_one_query_on_its_row(tmp_path, sheet, row, values, query_id):
    sheets = changed(sheet, row, **values)
    assert odd(tmp_path, sheets) == [(sheet, row, query_id)]


@pytest.mark.parametrize(
    "sheet, row, values",
    [
        ("reconstructions", 2, {"defect_width_mm": 28}),
        ("reconstructions", 2, {"tarsus_left_mm": 4}),
        ("reconstructions", 2, {"divided_on": date(2024, 3, 19)}),  # 14 days, the first that is usual for a graft
        ("reconstructions", 2, {"divided_on": date(2024, 4, 2)}),  # 28 days, the last
        ("reconstructions", 2, {"divided_on": date(2024, 3, 12), "division_early_reason": "only-seeing eye"}),
        ("reconstructions", 2, {"histology_margin": "close", "histology_lateral_mm": 0.5, "histology_deep_mm": 3}),
        ("reconstructions", 2, {"histology_margin": "close", "histology_lateral_mm": 2}),
        ("reconstructions", 2, {"histology_margin": "clear", "histology_deep_mm": 1}),
        ("reviews", 3, {"margin_position_mm": 9}),  # a step of 3.5 mm
        ("reviews", 6, {"lash_loss_percent": 0}),
        ("reviews", 3, {"recurrence": "suspected"}),
    ],
)
def test_what_just_holds_is_no_query(tmp_path, sheet, row, values):
    assert odd(tmp_path, changed(sheet, row, **values)) == []


def test_a_confirmed_recurrence_with_its_event_is_no_query(tmp_path):
    sheets = changed("reviews", 3, recurrence="confirmed")
    sheets["events"].append({"case_id": "C001", "happened_on": date(2024, 9, 20), "kind": "recurrence"})
    assert odd(tmp_path, sheets) == []


@pytest.mark.parametrize("kind", ["withdrawn", "moved away"])
def test_a_review_after_the_patient_was_lost_is_queried(tmp_path, kind):
    sheets = clinic()
    sheets["events"].append({"case_id": "C002", "happened_on": date(2024, 8, 6), "kind": kind})
    assert odd(tmp_path, sheets) == [("reviews", 5, "review_after_end")]


def test_the_same_lid_on_the_same_day_is_queried(tmp_path):
    sheets = clinic()
    sheets["reconstructions"].append(case("C9", "P002", "left", date(2024, 4, 2), None, cover="graft"))
    assert odd(tmp_path, sheets) == [("reconstructions", 6, "same_operation_twice")]


def test_a_jump_is_seen_against_a_review_held(tmp_path):
    held = {}
    for row in loaded(tmp_path, clinic()).rows:
        held.setdefault(row.sheet, {})[row.key] = row.values
    later = {"reviews": [review("C001", date(2025, 3, 4), margin_position_mm=1.5)]}
    [query] = loaded(tmp_path, later, held=held).queries
    assert (query.row, query.query_id) == (2, "jump_margin_position_mm")
    assert query.key == ("C001", "2025-03-04", "AB", "clinic")
    assert "from 6 to 1.5 mm" in query.says


def test_a_jump_between_two_reviews_held_is_not_told_again(tmp_path):
    held = {}
    for row in loaded(tmp_path, changed("reviews", 3, margin_position_mm=12)).rows:
        held.setdefault(row.sheet, {})[row.key] = row.values
    assert odd(tmp_path, {"reviews": [review("C002", date(2026, 3, 3), oedema=0)]}, held=held) == []


def test_queries_come_in_the_order_of_the_sheets(tmp_path):
    sheets = changed("reviews", 3, margin_position_mm=12, recurrence="confirmed")
    sheets["reconstructions"][0]["tarsus_left_mm"] = 1
    sheets["events"][1]["revision_kind"] = "Jane Wood"
    assert odd(tmp_path, sheets) == [
        ("reconstructions", 2, "little_tarsus"),
        ("reviews", 3, "confirmed_without_event"),
        ("reviews", 3, "jump_margin_position_mm"),
        ("events", 3, "identity_revision_kind"),
    ]
