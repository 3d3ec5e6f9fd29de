"""Holm's and Benjamini and Hochberg's corrections, against print, other programs' values and what must hold."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.multitest import multipletests

from outcomes.statistics.multiplicity import benjamini_hochberg, holm
from tests.reference import close_enough, reference_case

ONE_LIST = ("j02_ties_unsorted", "j03_nulls", "j04_edges_one", "j05_edges_extreme", "j06_two_outcomes")
SEVERAL_LISTS = ("j01_padjust_help_50", "j04_edges", "j05_airquality_pairwise")

p_values = st.lists(st.one_of(st.none(), st.floats(0, 1)), max_size=30)


@pytest.mark.parametrize("name", ONE_LIST)
def test_reference(name):
    case = reference_case(name)
    assert close_enough(holm(case.input["p"]), case.expected["holm"], case.tolerance)
    assert close_enough(benjamini_hochberg(case.input["p"]), case.expected["BH"], case.tolerance)


@pytest.mark.parametrize("name", SEVERAL_LISTS)
def test_reference_of_several_lists(name):
    case = reference_case(name)
    planned = case.input.get("n_tests", {})  # more tests planned than reported: a variant that is not offered
    for key in case.input["p"].keys() - planned.keys():
        assert close_enough(holm(case.input["p"][key]), case.expected[key]["holm"], case.tolerance)
        assert close_enough(benjamini_hochberg(case.input["p"][key]), case.expected[key]["bh"], case.tolerance)


def test_reference_of_weights_and_of_an_exploratory_table():
    case = reference_case("p23_graph_classics")
    rows, expected = (each["weighted_holm_2_2_1_1_1"] for each in (case.input["sets"], case.expected))
    assert close_enough(holm(rows["p"], weights=[2, 2, 1, 1, 1]), expected["adjusted_p"], case.tolerance)
    case = reference_case("p27_exploratory_q")
    for name, values in case.input["p"].items():
        assert close_enough(benjamini_hochberg(values), case.expected[name], case.tolerance)


# The fifteen p values of Benjamini & Hochberg 1995, section 4 (from memory): at 5 % Bonferroni and Holm's kind of
# procedure find three, the false discovery rate four.
def test_the_printed_example():
    values = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528,
              0.7590, 1.0]  # fmt: skip
    assert sum(p <= 0.05 for p in holm(values)) == 3
    assert sum(q <= 0.05 for q in benjamini_hochberg(values)) == 4


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


@settings(
    max_examples=20
)  # the other program collects garbage at each call, which takes most of a second beside many tests
@given(st.lists(st.floats(0, 1), min_size=1, max_size=30))
def test_another_program_agrees(values):
    assert holm(values) == pytest.approx(multipletests(values, method="holm")[1], abs=1e-12)
    assert benjamini_hochberg(values) == pytest.approx(multipletests(values, method="fdr_bh")[1], abs=1e-12)


# Weighted Holm is closed testing with weighted Bonferroni: a hypothesis falls when every set that holds it does.
@given(st.lists(st.tuples(st.floats(0, 1), st.integers(1, 3)), min_size=1, max_size=5))
def test_weights_against_the_closed_test(tests):
    sets = [[place for place in range(len(tests)) if number >> place & 1] for number in range(1, 2 ** len(tests))]
    local = [min(1, *(tests[i][0] * sum(tests[j][1] for j in held) / tests[i][1] for i in held)) for held in sets]
    closed = [max(p for p, held in zip(local, sets, strict=True) if i in held) for i in range(len(tests))]
    ours = holm([p for p, _ in tests], weights=[weight for _, weight in tests])
    assert ours == pytest.approx(closed, abs=1e-12)


@given(p_values)
def test_a_q_value_lies_between_the_p_value_and_holms(values):
    for raw, q, p in zip(values, benjamini_hochberg(values), holm(values), strict=True):
        assert (raw is None) == math.isnan(q)
        assert raw is None or raw <= q <= p + 1e-12


@pytest.mark.parametrize(
    "call, message",
    [
        (lambda: holm([2.0]), r"p_values\[0\] is 2: must be a finite number from 0 to 1"),
        (lambda: benjamini_hochberg([0.5, -0.1]), r"p_values\[1\] is -0.1"),
        (lambda: holm([0.1, math.inf]), r"p_values\[1\] is inf"),
        (lambda: holm([0.1], weights=[1, 2]), "weights has 2 values"),
        (lambda: holm([0.1, 0.2], weights=[1, 0]), r"weights\[1\] is 0"),
        (lambda: holm([0.1, 0.2], weights=[1, math.nan]), r"weights\[1\] is nan"),
    ],
)
def test_impossible_input_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()
