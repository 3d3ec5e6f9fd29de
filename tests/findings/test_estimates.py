"""Crude and adjusted differences of few lids, by hand and beside other programs; p and interval agree in every row."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from outcomes.findings.estimates import Scale, adjusted_estimate, crude_estimate, share_of, shares_worth
from outcomes.statistics.clusters import effective_difference
from tests.findings.lids import lids, sample

MEANS, SHARES, WINS = (
    Scale("difference of means", 0.5), Scale("difference of proportions"), Scale("win probability")
)  # fmt: skip


def test_a_crude_mean_difference_has_the_standard_error_of_welch():
    some = lids([1, 2, 3, 4, 2.5], [2, 4, 6, 5])
    found = crude_estimate(some.value, sample(some), MEANS)
    welch = stats.ttest_ind([2, 4, 6, 5], [1, 2, 3, 4, 2.5], equal_var=False)
    assert found.estimate == pytest.approx(1.75)
    assert found.standard_error == pytest.approx(1.75 / welch.statistic)


def test_a_crude_difference_of_shares_is_that_of_newcombe():
    """Newcombe RG. Stat Med 1998;17:873-890, Table II: 9/10 against 3/10 gives 0.1705 to 0.8090."""
    some = lids([1] * 3 + [0] * 7, [1] * 9 + [0])
    found = crude_estimate(some.value, sample(some), SHARES)
    assert (round(found.low, 4), round(found.high, 4)) == (0.1705, 0.8090)
    assert found.p < 0.05


def test_a_crude_difference_of_shares_allows_for_lids_of_one_patient():
    patient = [0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7]
    some = lids([1, 1, 0, 0, 1, 1, 0, 0], [1, 1, 1, 1, 0, 0, 1, 1], patient=patient)
    chosen = sample(some)
    found = crude_estimate(some.value, chosen, SHARES)
    same = effective_difference(*(share_of(some.value, chosen, second=second) for second in (False, True)))
    assert (found.low, found.high) == (pytest.approx(same.low), pytest.approx(same.high))


def test_an_adjusted_mean_difference_is_the_coefficient_of_the_cover():
    """y = 1 + 2 x cover + 3 x height exactly: crude it is confounded, adjusted it is 2."""
    height = np.array([1.0, 2, 3, 4, 5, 6, 2, 3, 4, 5, 6, 7])
    second = np.repeat([False, True], 6)
    some = lids(list(1 + 3 * height[:6]), list(3 + 3 * height[6:]))
    chosen = sample(some, height)
    assert crude_estimate(some.value, chosen, MEANS).estimate == pytest.approx(5)
    found = adjusted_estimate(some.value, chosen, MEANS)
    assert found.estimate.estimate == pytest.approx(2)
    assert found.method == "linear model"
    assert second.sum() == 6


def test_nothing_to_adjust_for_and_no_overlap_give_no_adjusted_estimate():
    some = lids([1, 2, 3, 4, 5, 6, 7], [2, 3, 4, 5, 6, 7, 8])
    assert sample(some).why_not_adjusted == "nothing_recorded"
    assert adjusted_estimate(some.value, sample(some), MEANS) is None
    apart = sample(some, np.arange(14.0))
    assert apart.why_not_adjusted == "no_overlap"
    assert adjusted_estimate(some.value, apart, MEANS) is None


values = st.lists(st.sampled_from([0.0, 0.5, 1.0, 1.5, 2.0]), min_size=12, max_size=30)


@given(values, values, st.integers(0, 1000))
@pytest.mark.parametrize("scale", [MEANS, SHARES, WINS], ids=lambda scale: scale.kind)
def test_p_is_small_exactly_where_the_interval_excludes_none(scale, grafted, advanced, seed):
    some = lids(grafted, advanced)
    value = (some.value >= 1).astype(float) if scale is SHARES else some.value
    height = np.random.default_rng(seed).normal(size=value.size)
    chosen = sample(some, height)
    adjusted = adjusted_estimate(value, chosen, scale)
    for found in (crude_estimate(value, chosen, scale), adjusted and adjusted.estimate):
        if found is not None and np.isfinite(found.low) and abs(found.p - 0.05) > 1e-9:
            assert (found.p < 0.05) == found.excludes_none


def test_both_cohorts_know_the_share_of_all_lids_by_their_own_effective_lids():
    """4 of 12 lids; the pairs of one patient that agree count as one: 8 lids of 4 patients are worth 4."""
    some = lids([1, 1, 0, 0, 0, 0, 1, 1], [0, 0, 0, 0], patient=[0, 0, 1, 1, 2, 2, 3, 3, 4, 5, 6, 7])
    first, second = shares_worth(some.value, sample(some), None)
    assert (first.share, second.share) == (pytest.approx(4 / 12), pytest.approx(4 / 12))
    assert (first.effective_n, second.effective_n) == (
        pytest.approx(share_of(some.value, sample(some), second=False).effective_n), pytest.approx(4),
    )  # fmt: skip
    assert first.effective_n < 8
    adjusted = shares_worth(some.value, sample(some), (3.5, 2.5))
    assert [each.effective_n for each in adjusted] == [3.5, 2.5]
    assert shares_worth(some.value, sample(some), (None, 2.5)) is None
