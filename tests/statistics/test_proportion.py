"""Score and exact intervals of one proportion, against print, other programs and what must hold."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from outcomes.statistics.proportion import clopper_pearson, wilson
from tests.reference import close_enough, reference_case

CASES = ("a01_newcombe1998_single", "a02_zero_events", "a03_all_events", "a04_full_grid_n7_n12", "a06_levels_99")


@pytest.mark.parametrize("name", CASES)
def test_reference(name):
    case = reference_case(name)
    level = case.input["conf_level"]
    assert case.expected
    for key, expected in case.expected.items():
        events, n = (int(part) for part in key.split("/"))
        score, exact = wilson(events, n, confidence_level=level), clopper_pearson(events, n, confidence_level=level)
        assert close_enough(score.estimate, expected["estimate"], case.tolerance)
        assert close_enough((score.low, score.high), expected["wilson"], case.tolerance)
        assert close_enough((exact.low, exact.high), expected["clopper_pearson"], case.tolerance)


# Newcombe RG. Stat Med 1998;17:857-872, Table I, method 3.
@pytest.mark.parametrize(
    "events, n, low, high",
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_score_interval_as_printed(events, n, low, high):
    interval = wilson(events, n)
    assert (round(interval.low, 4), round(interval.high, 4)) == (low, high)


# The first four: Chren MM et al. Arch Dermatol 2011;147:540-546; the last two: Malhotra R et al. Ophthalmology
# 2004;111:631-636. The tolerance is a tenth of a per cent, because printed limits are not always rounded correctly.
@pytest.mark.parametrize(
    "events, n, low, high",
    [
        (21, 608, 2.2, 5.2),
        (2, 127, 0.2, 5.6),
        (13, 309, 2.2, 7.1),
        (6, 172, 1.3, 7.4),
        (7, 90, 3.2, 15.4),
        (7, 347, 0.82, 4.1),
    ],
)
def test_exact_interval_as_printed(events, n, low, high):
    interval = clopper_pearson(events, n)
    assert 100 * interval.low == pytest.approx(low, abs=0.1)
    assert 100 * interval.high == pytest.approx(high, abs=0.1)


def test_nothing_observed_is_not_estimable():
    for interval in (wilson(0, 0), clopper_pearson(0, 0)):
        assert all(math.isnan(part) for part in (interval.estimate, interval.low, interval.high))


@given(st.integers(1, 200).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_score_interval_mirrors_and_an_independent_program_agrees(counts):
    events, n = counts
    interval, mirror = wilson(events, n), wilson(n - events, n)
    other = binomtest(events, n).proportion_ci(method="wilson")
    assert interval.low == pytest.approx(1 - mirror.high, abs=1e-12)
    assert interval.low == pytest.approx(other.low, abs=1e-9)
    assert interval.high == pytest.approx(other.high, abs=1e-9)
    assert 0 <= interval.low <= interval.estimate <= interval.high <= 1


@given(st.integers(0, 40), st.integers(1, 40), st.floats(0.5, 0.98))
def test_more_confidence_is_a_wider_interval(events, more, level):
    n = events + more
    narrow, wide = wilson(events, n, confidence_level=level), wilson(events, n, confidence_level=level + 0.01)
    assert wide.high > narrow.high
    assert wide.low <= narrow.low


def test_fractional_counts_lie_between_their_neighbours():
    assert wilson(2, 20).high < wilson(2.5, 20).high < wilson(3, 20).high


@pytest.mark.parametrize("estimator", [wilson, clopper_pearson])
@pytest.mark.parametrize(
    "events, n, level, message",
    [
        (5, 3, 0.95, "events is 5 and n is 3: must be no more events than n"),
        (-1, 3, 0.95, "events is -1: must be a (finite|whole) number, 0 or more"),
        (1, -3, 0.95, "n is -3"),
        (math.nan, 3, 0.95, "events is nan"),
        (1, math.inf, 0.95, "n is inf"),
        (1, 3, 95, "confidence_level is 95: must lie between 0 and 1, such as 0.95"),
        (1, 3, 0.0, "confidence_level is 0"),
    ],
)
def test_impossible_input_is_refused(estimator, events, n, level, message):
    with pytest.raises(ValueError, match=message):
        estimator(events, n, confidence_level=level)


def test_the_level_is_carried():
    assert wilson(1, 5, confidence_level=0.9).confidence_level == 0.9
    assert clopper_pearson(0, 0, confidence_level=0.9).confidence_level == 0.9
    with pytest.raises(ValueError, match=r"events is 0\.5: must be a whole number"):
        clopper_pearson(0.5, 3)
