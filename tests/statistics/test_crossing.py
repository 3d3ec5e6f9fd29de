"""Where a function is 0, beside SciPy's `brentq`, on functions that are steep, flat, bent and stepped."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize

from outcomes.statistics.crossing import crossing

FUNCTIONS = {
    "square": (lambda x: x * x - 2, 0, 2),
    "cosine": (lambda x: math.cos(x) - x, 0, 1),
    "steep": (lambda x: math.exp(x) - 1e3, 0, 10),
    "flat": (lambda x: x**9 - 1e-3, 0, 5),
    "saturated": (lambda x: math.tanh(x - 3), -50, 50),
    "falling": (lambda x: 1 / x - 0.3, 0.1, 1000),
    "from above": (lambda x: x - 1 / 3, 1, 0),
}


@pytest.mark.parametrize("name", FUNCTIONS)
def test_the_place_is_that_of_another_program(name):
    function, low, high = FUNCTIONS[name]
    assert crossing(function, low, high) == pytest.approx(optimize.brentq(function, low, high, xtol=1e-14), abs=2e-13)


@given(st.floats(0.01, 0.99), st.floats(0.1, 5))
def test_any_power_is_found_and_in_few_steps(place, power):
    seen = []

    def function(x):
        seen.append(x)
        return x**power - place**power

    assert crossing(function, 0.0, 1.0) == pytest.approx(place, abs=1e-12)
    assert len(seen) < 60


def test_a_step_is_found_by_halving():
    assert crossing(lambda x: 1.0 if x > 0.3 else -1.0, 0.0, 1.0) == pytest.approx(0.3, abs=1e-13)


def test_an_end_that_is_the_place_is_given_as_it_is():
    assert crossing(lambda x: x - 2, 0.0, 2.0) == 2.0
    assert crossing(lambda x: x, 0.0, 2.0) == 0.0


def test_a_coarser_answer_takes_fewer_steps():
    steps = []
    for within in (1e-2, 1e-13):
        seen = []
        found = crossing(lambda x, seen=seen: seen.append(x) or math.exp(x) - 3, 0.0, 5.0, within=within)
        assert found == pytest.approx(math.log(3), abs=within)
        steps.append(len(seen))
    assert steps[0] < steps[1]


def test_equal_signs_are_refused():
    with pytest.raises(ValueError, match="the signs at 0 and 1 are the same"):
        crossing(lambda x: x + 1, 0.0, 1.0)
