"""Snellen fractions are converted to logMAR as published."""

import math

import pytest

from outcomes.protocol.acuity import snellen_to_logmar
from tests.reference import Tolerance, close_enough, reference_case

CASE = reference_case("m09_snellen_logmar")
# The value that is kept has three decimals, as the printed conversion tables have.
PRINTED = Tolerance(0.0005, 0.0, CASE.id)


def written(fraction):
    return f"{fraction['numerator']}/{fraction['denominator']}"


@pytest.mark.parametrize("name", CASE.input["snellen"])
def test_fraction_is_its_reference_value(name):
    """logMAR = log10(letter size / distance), checked there with R's log10."""
    logmar = snellen_to_logmar(written(CASE.input["snellen"][name]))
    assert close_enough(logmar, CASE.expected[name]["logmar"], PRINTED)


@pytest.mark.parametrize(
    "text, logmar",
    [
        ("6/6", 0.0), ("6/9", 0.176), ("6/12", 0.301), ("6/18", 0.477), ("6/24", 0.602), ("6/36", 0.778), ("6/60", 1.0),
        ("20/25", 0.097), ("20/40", 0.301), ("20/200", 1.0), ("6/5", -0.079),
    ],
)  # fmt: skip
def test_fraction_is_the_printed_value(text, logmar):
    """The standard conversion tables print these three decimals; values from memory."""
    assert snellen_to_logmar(text) == logmar


def test_standard_vision_is_zero_and_not_minus_zero():
    assert math.copysign(1, snellen_to_logmar("6/6")) == 1


@pytest.mark.parametrize("text, logmar", [(" 6 / 7,5 ", 0.097), ("6/7.5", 0.097), ("4/40", 1.0)])
def test_spaces_and_a_decimal_comma_are_taken(text, logmar):
    assert snellen_to_logmar(text) == logmar


@pytest.mark.parametrize(
    "text", ["", "6", "6/", "/6", "6/0", "0/6", "-6/6", "6/6/6", "6-12", "HM", "CF 1 m", "0.3", "6//9", "٦/٦a"]
)
def test_what_is_no_fraction_is_none(text):
    """Counting fingers and worse have no fraction: conventions differ, so none is made up."""
    assert snellen_to_logmar(text) is None
