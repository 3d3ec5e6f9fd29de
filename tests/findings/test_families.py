"""Is every p value corrected within its own family, and for everything in it?"""

from dataclasses import replace

import pytest

from outcomes.findings.families import correct_families, corrected, reviewed_apart, reviewed_shares
from outcomes.findings.results import Contrast, Finding, Range, Share, Values


def contrast(p):
    return Contrast("difference of proportions", -0.1, -0.2, 0.1, p=p)


def share(seen, missing, events=0):
    return Share(seen, missing, 0, 0, seen, events, events / seen if seen else None, None, None)


def finding(measure, p, *, primary, grafted=None, advanced=None):
    return Finding(
        measure,
        "six_months",
        "poor",
        "division",
        grafted or share(20, 0),
        advanced or share(20, 0),
        contrast(p),
        None,
        Range(None, None),
        "too few to say",
        primary,
    )


def test_holm_by_hand():
    """0.01 x 4, then the greater of that and 0.02 x 3, of 0.03 x 2, and of 0.04: the last is held up at 0.06."""
    done = corrected([contrast(p) for p in (0.04, 0.01, 0.03, 0.02)])
    assert [each.p_adjusted for each in done] == pytest.approx([0.06, 0.04, 0.06, 0.06])
    assert [each.p for each in done] == [0.04, 0.01, 0.03, 0.02]


def test_a_contrast_without_p_counts_for_nothing_and_stays_without():
    done = corrected([contrast(0.02), contrast(None), contrast(0.03)])
    assert [each.p_adjusted for each in done] == [pytest.approx(0.04), None, pytest.approx(0.04)]


def test_the_primary_family_is_corrected_by_itself_and_all_the_rest_together_with_the_timed_tests():
    findings = [
        finding("a", 0.010, primary=True),
        finding("b", 0.001, primary=False),
        finding("c", 0.040, primary=True),
        finding("d", 0.020, primary=False),
    ]
    done, tests = correct_families(findings, {"recurrence": contrast(0.005), "revision": contrast(0.5)})
    assert [each.measure for each in done] == ["a", "b", "c", "d"]
    # Primary: 0.010 x 2 and 0.040. The rest: 0.001 x 4, 0.005 x 3, 0.020 x 2, 0.5.
    assert [each.contrast.p_adjusted for each in done] == pytest.approx([0.020, 0.004, 0.040, 0.040])
    assert {name: test.p_adjusted for name, test in tests.items()} == pytest.approx(
        {"recurrence": 0.015, "revision": 0.5}
    )


def test_without_timed_tests_nothing_is_lost():
    done, tests = correct_families([finding("a", 0.01, primary=True), finding("b", 0.02, primary=False)], {})
    assert [each.contrast.p_adjusted for each in done] == [0.01, 0.02]
    assert tests == {}


@pytest.mark.parametrize(
    "grafted, advanced, apart",
    [
        ((18, 2), (16, 4), False),  # 90 % and 80 %: ten points are allowed
        ((18, 2), (15, 5), True),  # 90 % and 75 %
        ((15, 5), (18, 2), True),  # the other way round
        ((20, 0), (0, 20), True),
        ((0, 0), (20, 0), False),  # none was due with a graft: no share to compare
    ],
)
def test_reviewed_apart_by_more_than_ten_points(grafted, advanced, apart):
    one = finding("a", 0.01, primary=True, grafted=share(*grafted), advanced=share(*advanced))
    assert reviewed_apart(one, 10) is apart


def test_lids_not_yet_due_are_not_in_the_share_reviewed():
    one = finding("a", 0.01, primary=True)
    assert reviewed_shares(replace(one, grafted=replace(share(15, 5), not_due=30))) == (0.75, 1.0)


def test_the_share_reviewed_of_values_is_counted_alike():
    values = Values(9, 3, 0, 0, 9, 1.0, 0.5, 1.5, ((1.0, 9),))
    assert reviewed_shares(replace(finding("a", 0.01, primary=True), grafted=values, advanced=values)) == (0.75, 0.75)
