"""Learning over case order and the change of a difference over the years, with planted slopes."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from outcomes.findings.covariates import covariates
from outcomes.findings.learning import Exploration, exploration
from tests.rows import after, case, review, series_of, sheets


def explored(one):
    return exploration(one, covariates(one))


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
    grafted, advanced = explored(series({"graft": 0.0, "advancement": -0.05})).learning
    assert (grafted.cohort, grafted.n, grafted.points[0].case, grafted.points[-1].case) == ("grafted", 30, 1, 30)
    assert abs(grafted.points[-1].estimate - grafted.points[0].estimate) < 0.3
    assert advanced.points[-1].estimate - advanced.points[0].estimate == pytest.approx(-29 * 0.05, abs=0.3)
    assert all(point.low < point.estimate < point.high for point in advanced.points)


def test_the_trend_is_the_change_of_the_difference_a_year():
    """Advanced lids lose 0.05 mm a lid, thirty days apart, and grafted ones nothing: 0.05 x 365.25 / 30 a year."""
    one = series({"graft": 0.0, "advancement": -0.05})
    (trend,) = explored(one).calendar
    assert trend.estimate == pytest.approx(-0.05 * 365.25 / 30, abs=0.1)
    assert trend.high < 0
    assert trend.p < 0.01


def test_no_smoothed_mean_lies_beyond_the_ends_of_the_scale():
    """Notches of 2 mm fall by 0.08 mm a lid to 0 and stay there: the straight end of the spline would go below."""
    _, advanced = explored(series({"graft": 0.0, "advancement": -0.08})).learning
    assert min(point.low for point in advanced.points) == 0.0


def by_surgeon(effects, *, years_later=0):
    """Sixteen lids of each cover for each surgeon over four years; an advanced lid's notch is that much less, by its surgeon.

    With `years_later` every lid's notch falls by 0.5 mm a year, and the advanced lids were operated so many years after the grafted.
    """
    lids, reviews = [], []
    for surgeon, effect in effects.items():
        for number in range(16):
            for cover, after_that in (("graft", 0), ("advancement", years_later)):
                name, year = f"{surgeon}{cover[0].upper()}{number:02d}", number % 4 + after_that
                operated = date(2018 + year, 1, 1)
                divided = operated + timedelta(days=30)
                dates = {"operated_on": operated, "divided_on": divided}
                lids.append(case(name, cover, surgeon=surgeon, defect_height_mm=5 + number % 3, **dates))
                value = 5 + 0.5 * (number // 4 % 2) - (effect if cover == "advancement" else 0)
                fallen = 0.5 * year if years_later else 0
                reviews.append(
                    {**review(name, 0, notch_mm=value - fallen), "reviewed_on": divided + timedelta(days=183)}
                )
    return series_of(sheets(lids, reviews), measures=("notching",))


def test_each_surgeon_who_did_both_covers_has_a_difference_of_his_own():
    one = by_surgeon({"AB": 1.0, "CD": 0.0})
    ab, cd = explored(one).surgeons
    assert (ab.surgeon, ab.grafted, ab.advanced, cd.surgeon) == ("AB", 16, 16, "CD")
    assert ab.estimate == pytest.approx(-1.0)
    assert cd.estimate == pytest.approx(0.0, abs=1e-9)
    assert ab.low < ab.estimate < ab.high < 0 < cd.high


def test_each_surgeon_is_adjusted_for_all_that_the_main_analysis_adjusts_for():
    """Advancing came a year later and everything fell by 0.5 mm a year: crude, each surgeon would see 0.5 mm less."""
    one = by_surgeon({"AB": 0.0, "CD": 0.0}, years_later=1)
    found = explored(one).surgeons
    assert [each.surgeon for each in found] == ["AB", "CD"]
    for each in found:
        assert each.estimate == pytest.approx(0.0, abs=0.002)  # years are not all as long
        assert each.low < 0 < each.high


def test_a_surgeon_alone_has_none_as_it_would_be_the_main_difference():
    one = by_surgeon({"AB": 1.0})
    assert explored(one).surgeons == ()


def test_too_few_lids_have_neither_course_nor_trend():
    few = series_of(sheets([case("A"), case("B", "advancement")], [review("A", 183, notch_mm=1)]))
    assert explored(few) == Exploration()
    assert after(0)
