"""Learning over case order and the change of a difference over the years, with planted slopes."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from outcomes.findings.covariates import covariates
from outcomes.findings.learning import calendar_trends, learning_courses
from tests.rows import after, case, review, series_of, sheets


def series(slope_of):
    """Thirty lids a cover, one a month; the notch follows the number of the lid by `slope_of` its cover."""
    lids, reviews = [], []
    for number in range(30):
        for cover in ("graft", "advancement"):
            operated = date(2022, 1, 1) + timedelta(days=30 * number + (cover == "graft") * 7 * (number % 3))
            name = f"{cover[0].upper()}{number:02d}"
            divided = operated + timedelta(days=30)
            lids.append(case(name, cover, operated_on=operated, divided_on=divided, defect_height_mm=5 + number % 4))
            value = round(2 * (2 + slope_of[cover] * number + 0.5 * (number % 2))) / 2
            reviews.append({**review(name, 0, notch_mm=value), "reviewed_on": divided + timedelta(days=183)})
    return series_of(sheets(lids, reviews), measures=("notching",))


def test_a_course_falls_where_the_surgeons_learned_and_stands_where_they_did_not():
    grafted, advanced = learning_courses(series({"graft": 0.0, "advancement": -0.05}))
    assert (grafted.cohort, grafted.n, grafted.points[0].case, grafted.points[-1].case) == ("grafted", 30, 1, 30)
    assert abs(grafted.points[-1].estimate - grafted.points[0].estimate) < 0.3
    assert advanced.points[-1].estimate - advanced.points[0].estimate == pytest.approx(-29 * 0.05, abs=0.3)
    assert all(point.low < point.estimate < point.high for point in advanced.points)


def test_the_trend_is_the_change_of_the_difference_a_year():
    """Advanced lids lose 0.05 mm a lid, thirty days apart, and grafted ones nothing: 0.05 x 365.25 / 30 a year."""
    one = series({"graft": 0.0, "advancement": -0.05})
    (trend,) = calendar_trends(one, covariates(one))
    assert trend.estimate == pytest.approx(-0.05 * 365.25 / 30, abs=0.1)
    assert trend.high < 0
    assert trend.p < 0.01


def test_too_few_lids_have_neither_course_nor_trend():
    few = series_of(sheets([case("A"), case("B", "advancement")], [review("A", 183, notch_mm=1)]))
    assert learning_courses(few) == ()
    assert calendar_trends(few, covariates(few)) == ()
    assert after(0)
