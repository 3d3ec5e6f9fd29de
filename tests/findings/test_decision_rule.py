"""The verdict of one difference, and each thing that withholds it, at its boundary."""

from dataclasses import replace

import pytest

from outcomes.findings.decision_rule import Evidence, findable_difference, rule
from outcomes.findings.results import Note
from outcomes.statistics.effective_shares import EffectiveShare
from outcomes.statistics.power import could_find_share
from outcomes.statistics.result import TestedEstimate, not_estimable


def estimate(low, high, *, p=0.01):
    middle = (low + high) / 2
    return TestedEstimate(middle, low, high, p, (high - low) / 4, 60.0, 0.95)


def evidence(low=-0.9, high=-0.1, **changes):
    base = Evidence(
        estimate(low, high), fewest=20, too_few=5, more_is_worse=True, measured=(1.0, 1.0), spread=1.0, important=0.5
    )
    return replace(base, **changes)


@pytest.mark.parametrize("low, high, worse, stands, verdict", [
    (-0.9, -0.1, True, True, "better with advanced"),
    (-0.9, -0.1, True, False, "may be better with advanced"),
    (0.1, 0.9, True, True, "better with graft"),
    (0.1, 0.9, True, False, "may be better with graft"),
    (-0.9, -0.1, False, True, "better with graft"),
    (0.1, 0.9, False, False, "may be better with advanced"),
    (-0.4, 0.4, True, True, "no difference that matters"),
    (-0.6, 0.4, True, True, "cannot tell"),
    (-0.4, 0.6, True, True, "cannot tell"),
    (-0.5, 0.4, True, True, "cannot tell"),  # reaches what matters
    (0.0, 0.4, True, True, "no difference that matters"),  # an end at none excludes nothing
])  # fmt: skip
def test_the_interval_decides(low, high, worse, stands, verdict):
    assert rule(evidence(low, high, more_is_worse=worse), stands=stands).verdict == verdict


@pytest.mark.parametrize("fewest, verdict", [(4, "too few to say"), (5, "better with advanced")])
def test_fewer_than_the_minimum_is_too_few(fewest, verdict):
    ruling = rule(evidence(fewest=fewest), stands=True)
    assert ruling.verdict == verdict
    assert ruling.notes == ((Note("few_lids", 5),) if fewest < 5 else ())


def test_no_interval_is_too_few_to_say():
    ruling = rule(evidence(judged=not_estimable(0.95, estimate=-1.0)), stands=True)
    assert (ruling.verdict, ruling.notes) == ("too few to say", (Note("no_interval"),))


def test_covers_that_do_not_overlap_withhold_everything():
    ruling = rule(evidence(judged=None), stands=True)
    assert (ruling.verdict, ruling.withheld) == ("cannot tell", "no_overlap")


@pytest.mark.parametrize("low, high, measured, verdict", [
    (-0.9, -0.1, (1.0, 0.9), "better with advanced"),  # ten points apart are allowed
    (-0.9, -0.1, (1.0, 0.89), "better with advanced"),  # -0.5 x 0.89 + 0.4 = -0.045
    (-0.9, -0.1, (1.0, 0.79), "cannot tell"),  # -0.5 x 0.79 + 0.4 = +0.005
    (-0.9, -0.1, (0.79, 1.0), "cannot tell"),
    (-0.9, -0.1, (0.40, 0.50), "better with advanced"),  # ten points, though a fifth
    (0.1, 0.9, (1.0, 0.79), "cannot tell"),
])  # fmt: skip
def test_a_difference_must_survive_shares_measured_that_differ(low, high, measured, verdict):
    ruling = rule(evidence(low, high, measured=measured), stands=True)
    assert ruling.verdict == verdict
    assert ruling.withheld == ("unseen" if verdict == "cannot tell" else "")


@pytest.mark.parametrize("measured, verdict", [
    ((1.0, 0.9), "no difference that matters"),
    ((1.0, 0.81), "no difference that matters"),  # wider by 0.19 / 2: to 0.495
    ((1.0, 0.79), "cannot tell"),  # by 0.21 / 2: to 0.505
])  # fmt: skip
def test_no_difference_that_matters_is_judged_on_a_wider_interval_where_shares_differ(measured, verdict):
    assert rule(evidence(-0.4, 0.4, measured=measured), stands=True).verdict == verdict


def test_masked_assessors_who_saw_less_withhold_a_difference_and_a_lack_of_one():
    for low, high in ((-0.9, -0.1), (-0.4, 0.4)):
        ruling = rule(evidence(low, high, masked_saw_less=True), stands=True)
        assert (ruling.verdict, ruling.withheld) == ("cannot tell", "masked")


def test_better_by_less_than_matters_says_so():
    ruling = rule(evidence(-0.4, -0.1), stands=True)
    assert (ruling.verdict, ruling.notes) == ("better with advanced", (Note("within_important"),))


def test_without_an_important_difference_nothing_is_said_not_to_matter():
    ruling = rule(evidence(-0.01, 0.01, important=None), stands=True)
    assert (ruling.verdict, ruling.notes) == ("cannot tell", (Note("no_important_difference"),))


def test_a_win_probability_is_judged_by_one_half():
    wins = TestedEstimate(0.7, 0.55, 0.82, 0.01, 0.06, 60.0, 0.95, none=0.5)
    assert rule(evidence(judged=wins, more_is_worse=False), stands=True).verdict == "better with advanced"


def test_what_could_be_found_grows_where_the_estimate_would_be_drawn_in():
    full, apart = (findable_difference(evidence(measured=shares), 0.8) for shares in ((1.0, 1.0), (1.0, 0.5)))
    # With 60 degrees of freedom t is 2.000 (Student's table) and the normal quantile at 80 % 0.8416; c standard errors solve
    # (c - t / factor) x (1 - 1/240) = 0.8416 x root of 1 + (c^2 + (t / factor)^2) / 120: by hand, by putting c in, 2.888 and 4.979.
    for c, reach in ((2.888, 2.000), (4.979, 4.000)):
        assert (c - reach) * (1 - 1 / 240) == pytest.approx(0.8416 * (1 + (c**2 + reach**2) / 120) ** 0.5, abs=1e-3)
    assert full == pytest.approx(2.888 * 0.2, abs=1e-3)
    assert apart == pytest.approx(4.979 * 0.2, abs=1e-3)
    assert findable_difference(evidence(fewest=4), 0.8) is None


def test_what_could_be_found_of_a_share_is_that_of_one_that_rises():
    shares = EffectiveShare(0.05, 40), EffectiveShare(0.05, 40)
    found = findable_difference(evidence(shares=shares), 0.8)
    assert found == pytest.approx(could_find_share(shares, degrees_of_freedom=60))
    apart = findable_difference(evidence(shares=shares, measured=(1.0, 0.5)), 0.8)
    assert apart == pytest.approx(could_find_share(shares, degrees_of_freedom=60, factor=0.5))
    few = EffectiveShare(0.05, 2), EffectiveShare(0.05, 2)
    assert findable_difference(evidence(shares=few), 0.8) is None
