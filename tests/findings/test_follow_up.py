"""Who was reviewed, by whom, masked or not, and how follow-up is counted. Expected by hand."""

from __future__ import annotations

from datetime import timedelta

import pytest

from outcomes.findings.follow_up import followed_by_window, followed_cases, group
from tests.rows import AS_OF, DIVIDED, OPERATED, after, case, review, series_of, sheets


def one(reviews=(), events=(), **fields):
    return series_of(sheets([case("A", **fields)], reviews, events))


def masked(days, **fields):
    return review("A", days, masked="yes", assessor="GR", **fields)


def test_reviews_before_division_are_neither_counted_nor_masked():
    found = group(one([masked(-1), masked(0), review("A", 1)]), "grafted")
    assert (found.reviews, found.masked_reviews) == (2, 1)
    assert found.assessors == (("GR", 1), ("KM", 1))


def test_reviews_of_a_lid_that_was_never_divided_are_not_counted():
    found = group(one([masked(10)], divided_on=None), "grafted")
    assert (found.cases, found.divided, found.reviews, found.masked_reviews) == (1, 0, 0, 0)


def test_only_who_is_known_to_be_masked_counts_as_masked():
    found = group(one([masked(10), review("A", 20), review("A", 30, masked=None)]), "grafted")
    assert (found.reviews, found.masked_reviews) == (3, 1)


def test_each_cohort_counts_its_own_lids_patients_and_reviews():
    rows = sheets(
        [case("A", patient_id="P"), case("B", patient_id="P"), case("C", "advancement", divided_on=None)],
        [review("A", 10), review("B", 10, assessor="AB"), review("B", 20, assessor="AB")],
    )
    grafted, advanced = (group(series_of(rows), cohort) for cohort in ("grafted", "advanced"))
    assert (grafted.cases, grafted.patients, grafted.divided, grafted.reviews) == (2, 1, 2, 3)
    assert (advanced.cases, advanced.patients, advanced.divided, advanced.reviews) == (1, 1, 0, 0)
    assert grafted.assessors == (("AB", 2), ("KM", 1))


def test_a_cohort_of_nobody_has_no_median_follow_up():
    found = group(one(), "advanced")
    assert (found.cases, found.median_followup_months, found.followup_completeness) == (0, None, None)


def test_completeness_is_the_days_followed_of_those_that_could_have_been():
    found = group(one([review("A", 100, notch_mm=0)]), "grafted")
    assert found.followup_completeness == pytest.approx(100 / (AS_OF - DIVIDED).days)


def test_a_line_of_a_case_counts_in_days_from_operation():
    events = [
        {"case_id": "A", "happened_on": OPERATED, "kind": "infection"},
        {"case_id": "A", "happened_on": after(50), "kind": "moved away"},
        {"case_id": "A", "happened_on": after(60), "kind": "death"},
    ]
    [found] = followed_cases(one([review("A", 0), review("A", 9), review("A", 9, assessor="GR")], events))
    assert (found.divided, found.reviews, found.events) == (31, (31, 40), (("infection", 0),))
    assert (found.ended, found.due_until) == (("moved away", 81), (AS_OF - OPERATED).days)


@pytest.mark.parametrize(
    "reviews,as_of,expected",
    [
        ([review("A", 183, oedema=0)], AS_OF, (1, 0, 0, 0)),
        ([review("A", 0, oedema=0)], AS_OF, (0, 1, 0, 0)),
        ([], after(273), (0, 1, 0, 0)),
        ([], after(272), (0, 0, 1, 0)),
        ([], DIVIDED - timedelta(days=1), (0, 0, 0, 1)),
    ],
    ids=["seen", "seen on the day of division only", "missing", "not due", "not divided"],
)
def test_each_lid_is_counted_once_in_each_window(reviews, as_of, expected):
    found = followed_by_window(series_of(sheets([case("A")], reviews), as_of=as_of))
    [line] = [each for each in found if (each.window, each.cohort) == ("six_months", "grafted")]
    assert (line.seen, line.missing, line.not_due, line.not_applicable) == expected
