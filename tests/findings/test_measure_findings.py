"""Are counts, differences, bounds and last known states of the lids what they are by hand?"""

import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from outcomes.cohort import NOT_APPLICABLE, NOT_DUE
from outcomes.findings.measure_findings import compare_shares, compare_values, is_poor
from outcomes.protocol import Threshold, default_protocol
from tests.findings.lids import LEVEL, NOTCH, lids, unadjusted, weighed, with_status

PROTOCOL = default_protocol()


def shares(some, choice=None):
    return compare_shares(some, NOTCH.poor, choice or unadjusted(), LEVEL)


def values(some, choice=None):
    return compare_values(some, NOTCH, PROTOCOL, choice or unadjusted())


def test_a_value_at_the_threshold_is_poor_and_a_blank_never_is():
    value = np.array([0.5, 1.0, 1.5, np.nan])
    assert is_poor(value, Threshold(at_least=1)).tolist() == [False, True, True, False]
    assert is_poor(value, Threshold(at_most=1)).tolist() == [True, True, False, False]
    assert is_poor(np.array([0.0, np.nan]), Threshold(at_most=0)).tolist() == [True, False]


def test_counts_and_difference_by_hand():
    compared = shares(lids([0, 1, 2, 0.5, None], [0, 0, 0, 1, None, None]))
    grafted, advanced = compared.grafted, compared.advanced
    assert (grafted.n, grafted.events, grafted.missing) == (4, 2, 1)
    assert (advanced.n, advanced.events, advanced.missing) == (4, 1, 2)
    assert compared.contrast.estimate == float(Fraction(1, 4) - Fraction(2, 4))


def test_the_interval_of_lids_of_different_patients_is_newcombes_printed_one():
    """Newcombe RG, Stat Med 1998;17:873-890, Table II: 9/10 against 3/10 gives 0.1705 to 0.8090 by method 10."""
    compared = shares(lids([2] * 3 + [0] * 7, [2] * 9 + [0]))
    assert compared.contrast.low == pytest.approx(0.1705, abs=5e-5)
    assert compared.contrast.high == pytest.approx(0.8090, abs=5e-5)


def test_the_test_of_shares_is_fishers_when_no_patient_has_two_lids():
    """Fisher's tea: 3 of 4 against 1 of 4 has 34/70 two-sided (Fisher RA, The Design of Experiments, 1935)."""
    compared = shares(lids([1, 1, 1, 0], [1, 0, 0, 0]))
    assert compared.contrast.p == pytest.approx(34 / 70)
    assert compared.contrast.exact
    assert compared.contrast.monte_carlo_error is None


def test_bounds_by_hand_in_exact_fractions():
    """Grafted 2 poor of 4 seen and 1 missing; advanced 1 of 4 and 2 missing."""
    compared = shares(lids([0, 1, 2, 0.5, None], [0, 0, 0, 1, None, None]))
    assert compared.if_missing.low == pytest.approx(float(Fraction(1, 6) - Fraction(3, 5)))
    assert compared.if_missing.high == pytest.approx(float(Fraction(3, 6) - Fraction(2, 5)))


def test_nobody_missing_leaves_the_bounds_at_the_difference():
    compared = shares(lids([0, 1, 2], [0, 0, 0, 1]))
    assert compared.if_missing.low == compared.if_missing.high == pytest.approx(compared.contrast.estimate)


@pytest.mark.parametrize("status", [NOT_DUE, NOT_APPLICABLE])
def test_a_lid_not_yet_due_or_not_applicable_bounds_nothing(status):
    some = with_status(lids([0, 1, 2, None], [0, 0, 0, 1]), 3, status)
    assert shares(some).if_missing.low == pytest.approx(shares(some).contrast.estimate)
    assert shares(some).grafted.missing == 0
    assert values(some).if_missing.low == values(some).if_missing.high == values(some).contrast.estimate


