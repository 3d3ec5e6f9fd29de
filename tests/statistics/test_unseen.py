"""What the unseen would do to a difference, by hand, by trying every number, and by what must hold."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.statistics.result import TestedEstimate
from outcomes.statistics.unseen import anchored, measured_factor, tipping_share, tipping_shift, widened


def estimate(middle, half, none=0.0):
    return TestedEstimate(middle, middle - half, middle + half, 0.01, half / 2, 80.0, 0.95, none)


# 30 of 40 not poor: the share 0.25 has to rise by 0.05, so that (10 + k)/60 = 0.30, k = 8 of 20.
def test_a_share_by_hand():
    found = tipping_share(estimate(-0.2, 0.15), seen=40, unseen=20, seen_share=0.25)
    assert (found.poor, found.share, found.seen_share) == (8, 0.4, 0.25)


@given(st.integers(1, 60), st.integers(0, 40), st.floats(0, 1), st.floats(-0.9, 0.9), st.floats(0.01, 0.5))
def test_the_share_is_the_smallest_that_tips(seen, unseen, share, middle, half):
    seen_share = round(share * seen) / seen
    nearer = max(abs(middle) - half, 0.0)
    tips = [k for k in range(unseen + 1) if (seen * seen_share + k) / (seen + unseen) - seen_share >= nearer - 1e-9]
    found = tipping_share(estimate(middle, half), seen=seen, unseen=unseen, seen_share=seen_share)
    assert found.poor == (min(tips) if tips else None)
    assert math.isnan(found.share) == (not tips or unseen == 0)


# Forty seen and ten unseen: the mean of all fifty moves by a fifth of what the ten move.
def test_a_shift_by_hand():
    assert tipping_shift(estimate(-0.8, 0.5), seen=40, unseen=10) == pytest.approx(1.5)
    assert tipping_shift(estimate(0.8, 0.5), seen=40, unseen=10) == pytest.approx(1.5)
    assert tipping_shift(estimate(0.2, 0.5), seen=40, unseen=10) == 0
    assert tipping_shift(estimate(0.8, 0.5), seen=40, unseen=0) == math.inf


def test_without_limits_there_is_no_tipping_point():
    nothing = TestedEstimate(0.2, *[math.nan] * 5, 0.95)
    assert tipping_share(nothing, seen=10, unseen=5, seen_share=0.1).poor is None
    assert math.isnan(tipping_shift(nothing, seen=10, unseen=5))
    assert math.isnan(tipping_shift(nothing, seen=10, unseen=0))


@given(st.floats(-1, 1), st.floats(0.01, 1), st.floats(0.1, 1), st.floats(0.1, 1), st.sampled_from([0.0, 0.5]))
def test_drawing_towards_none_keeps_the_half_width(middle, half, first, second, none):
    plain = estimate(middle, half, none)
    drawn = anchored(plain, (first, second))
    factor = min(first, second) / max(first, second)
    assert drawn.estimate - none == pytest.approx(factor * (middle - none), abs=1e-12)
    assert (drawn.low, drawn.high) == pytest.approx((drawn.estimate - half, drawn.estimate + half))
    assert not drawn.excludes_none or plain.excludes_none
    assert math.isnan(drawn.p)


def test_equal_shares_measured_change_nothing():
    plain = estimate(0.4, 0.3)
    for moved in (anchored(plain, (0.7, 0.7)), widened(plain, (0.7, 0.7), standard_deviation=2.0)):
        assert (moved.estimate, moved.low, moved.high) == (plain.estimate, plain.low, plain.high)


def test_widening_by_hand():
    wider = widened(estimate(0.0, 0.2), (0.6, 0.8), standard_deviation=1.2)
    assert (wider.low, wider.high) == pytest.approx((-0.35, 0.35))
    assert estimate(0.0, 0.2).within(0.3)
    assert not wider.within(0.3)


def test_nobody_measured_in_one_cohort_takes_the_difference_away_and_in_both_leaves_nothing():
    assert measured_factor((0.0, 0.5)) == 0
    assert anchored(estimate(0.4, 0.3), (0.0, 0.5)).estimate == 0
    assert math.isnan(measured_factor((0.0, 0.0)))


@pytest.mark.parametrize(
    "call, message",
    [
        (lambda: measured_factor((0.5, 1.2)), r"measured\[1\] is 1.2: must be a finite number from 0 to 1"),
        (lambda: tipping_shift(estimate(1, 0.5), seen=-1, unseen=3), "seen is -1"),
        (lambda: tipping_share(estimate(1, 0.5), seen=1, unseen=3, seen_share=math.nan), "seen_share is nan"),
        (lambda: widened(estimate(1, 0.5), (1, 1), standard_deviation=-1), "standard_deviation is -1"),
    ],
)
def test_impossible_input_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()
