"""What unmeasured lids could change, worked by hand."""

import pytest

from outcomes.findings.cohort_summary import share_summary, values_summary
from outcomes.findings.results import Range, Unseen
from outcomes.findings.unseen import unseen_of_means, unseen_of_shares, with_margin
from outcomes.statistics.result import TestedEstimate
from tests.findings.lids import lids, sample


def estimate(low, high):
    return TestedEstimate((low + high) / 2, low, high, 0.01, (high - low) / 4, 60.0, 0.95)


def shares(grafted, advanced):
    some = lids(grafted, advanced)
    chosen = sample(some)
    value = some.value[some.seen]
    return some, tuple(share_summary(some, value, chosen, second=second) for second in (False, True))


def test_worst_case_of_a_share_puts_every_unseen_lid_at_either_end():
    """Grafted 2 of 4 seen and one unseen: 2/5 to 3/5; advanced 1 of 3 and two unseen: 1/5 to 3/5."""
    some, sides = shares([1, 1, 0, 0, None], [1, 0, 0, None, None])
    found = unseen_of_shares(sides, None, some.measured_shares)
    assert found.worst_case == Range(pytest.approx(1 / 5 - 3 / 5), pytest.approx(3 / 5 - 2 / 5))
    assert (found.as_other_cohort, found.tipping_lids) == (None, None)


def test_tipping_point_of_a_share_is_counted_in_lids_of_the_better_cohort():
    """Advanced: 0 of 8 seen poor and 2 unseen; the upper end lies 0.1 below none, so that 1 of the 2 brings it to none."""
    some, sides = shares([1] * 6 + [0] * 4, [0] * 8 + [None, None])
    found = unseen_of_shares(sides, estimate(-0.9, -0.1), some.measured_shares)
    assert (found.tipping_lids, found.tipping_share, found.seen_share) == (1, 0.5, 0.0)
    # -0.5 x 0.8, the half-width of 0.4 kept.
    drawn = found.as_other_cohort
    assert (drawn.estimate, drawn.low, drawn.high) == (
        pytest.approx(-0.4), pytest.approx(-0.8), pytest.approx(0.0, abs=1e-12),
    )  # fmt: skip


def test_a_difference_that_excludes_nothing_has_no_tipping_point():
    some, sides = shares([1, 0, 0, 0, 0], [0] * 4 + [None])
    assert unseen_of_shares(sides, estimate(-0.5, 0.1), some.measured_shares).tipping_lids is None


def means(grafted, advanced, judged, *, worse="higher", scale=(0.0, 10.0)):
    some = lids(grafted, advanced)
    chosen = sample(some)
    sides = tuple(values_summary(some, chosen, second=second) for second in (False, True))
    return unseen_of_means(some, judged, scale=scale, worse=worse, sides=sides)


def test_tipping_shift_is_that_of_the_better_cohort_by_which_way_is_worse():
    """Distance 0.5 from none: with 4 of 5 advanced seen 0.5 x 5 = 2.5; with 2 of 4 grafted seen 0.5 x 4 / 2 = 1."""
    grafted, advanced = [1, 2, None, None], [1, 1, 2, 2, None]
    assert means(grafted, advanced, estimate(-1.5, -0.5)).tipping_shift == pytest.approx(2.5)
    assert means(grafted, advanced, estimate(0.5, 1.5)).tipping_shift == pytest.approx(1.0)
    assert means(grafted, advanced, estimate(-1.5, -0.5), worse="lower").tipping_shift == pytest.approx(1.0)


def test_worst_case_of_a_mean_fills_with_the_ends_of_the_scale():
    """Grafted (1 + 2 + x)/3 and advanced (4 + y)/2, x and y from 0 to 10."""
    found = means([1, 2, None], [4, None], None)
    assert found.worst_case == Range(pytest.approx(4 / 2 - 13 / 3), pytest.approx(14 / 2 - 3 / 3))
    unbounded = means([1, 2, None], [4, None], None, scale=(0.0, float("inf")))
    assert unbounded.worst_case == Range(None, None)


def test_what_brings_a_narrow_interval_to_what_matters_names_the_cover_that_would_be_worse():
    """-0.1 to 0.3 within 0.5: 0.2 from the upper edge. Higher is worse: 4 of 5 advanced seen, 0.2 x 5 / 1; lower: 2 of 4 grafted."""
    some = lids([1, 2, None, None], [1, 1, 2, 2, None])
    sides = tuple(values_summary(some, sample(some), second=second) for second in (False, True))
    for worse, expected in ((True, ("advanced", 1.0)), (False, ("grafted", 0.4))):
        found = with_margin(Unseen(), estimate(-0.1, 0.3), 0.5, more_is_worse=worse, sides=sides)
        assert (found.margin_cohort, found.margin_shift) == (expected[0], pytest.approx(expected[1]))
        assert found.margin_bias == pytest.approx(0.2)


@pytest.mark.parametrize(
    "low, high, important", [(-0.1, 0.6, 0.5), (0.1, 0.3, 0.5), (-0.5, 0.1, 0.5), (-0.1, 0.3, None)]
)
def test_an_interval_that_does_not_lie_within_what_matters_has_no_way_there(low, high, important):
    some = lids([1, 2], [1, 1])
    sides = tuple(values_summary(some, sample(some), second=second) for second in (False, True))
    assert with_margin(Unseen(), estimate(low, high), important, more_is_worse=True, sides=sides) == Unseen()


@pytest.mark.parametrize("important, shift", [(0.15, 0.5), (0.25, None)])
def test_no_more_than_all_unseen_can_be_poor(important, shift):
    """Advanced 1 of 4 poor and one unseen: 0.1 x 5 = 0.5 more than a quarter is possible, 0.2 x 5 = 1 more is not."""
    _, sides = shares([1, 0, 0, 0], [1, 0, 0, 0, None])
    found = with_margin(Unseen(), estimate(-0.05, 0.05), important, more_is_worse=True, sides=sides)
    assert found.margin_bias == pytest.approx(important - 0.05)
    assert found.margin_shift == (None if shift is None else pytest.approx(shift))


def test_nobody_unseen_leaves_nothing_to_tip():
    found = means([1, 2, 3], [4, 5, 6], estimate(0.5, 1.5))
    assert (found.tipping_shift, found.as_other_cohort) == (None, None)
    assert found.worst_case.low == found.worst_case.high == pytest.approx(3)