def test_bounds_reach_over_every_way_to_fill_the_blanks():
    """All 2 x 2 x 2 fillings of three blanks, by hand: none lies outside, and both ends are reached."""
    grafted, advanced = [0, 1, 2, None], [0, 1, None, None]
    bounds = shares(lids(grafted, advanced)).if_missing
    found = []
    for filling in range(8):
        poor = [bool(filling >> bit & 1) for bit in range(3)]
        found.append(Fraction(1 + poor[1] + poor[2], 4) - Fraction(2 + poor[0], 4))
    assert bounds.low == pytest.approx(float(min(found)))
    assert bounds.high == pytest.approx(float(max(found)))


def test_bounds_of_values_by_hand():
    """A notch lies from 0 to 8 mm. Grafted 0, 1 and one blank; advanced 1, 2.

    With the blank at 8: differences 1, 0, -7, 2, 1, -6, of which the middle is (0 + 1) / 2. With it at 0: 1, 0, 1, 2, 1, 2: 1.
    """
    bounds = values(lids([0, 1, None], [1, 2])).if_missing
    assert (bounds.low, bounds.high) == (0.5, 1.0)


def test_a_group_seen_by_nobody_still_has_bounds_on_its_share_and_no_difference():
    compared = shares(lids([None, None], [0, 1]))
    assert compared.contrast.estimate is None
    assert compared.contrast.p is None
    assert (compared.if_missing.low, compared.if_missing.high) == (-0.5, 0.5)
    assert values(lids([None, None], [0, 1])).if_missing.low is None


def test_the_last_known_state_stands_in_for_the_missing_and_only_for_them():
    """The two blanks were at 2 and 0 mm before: 2 of 4 grafted (one by its last state), 1 of 4 advanced."""
    compared = shares(lids([0, 1, 0, None], [1, 0, 0, None], last=[2, 0]))
    assert compared.last_known is not None
    assert compared.last_known.estimate == float(Fraction(1, 4) - Fraction(2, 4))
    assert compared.last_known.p is None
    told = values(lids([0, 1, 0, None], [1, 0, 0, None], last=[2, 0])).last_known
    assert told is not None
    # Differences of {1, 0, 0, 0} minus {0, 1, 0, 2}: eight of the sixteen are 0 (or the middle two), so the shift is 0.
    assert told.estimate == 0


def test_there_is_no_last_known_state_when_it_adds_nobody():
    assert shares(lids([0, 1], [0, 1])).last_known is None
    assert shares(lids([0, 1, None], [0, 1])).last_known is None  # nothing was known of it before


def test_lids_whose_cover_was_changed_are_told_again_by_the_cover_that_was_planned():
    """Six lids, one of the grafted planned for advancing and poor: as done 0/2 - 2/4, as planned 1/3 - 1/3."""
    some = lids([1, 1, 0, 0], [0, 0], planned=[True, False, False, False, True, True])
    assert shares(some).contrast.estimate == -0.5
    assert shares(some).as_planned is not None
    assert shares(some).as_planned.estimate == pytest.approx(0.0)
    assert values(some).as_planned is not None
    assert shares(lids([1, 1, 0, 0], [0, 0])).as_planned is None


def test_a_changed_cover_of_a_lid_that_was_not_seen_changes_nothing():
    assert shares(lids([1, 0, None], [0, 1], planned=[False, False, True, True, True])).as_planned is None


def test_two_lids_of_one_patient_widen_the_interval_and_raise_p():
    grafted, advanced = [1, 1, 1, 1, 1, 1, 0, 0], [0, 0, 0, 0, 0, 0, 1, 1]
    alone = shares(lids(grafted, advanced))
    paired = shares(lids(grafted, advanced, patient=[0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7]))
    assert paired.grafted.patients == 4
    assert paired.contrast.estimate == alone.contrast.estimate
    assert paired.contrast.low < alone.contrast.low
    assert paired.contrast.high > alone.contrast.high
    assert paired.contrast.p > alone.contrast.p
    # Eight patients, four a cover, three of four poor pairs each way: the tea again.
    assert paired.contrast.p == pytest.approx(34 / 70)


