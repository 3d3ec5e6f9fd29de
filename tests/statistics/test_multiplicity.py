"""Holm's correction, against another program's values and what must hold."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.statistics.multiplicity import holm
from tests.reference import close_enough, reference_case

ONE_LIST = ("j02_ties_unsorted", "j03_nulls", "j04_edges_one", "j05_edges_extreme", "j06_two_outcomes")
SEVERAL_LISTS = ("j01_padjust_help_50", "j04_edges", "j05_airquality_pairwise")

p_values = st.lists(st.one_of(st.none(), st.floats(0, 1)), max_size=30)


@pytest.mark.parametrize("name", ONE_LIST)
def test_reference(name):
    case = reference_case(name)
    assert close_enough(holm(case.input["p"]), case.expected["holm"], case.tolerance)


@pytest.mark.parametrize("name", SEVERAL_LISTS)
def test_reference_of_several_lists(name):
    case = reference_case(name)
    planned = case.input.get("n_tests", {})  # more tests planned than reported: a variant that is not offered
    for key in case.input["p"].keys() - planned.keys():
        assert close_enough(holm(case.input["p"][key]), case.expected[key]["holm"], case.tolerance)


def test_nothing_to_correct():
    assert holm([]) == []
    assert all(math.isnan(p) for p in holm([None, math.nan]))


@given(p_values, st.randoms())
def test_the_order_does_not_matter(values, random):
    order = list(range(len(values)))
    random.shuffle(order)
    straight, shuffled = holm(values), holm([values[place] for place in order])
    assert [straight[place] for place in order] == pytest.approx(shuffled, nan_ok=True)


@given(p_values)
def test_between_no_correction_and_bonferroni(values):
    tested = sum(p is not None for p in values)
    for raw, adjusted in zip(values, holm(values), strict=True):
        assert (raw is None) == math.isnan(adjusted)
        assert raw is None or raw <= adjusted <= min(1.0, raw * tested)
