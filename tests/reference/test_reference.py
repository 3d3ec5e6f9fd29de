"""The comparison itself: it must be able to fail."""

import math

import pytest

from tests.reference import COMPARISONS, Tolerance, close_enough, reference_case

LOOSE = Tolerance(0.01, 0.0, "none")


@pytest.fixture(autouse=True)
def _keep_the_tally_clean():
    before = len(COMPARISONS)
    yield
    del COMPARISONS[before:]


@pytest.mark.parametrize(
    "actual, expected, agrees",
    [
        (0.504, 0.5, True),
        (0.52, 0.5, False),
        (math.nan, 0.5, False),
        (None, 0.5, False),
        (math.nan, None, True),
        (0.0, None, False),
        (math.inf, "Inf", True),
        (1.0, "Inf", False),
        ((0.1, 0.2), [0.1, 0.2], True),
        ((0.1, 0.3), [0.1, 0.2], False),
        ((0.1,), [0.1, 0.2], False),
        ({"low": 0.1}, {"low": 0.1}, True),
        ({"low": 0.1}, {"low": 0.1, "high": 0.2}, False),
        ({"low": [math.nan]}, {"low": [0.1]}, False),
    ],
)
def test_what_counts_as_agreement(actual, expected, agrees):
    assert close_enough(actual, expected, LOOSE) is agrees


def test_every_number_is_tallied():
    before = len(COMPARISONS)
    close_enough({"a": [1.0, 2.0], "b": math.nan}, {"a": [1.0, 2.5], "b": None}, LOOSE)
    assert [comparison.passed for comparison in COMPARISONS[before:]] == [True, False, True]
    assert COMPARISONS[before + 1].relative_error == pytest.approx(0.2)


def test_an_unknown_case_is_named():
    with pytest.raises(FileNotFoundError, match="z99_no_such_case"):
        reference_case("z99_no_such_case")
