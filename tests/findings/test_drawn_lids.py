"""Which lids are drawn one by one, and what the captions say of the others."""

import itertools
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from outcomes.findings.drawn_lids import MOST_DRAWN, drawn_lids
from outcomes.findings.follow_up import followed_cases
from outcomes.findings.results import CurvePoint
from outcomes.report.charts.chart_rows import MOST_STEPS, drawn_steps
from tests.rows import OPERATED, case, series_of, sheets


def series(grafted, advanced):
    lids = [
        case(f"{cover}{number:04}", cover, operated_on=OPERATED - timedelta(days=(7 * number) % 1000))
        for cover, lids in (("graft", grafted), ("advancement", advanced))
        for number in range(lids)
    ]
    return series_of(sheets(lids))


def test_all_lids_of_a_small_cohort_are_drawn_and_150_of_a_larger_one():
    cases = drawn_lids(series(MOST_DRAWN, MOST_DRAWN + 1)).get_column("cohort").to_list()
    assert (cases.count("grafted"), cases.count("advanced")) == (MOST_DRAWN, MOST_DRAWN)


@pytest.mark.parametrize("lids", [151, 299, 301, 777])
def test_those_drawn_are_evenly_spaced_in_order_of_operation(lids):
    some = series(lids, 1)
    grafted = some.cohort("grafted").sort("operated_on", "case_id").get_column("case_id").to_list()
    drawn = drawn_lids(some)
    places = np.sort([grafted.index(each) for each in drawn.get_column("case_id") if each in grafted])
    assert (places[0], places.size) == (0, MOST_DRAWN)
    assert set(np.diff(places)) <= {lids // MOST_DRAWN, -(-lids // MOST_DRAWN)}
    assert some.cases.get_column("case_id").gather(drawn.get_column("lid")).equals(drawn.get_column("case_id"))


def test_only_those_drawn_have_a_line_of_their_own():
    some = series(160, 2)
    assert [each.case for each in followed_cases(some)] == drawn_lids(some).get_column("case_id").to_list()


def test_of_many_steps_the_first_the_last_and_the_last_in_each_part_are_drawn():
    points = tuple(CurvePoint(month, month / 100, None, None) for month in np.linspace(0, 60, 2_001).tolist())
    drawn = drawn_steps(points)
    assert (drawn[0], drawn[-1], len(drawn)) == (points[0], points[-1], MOST_STEPS + 1)
    assert all(later.months - sooner.months <= 2 * 60 / MOST_STEPS for sooner, later in itertools.pairwise(drawn))
    few = points[:MOST_STEPS]
    assert drawn_steps(few) == few
    assert drawn_steps(tuple(replace(each, estimate=0.5) for each in few)) != few
