"""The difference of two shares by their own limits, against other programs' values and what must hold."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.statistics.clusters import effective_difference, effective_proportion
from outcomes.statistics.difference import newcombe, square_and_add
from outcomes.statistics.effective_shares import EffectiveShare, effective_share_difference, share_difference
from outcomes.statistics.result import Interval
from outcomes.statistics.two_cohorts import two_cohorts
from tests.reference import close_enough, reference_case

shares = st.tuples(st.floats(0, 1), st.floats(1, 200)).map(lambda each: EffectiveShare(*each))


def difference(first, second, correlation=0.0, freedom=math.inf, level=0.95):
    return effective_share_difference(
        first, second, correlation=correlation, degrees_of_freedom=freedom, confidence_level=level
    )


def test_reference_of_shares():
    case = reference_case("p21_mover")
    level = case.input["conf_level"]
    for name, given_shares in case.input["shares"].items():
        expected = case.expected[name]
        graft, advanced = (
            EffectiveShare(given_shares[f"p_{side}"], given_shares[f"n_{side}"]) for side in ("graft", "advanced")
        )
        found = difference(graft, advanced, given_shares["r"], level=level)
        for side, share in (("graft", graft), ("advanced", advanced)):
            limits = share.limits(1.959963984540054)
            assert close_enough((limits.low, limits.high), expected[f"wilson_{side}"], case.tolerance)
        assert close_enough(found.estimate, expected["difference"], case.tolerance)
        assert close_enough((found.low, found.high), expected["ci"], case.tolerance)
        assert close_enough(found.p, expected["p_by_inversion"], case.tolerance)


def test_reference_of_limits_given():
    case = reference_case("p21_mover")
    for name, ends in case.input["limits_given"].items():
        a, b = (Interval(ends[each], ends[f"l_{each}"], ends[f"u_{each}"]) for each in "ab")
        expected = case.expected[name]
        if max(map(abs, expected["ci"])) <= 1:  # a difference of shares goes no further
            ours = square_and_add(b, a, correlation=ends["r"])
            assert close_enough((ours.low, ours.high), expected["ci"], case.tolerance)
            assert close_enough(ours.estimate, expected["difference"], case.tolerance)


@given(shares, shares, st.floats(-0.9, 0.9), st.floats(2, 200), st.floats(0.5, 0.99))
def test_the_interval_and_p_are_one_statistic(first, second, correlation, freedom, level):
    found = difference(first, second, correlation, freedom, level)
    assert -1 <= found.low <= found.estimate <= found.high <= 1
    assert 0 <= found.p <= 1
    if abs(found.p - (1 - level)) > 1e-6:
        assert (found.p < 1 - level) == found.excludes_none


@given(shares, shares, st.floats(-0.9, 0.9), st.floats(2, 200))
def test_exchanging_the_cohorts_turns_the_answer_round(first, second, correlation, freedom):
    there, back = difference(first, second, correlation, freedom), difference(second, first, correlation, freedom)
    assert (there.estimate, there.low, there.high) == pytest.approx((-back.estimate, -back.high, -back.low))
    assert there.p == pytest.approx(back.p, abs=1e-6)


def test_without_correlation_and_with_the_normal_curve_it_is_newcombes():
    found, theirs = difference(EffectiveShare(0.3, 10), EffectiveShare(0.9, 10)), newcombe((3, 10), (9, 10))
    assert (found.low, found.high) == pytest.approx((theirs.low, theirs.high))


@given(st.lists(st.tuples(st.booleans(), st.booleans(), st.integers(0, 12)), min_size=2, max_size=40))
def test_the_crude_difference_has_the_limits_of_effective_numbers_and_p_agrees(rows):
    event, second, patient = (np.array(column) for column in zip(*rows, strict=True))
    found = share_difference(event, two_cohorts(second, patient))
    groups = [effective_proportion(event[side], patient[side]) for side in (~second, second)]
    theirs = effective_difference(*groups)
    ours = (found.difference.estimate, found.difference.low, found.difference.high)
    assert ours == pytest.approx((theirs.estimate, theirs.low, theirs.high), nan_ok=True)
    if 0 < second.sum() < second.size:
        assert (found.first.low, found.second.high) == pytest.approx((groups[0].low, groups[1].high))
    if abs(found.difference.p - 0.05) > 1e-6:
        assert (found.difference.p < 0.05) == found.difference.excludes_none


def test_an_empty_cohort_has_no_crude_difference():
    found = share_difference([1, 0], two_cohorts([0, 0], [1, 2]))
    assert found.first.estimate == 0.5
    assert math.isnan(found.difference.estimate)