def test_weights_move_the_shares_as_by_hand():
    """Weights 3, 1 on poor, not poor and 1, 3: 1/4 - 3/4, where each alone has one half."""
    choice = weighed([3, 1, 1, 3], [[3, 1, 1, 3]] * 20)
    compared = shares(lids([1, 0], [1, 0]), choice)
    assert compared.contrast.estimate == 0
    assert compared.adjusted is not None
    assert compared.adjusted.estimate == pytest.approx(-0.5)
    # Kish: (3 + 1) squared over 9 + 1.
    assert compared.adjusted.effective_n_grafted == pytest.approx(1.6)


def test_weights_move_the_shift_as_by_hand():
    """Weights 3, 1 on 0 and 2 mm and 1, 3 on 0 and 2: the differences 0, -2, 2, 0 weigh 3, 1, 9, 3, so the middle is 2."""
    compared = values(lids([0, 2], [0, 2]), weighed([3, 1, 1, 3], [[3, 1, 1, 3]] * 20))
    assert compared.contrast.estimate == 0
    assert compared.adjusted is not None
    assert compared.adjusted.estimate == 2


def test_the_e_value_of_an_adjusted_difference_is_the_published_formula():
    """VanderWeele & Ding 2017: RR + root of RR (RR - 1), after 1 / RR below 1; here 0.1 over 0.7."""
    choice = weighed(np.ones(80), np.ones((20, 80)))
    compared = shares(lids([1] * 28 + [0] * 12, [1] * 4 + [0] * 36), choice)
    assert compared.adjusted is not None
    assert compared.adjusted.high < 0
    assert compared.adjusted.e_value == pytest.approx(7 + math.sqrt(7 * 6))
    ratio = 0.7 / (0.7 + compared.adjusted.high)
    assert compared.adjusted.e_value_limit == pytest.approx(ratio + math.sqrt(ratio * (ratio - 1)))


def test_there_is_no_e_value_where_the_interval_holds_no_difference():
    compared = shares(lids([1, 0, 0, 1], [1, 0, 1, 1]), weighed(np.ones(8), np.ones((20, 8))))
    assert compared.adjusted is not None
    assert compared.adjusted.e_value is None
    assert compared.adjusted.e_value_limit is None


def test_every_value_is_there_with_the_middle_and_the_quartiles():
    told = values(lids([0, 0.5, 0.5, 2, None], [1, 1])).grafted
    assert (told.q1, told.median, told.q3) == (0.375, 0.5, 0.875)
    assert told.counts == ((0.0, 1), (0.5, 2), (2.0, 1))
    assert sum(number for _, number in told.counts) == told.n == 4


def test_values_that_are_all_equal_have_an_estimate_and_no_interval():
    compared = values(lids([1, 1, 1], [1, 1, 1]))
    assert compared.contrast.estimate == 0
    assert compared.contrast.low is None
    assert compared.contrast.p == 1
    weighted = values(lids([1, 1, 1], [1, 1, 1]), weighed(np.ones(6), np.ones((20, 6)))).adjusted
    assert weighted is not None
    assert (weighted.estimate, weighted.low, weighted.high) == (0, None, None)


def test_none_in_either_cohort_still_has_limits():
    """0 of 18 against 0 of 18: Wilson's upper limit is z^2 / (n + z^2) = 0.1759, and so are those of the difference."""
    compared = shares(lids([0] * 18, [0] * 18))
    z = 1.959963984540054
    limit = z**2 / (18 + z**2)
    assert compared.advanced.high == pytest.approx(limit)
    assert (compared.contrast.low, compared.contrast.high) == (pytest.approx(-limit), pytest.approx(limit))


def test_nothing_here_was_changed():
    some = lids([0, 1, None], [0, 1, 2], last=[1])
    before = replace(some, value=some.value.copy(), last=some.last.copy(), status=some.status.copy())
    shares(some)
    values(some)
    assert np.array_equal(some.value, before.value, equal_nan=True)
    assert np.array_equal(some.last, before.last, equal_nan=True)
    assert (some.status == before.status).all()
