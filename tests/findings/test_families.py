"""Planned, further and exploratory findings: the correction of each, and the verdicts that follow."""

from dataclasses import replace

import pytest

from outcomes.findings.decision_rule import Evidence
from outcomes.findings.families import TimedDraft, family_of, summaries, with_verdicts
from outcomes.findings.measure_findings import Draft
from outcomes.findings.results import Adjusted, Check, Contrast, Finding, Note, TimedFinding, TimedShare, Values
from outcomes.protocol import default_protocol
from outcomes.statistics.result import TestedEstimate

PROTOCOL = default_protocol()
VALUES = Values(20, 0, 0, 0, 20, 1.0, 1.0, 1.0, 0.5, 1.5, ())
NOTHING = Contrast("difference of means", None, None, None)


def draft(measure, p, *, window="six_months", outcome="main", clock="division", fewest=20):
    adjusted = Adjusted("difference of means", "linear model", -1.0, -1.9, -0.1, p)
    finding = Finding(measure, window, outcome, clock, VALUES, VALUES, NOTHING, adjusted)
    judged = TestedEstimate(-1.0, -1.9, -0.1, p, 0.45, 60.0, 0.95)
    evidence = Evidence(judged, fewest, too_few=5, more_is_worse=True, measured=(1.0, 1.0), important=0.5)
    return Draft(finding, evidence)


def timed_draft(p):
    side = TimedShare(20, 5, 0.25, 0.1, 0.5)
    finding = TimedFinding("recurrence", "Aalen-Johansen", "operation", 36, side, side, NOTHING)
    return TimedDraft(finding, draft("oedema", p).evidence)


@pytest.mark.parametrize("changes, family", [
    ({}, "planned"),
    ({"window": "one_year"}, "further"),
    ({"outcome": "poor"}, "exploratory"),
    ({"outcome": "value"}, "exploratory"),
    ({"clock": "operation"}, "exploratory"),
])  # fmt: skip
def test_which_family_a_finding_belongs_to(changes, family):
    assert family_of(PROTOCOL, draft("oedema", 0.01, **changes).finding) == family


def test_planned_ones_are_corrected_by_holm_with_the_weights_of_the_protocol():
    """A main measure weighs 2 and a further one 1: p/w is .005, .02, .03; Holm with 4/2, 2/1, 1/1 of what is left."""
    drafts = [draft("oedema", 0.01), draft("watering", 0.02), draft("ectropion", 0.03)]
    found, _ = with_verdicts(PROTOCOL, drafts, [])
    assert [each.adjusted.p_corrected for each in found] == pytest.approx([0.02, 0.04, 0.04])
    assert {each.verdict for each in found} == {"better with advanced"}
    assert all(each.q is None for each in found)


def test_one_whose_correction_fails_may_be_better():
    found, _ = with_verdicts(PROTOCOL, [draft("oedema", 0.04), draft("watering", 0.9)], [])
    assert found[0].adjusted.p_corrected == pytest.approx(0.06)
    assert found[0].verdict == "may be better with advanced"


def test_further_ones_and_timed_events_share_one_false_discovery_rate():
    further = [draft("oedema", p, window=window) for p, window in ((0.001, "one_year"), (0.02, "one_week"))]
    found, timed = with_verdicts(PROTOCOL, further, [timed_draft(0.004)])
    assert [each.q for each in (*found, *timed)] == pytest.approx([0.003, 0.02, 0.006])
    assert [each.verdict for each in (*found, *timed)] == [
        "better with advanced", "may be better with advanced", "better with advanced",
    ]  # fmt: skip
    assert all(each.adjusted.p_corrected is None for each in found)


def test_one_that_is_too_few_is_no_test_of_its_family():
    found, _ = with_verdicts(PROTOCOL, [draft("oedema", 0.04), draft("watering", 0.01, fewest=4)], [])
    assert (found[0].adjusted.p_corrected, found[0].verdict) == (pytest.approx(0.04), "better with advanced")
    assert found[1].verdict == "too few to say"


def test_exploratory_findings_and_timed_ones_at_other_months_get_no_verdict():
    found, timed = with_verdicts(
        PROTOCOL, [draft("oedema", 0.0001, outcome="poor")], [TimedDraft(timed_draft(0.01).finding, None)]
    )
    assert (found[0].verdict, found[0].q, timed[0].verdict, timed[0].q) == (None, None, None, None)


def test_a_crude_difference_that_is_judged_carries_the_corrected_p():
    one = draft("oedema", 0.03)
    crude = replace(one, finding=replace(one.finding, adjusted=None))
    found, _ = with_verdicts(PROTOCOL, [crude], [])
    assert found[0].contrast.p_corrected == pytest.approx(0.03)


def test_how_many_may_be_better_stands_beside_how_many_chance_would_give():
    drafts = [
        draft("oedema", 0.001),
        draft("watering", 0.04),
        draft("ectropion", 0.04),
        draft("notching", 0.9, fewest=4),
    ]
    found, timed = with_verdicts(PROTOCOL, drafts, [])
    planned, further = summaries(PROTOCOL, found, timed)
    assert (planned.judged, planned.better, planned.may_be, planned.by_chance) == (3, 1, 2, 0.15)
    assert (further.judged, further.by_chance) == (0, 0.0)


def test_a_check_that_points_the_other_way_is_named_beside_a_difference():
    one = draft("oedema", 0.001)
    checks = (
        Check("as_planned", 0.2, -0.3, 0.7),
        Check("operation_clock", -0.2, -0.6, 0.2),
        Check("masked_only", None, None, None),
    )
    reversed_one = replace(one, finding=replace(one.finding, checks=checks))
    (found,), _ = with_verdicts(PROTOCOL, [reversed_one], [])
    assert found.notes == (Note("check_reverses", label="as_planned"),)
    judged = replace(one.evidence.judged, low=-1.9, high=0.1)
    unsure = replace(reversed_one, evidence=replace(one.evidence, judged=judged))
    (found,), _ = with_verdicts(PROTOCOL, [unsure], [])
    assert Note("check_reverses", label="as_planned") not in found.notes


def test_a_difference_says_that_masked_assessors_saw_less_of_the_measure_at_another_review():
    seen = draft("oedema", 0.001)
    year = draft("oedema", 0.001, window="one_year")
    masked = replace(year, evidence=replace(year.evidence, masked_saw_less=True))
    other = draft("watering", 0.001)
    found, _ = with_verdicts(PROTOCOL, [seen, masked, other], [])
    assert (found[0].verdict, found[1].withheld) == ("better with advanced", "masked")
    assert [Note("masked_elsewhere") in each.notes for each in found] == [True, False, False]
