"""Ways by which an attacker got at something withheld, from numbers and words that are about it without naming it."""

from dataclasses import replace

import pytest

from outcomes.errors import DataRefused
from outcomes.findings import public
from outcomes.findings.disclosure.public_timing import public_timing
from outcomes.findings.results import Contrast, FlowStep, Note
from outcomes.protocol import default_protocol
from tests.findings.disclosure.test_suppression import RULES, demo, moments
from tests.report.invented import invented_comparison

CURVE = Contrast("curves", None, None, None, 0.107)


@pytest.mark.parametrize(
    "by_month, told",
    [
        # Nobody by 12 months, two of one cover by 24: Gray's test of the whole curves would say that it was two.
        ([(0, 0), (0, 2)], {12: None}),
        ([(6, 6), (12, 11)], {12: 0.11, 24: 0.11}),
    ],
)
def test_the_test_of_whole_curves_is_told_only_with_the_events_that_it_is_about(by_month, told):
    found = [replace(each, p_curve=CURVE) for each in moments(*by_month)]
    shown = public_timing(found, RULES)
    assert {each.at_months: each.p_curve and each.p_curve.p for each in shown} == told


def test_families_count_the_verdicts_that_are_told():
    """Else the one verdict that is withheld is what the sum has and the list has not."""
    whole, told = demo()
    assert [each.judged for each in whole.families] != [each.judged for each in told.families]
    for family in told.families:
        verdicts = [each.verdict for each in told.findings if each.family == family.family and each.verdict]
        verdicts += [each.verdict for each in told.timing if each.verdict and family.family == "further"]
        assert family.judged == sum(each != "too few to say" for each in verdicts)


def test_that_all_lids_are_alike_is_told_by_no_verdict_and_no_note():
    """With lids enough, that nothing can be said means that there is no interval: everybody had the same value."""
    protocol = default_protocol()
    whole = invented_comparison()
    finding = next(
        each for each in whole.findings if each.outcome == "main" and not each.is_share and each.window == "six_months"
    )
    lids = {name: getattr(finding, name) for name in ("grafted", "advanced")}
    alike = {
        name: replace(side, mean=0.0, sd=0.0, median=0.0, q1=0.0, q3=0.0, counts=((0.0, side.n),))
        for name, side in lids.items()
    }
    same = replace(finding, **alike, verdict="too few to say", notes=(Note("no_interval"),))
    [told] = public(replace(whole, findings=(same,), timing=()), protocol).findings
    assert (told.grafted.mean, told.verdict, [each.id for each in told.notes]) == (None, None, ["public"])


@pytest.mark.parametrize(
    "steps, told",
    [
        ([("reconstructed", 30, 30), ("surgeons", 29, 22)], False),  # one grafted lid of another surgeon
        ([("reconstructed", 30, 30), ("surgeons", 22, 30)], True),
        ([("reconstructed", 30, 30), ("operated_from", 30, 22), ("sites", 27, 22)], False),
        ([("reconstructed", 30, 30), ("operated_from", 25, 25), ("sites", 20, 20)], True),
        ([("not_withdrawn", 30, 30), ("divided", 28, 30)], True),
    ],
)
def test_a_selection_that_leaves_out_few_lids_is_refused_because_the_whole_would_tell_of_them(steps, told):
    whole = replace(invented_comparison(), flow=tuple(FlowStep(*step) for step in steps))
    if told:
        assert public(whole, default_protocol())
    else:
        with pytest.raises(DataRefused, match="leave out fewer than 5 lids"):
            public(whole, default_protocol())
