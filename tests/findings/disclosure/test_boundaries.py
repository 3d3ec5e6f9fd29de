"""What may leave the clinic, at its boundaries: one less than the threshold, the threshold, none. Expected by hand, threshold 5."""

from __future__ import annotations

from dataclasses import replace

import pytest

from outcomes.cohort.filters import Choice
from outcomes.cohort.series import Loss
from outcomes.errors import DataRefused
from outcomes.findings import compare, public, stamp
from outcomes.findings.disclosure.counts import (
    OTHER_LEVELS,
    public_balance,
    public_flow,
    public_moments,
    safe,
    safe_events,
    safe_middle,
    safe_part,
    safe_quartiles,
    safe_seen,
)
from outcomes.findings.disclosure.study_facts import _safe_pair, _with_safe_revisions
from outcomes.findings.disclosure.suppression import (
    _coded,
    _general,
    _group,
    _rounded,
    _up,
    _without_codes,
)
from outcomes.findings.results import (
    BalanceLine,
    Caution,
    Check,
    Contrast,
    Finding,
    FlowStep,
    Group,
    Note,
    Range,
    Share,
    TimedFinding,
    TimedShare,
    Unseen,
    Values,
)
from outcomes.findings.study_facts import Happened, Pair
from outcomes.protocol import default_protocol
from tests.report.invented import invented_comparison
from tests.rows import case, series_of, sheets

pytestmark = pytest.mark.quick

PROTOCOL = default_protocol()
K = 5
NOTHING = Contrast("difference of proportions", None, None, None)


def share(n, events=0):
    return Share(n, 0, 0, 0, n, events, None, None, None)


def values(n):
    return Values(n, 0, 0, 0, n, 1.1, 0.3, 1.0, 0.5, 1.5, ((1.0, n),))


def finding(grafted, advanced, outcome="poor"):
    return Finding(
        "notching",
        "six_months",
        outcome,
        "division",
        grafted,
        advanced,
        NOTHING,
        None,
    )


# Counts.


@pytest.mark.parametrize("count,told", [(0, True), (1, False), (4, False), (5, True), (6, True)])
def test_a_count_is_safe_when_it_is_none_or_the_threshold_or_more(count, told):
    assert safe(count, K) is told


@pytest.mark.parametrize(
    "part,whole,told",
    [
        (0, 0, True),
        (5, 5, True),
        (0, 5, True),
        (5, 10, True),
        (5, 9, False),
        (4, 10, False),
        (6, 10, False),
        (0, 4, False),
    ],
)
def test_a_part_is_safe_when_the_rest_is_safe_too(part, whole, told):
    assert safe_part(part, whole, K) is told


@pytest.mark.parametrize(
    "grafted,advanced,told",
    [(14, 20, True), (9, 20, True), (10, 20, False), (4, 20, False), (0, 0, True), (14, 15, True), (14, 17, False)],
)
def test_the_lids_seen_and_not_seen_of_both_cohorts_are_safe(grafted, advanced, told):
    assert safe_seen(finding(share(grafted), share(advanced)), (14, 20), K) is told


@pytest.mark.parametrize("events,told", [(0, True), (4, False), (5, True), (6, True), (7, False), (11, True)])
@pytest.mark.parametrize("turn", [1, -1])
def test_the_poor_results_and_the_others_of_both_cohorts_are_safe(events, told, turn):
    sides = (share(11, events), share(11, 5))[::turn]
    assert safe_events(finding(*sides), K) is told


def test_a_value_has_no_events():
    assert safe_events(finding(values(3), values(3), "value"), K)


@pytest.mark.parametrize(
    "n,middle,quartiles", [(0, True, True), (9, False, False), (10, True, False), (19, True, False), (20, True, True)]
)
def test_a_middle_value_needs_twice_and_a_quartile_four_times_the_threshold(n, middle, quartiles):
    assert (safe_middle(values(n), K), safe_quartiles(values(n), K)) == (middle, quartiles)


# Moments and steps.


def moment(months, grafted, advanced=(20, 5)):
    sides = (TimedShare(*each, 0.1, 0.0, 0.2) for each in (grafted, advanced))
    return TimedFinding("recurrence", "Aalen-Johansen", "operation", months, *sides, NOTHING)


def kept(*moments, cases=(20, 20)):
    return [each.at_months for each in public_moments(moments, cases, K)]


def test_moments_between_which_fewer_than_the_threshold_differ_are_thinned_out():
    assert kept(moment(12, (20, 5)), moment(24, (20, 9)), moment(36, (20, 10)), moment(48, (20, 10))) == [12, 36, 48]


def test_a_moment_by_which_too_few_had_it_is_left_out_and_is_no_step():
    assert kept(moment(12, (20, 4)), moment(24, (20, 9)), moment(36, (20, 0))) == [24]


def test_a_moment_counts_both_cohorts():
    assert kept(moment(12, (20, 5), (20, 5)), moment(24, (20, 5), (20, 9))) == [12]


def test_a_moment_of_nearly_all_lids_is_left_out():
    assert kept(moment(12, (17, 5))) == []
    assert kept(moment(12, (15, 5))) == [12]


def test_a_first_moment_by_which_nobody_had_it_is_told():
    assert kept(moment(12, (20, 0), (20, 0)), moment(24, (20, 5), (20, 5))) == [12, 24]


def flow(*steps, cases=(20, 20)):
    return [
        (step.grafted, step.advanced)
        for step in public_flow([FlowStep("divided", *each, (Loss("undivided", 1),)) for each in steps], cases, K)
    ]


def test_a_step_that_differs_in_too_few_lids_from_any_that_is_kept_is_left_out():
    assert flow((20, 20), (15, 20), (14, 20), (10, 20), (11, 20)) == [(20, 20), (15, 20), (10, 20)]


def test_a_step_is_left_out_for_either_cohort_and_why_is_never_told():
    assert flow((20, 16), (16, 20), (4, 20), (0, 20)) == [(0, 20)]
    assert public_flow([FlowStep("divided", 20, 20, (Loss("undivided", 1),))], (20, 20), K)[0].lost == ()


# The baseline table.


def line(level, grafted, advanced=10.0, known=(20, 20), field="diagnosis", **more):
    return BalanceLine(
        field, field, level, "", grafted, advanced, None, None, *known, 0, 0, 0.1, 0.1, adjusted_for=False, **more
    )


def levels(*lines, cases=(20, 20)):
    return [(each.level, each.grafted, each.advanced) for each in public_balance(lines, cases, K)]


def test_levels_of_enough_lids_stay():
    assert levels(line("a", 10), line("b", 10)) == [("a", 10, 10), ("b", 10, 10)]


def test_a_level_that_one_cohort_has_not_at_all_stays():
    lines = (line("a", 20, 10), line("b", 0, 5), line("c", None, 5), line("d", 20, None), line("e", 5, 0))
    assert [level for level, *_ in levels(*lines)] == ["a", "b", "c", "d", "e"]


def test_levels_of_too_few_lids_are_taken_together_until_their_sum_is_enough():
    found = levels(line("a", 9, 10), line("b", 2, 0), line("c", 4, 0), line("d", 5, 10))
    assert found == [("a", 9, 10), ("d", 5, 10), (OTHER_LEVELS, 6, 0)]


def test_one_level_of_too_few_lids_takes_the_next_smallest_with_it():
    found = levels(line("a", 9, 10), line("b", 3, 0), line("c", 8, 10))
    assert found == [("a", 9, 10), (OTHER_LEVELS, 11, 10)]


def test_the_next_smallest_is_that_of_both_cohorts_together():
    found = levels(line("a", 9, 5), line("b", 3, 0), line("c", 5, 10))
    assert found == [("c", 5, 10), (OTHER_LEVELS, 12, 5)]


def test_where_all_would_be_taken_together_nothing_is_told():
    assert levels(line("a", 3, 10), line("b", 17, 10)) == []


def test_the_sum_of_levels_tells_no_standardised_difference():
    [_, other] = public_balance([line("a", 9), line("b", 2, 0), line("c", 9, 0)], (20, 20), K)
    assert (other.smd, other.smd_adjusted) == (None, None)


@pytest.mark.parametrize("yes,told", [(0, True), (4, False), (5, True), (15, True), (16, False), (20, True)])
def test_of_a_yes_or_no_both_are_safe(yes, told):
    assert bool(levels(line("yes", yes))) is told
    assert bool(levels(line("yes", 10, yes))) is told


@pytest.mark.parametrize("known,told", [(20, True), (17, False), (15, True), (0, True), (4, False)])
def test_a_number_is_told_when_those_who_have_it_and_those_who_have_not_are_safe(known, told):
    assert bool(levels(line("", 5.5, known=(known, 20)))) is told
    assert bool(levels(line("", 5.5, known=(20, known)))) is told


def test_codes_of_persons_become_numbers_the_most_frequent_first():
    coded = next(each for each in PROTOCOL.characteristics if each.levels_of == "surgeon")
    lines = (
        line("AB", 5, 5, field=coded.id),
        line("CD", 9, 9, field=coded.id),
        line("x", 20, 5, field=coded.id, note="together"),
    )
    found = _coded(lines, PROTOCOL)
    assert [(each.level, each.grafted) for each in found] == [
        (f"{coded.label.lower()} 1", 9),
        (f"{coded.label.lower()} 2", 5),
        ("x", 20),
    ]
    assert _coded((line("melanoma", 5),), PROTOCOL)[0].level == "melanoma"


# Cohorts, p values, words.

GROUP = Group(20, 15, 20, 12.4, 9.5, None, 0.876, (("AB", 30), ("CD", 10)), 5, 40)


def test_a_cohort_is_told_in_whole_months_with_assessors_by_number():
    found = _group(GROUP, K)
    assert (found.patients, found.divided, found.masked_reviews) == (15, 20, 5)
    assert (found.median_followup_months, found.followup_low, found.followup_high) == (12.0, 10.0, None)
    assert (found.followup_completeness, found.assessors) == (0.88, (("assessor 1", 30), ("assessor 2", 10)))


@pytest.mark.parametrize("part", ["patients", "divided"])
@pytest.mark.parametrize("count,told", [(15, 15), (16, None), (4, None), (5, 5), (None, None)])
def test_patients_and_divided_lids_are_told_when_the_rest_is_safe(part, count, told):
    assert getattr(_group(replace(GROUP, **{part: count}), K), part) == told


@pytest.mark.parametrize("masked,told", [(0, 0), (4, None), (5, 5), (35, 35), (36, None), (40, 40)])
def test_masked_reviews_are_told_when_the_rest_is_safe(masked, told):
    assert _group(replace(GROUP, masked_reviews=masked), K).masked_reviews == told


@pytest.mark.parametrize("counts,told", [((30, 10), True), ((36, 4), False), ((30, 9), False), ((30, 5), True)])
def test_assessors_are_told_when_each_and_the_rest_are_safe(counts, told):
    found = _group(replace(GROUP, assessors=tuple(zip(("AB", "CD"), counts, strict=True))), K)
    assert bool(found.assessors) is told


@pytest.mark.parametrize(
    "p,told",
    [(None, None), (0.0, 0.01), (0.004, 0.01), (0.01, 0.01), (0.0101, 0.02), (0.29, 0.29), (0.995, 1.0), (1.0, 1.0)],
)
def test_p_values_are_rounded_up_to_hundredths(p, told):
    assert _up(p) == told
    found = _rounded(Contrast("difference of proportions", 0.1, 0.0, 0.2, p, p, monte_carlo_error=0.1))
    assert (found.estimate, found.low, found.high, found.p, found.permutation_p) == (0.1, 0.0, 0.2, told, told)
    assert found.monte_carlo_error is None


@pytest.mark.parametrize(
    "name,values,told",
    [
        ("surgeons", ("AB",), "1 chosen"),
        ("sites", ("N", "S"), "2 chosen"),
        ("operated_from", ("2024-01-01",), "2024-01-01"),
        ("windows", ("six_months",), "six_months"),
    ],
)
def test_codes_that_were_chosen_become_their_number(name, values, told):
    assert _without_codes(Choice(name, values)).values == (told,)


def test_a_difference_of_means_is_rounded_to_hundredths_and_one_of_shares_is_not():
    means, shares = (
        _rounded(Contrast(kind, 0.1234, 0.0456, 0.2345))
        for kind in ("difference of means", "difference of proportions")
    )
    assert (means.estimate, means.low, means.high) == (0.12, 0.05, 0.23)
    assert (shares.estimate, shares.low, shares.high) == (0.1234, 0.0456, 0.2345)


def test_a_caution_is_told_in_general():
    assert _general(Caution("clustered", "3 patients have two lids")).text.startswith("Some patients")
    assert _general(Caution("new", "of 3 lids")).text.startswith("There is more to know")
    assert _general(Caution("new", "of lids")).text == "of lids"


@pytest.mark.parametrize("grafted,refused", [(4, True), (5, False)])
def test_a_cohort_of_fewer_than_the_threshold_makes_nothing_public(grafted, refused):
    rows = sheets([case(f"G{n}") for n in range(grafted)] + [case(f"A{n}", "advancement") for n in range(5)])
    series = series_of(rows)
    found = compare(series, stamp(series, digest="0" * 64, frozen="", software="outcomes"))
    if refused:
        with pytest.raises(DataRefused, match="fewer than 5 lids"):
            public(found, PROTOCOL)
    else:
        assert public(found, PROTOCOL).curves == ()


def happened(lids, revised=(0, 0)):
    return Happened("revision", Pair(*lids), Pair(*revised))


@pytest.mark.parametrize(
    "lids,told", [((5, 5), True), ((0, 20), True), ((4, 5), False), ((5, 16), False), ((None, 5), True)]
)
def test_lids_with_an_event_are_told_when_both_cohorts_are_safe(lids, told):
    assert _safe_pair(Pair(*lids), (20, 20), K) is told


def test_revisions_are_told_when_they_and_the_rest_are_safe():
    assert _with_safe_revisions(happened((10, 10), (5, 10)), K).revised == Pair(5, 10)
    assert _with_safe_revisions(happened((9, 10), (5, 10)), K).revised == Pair(None, None)


# A whole comparison: 20 lids a cover, one measure in one window.

SOUND = Contrast("difference of proportions", -0.3, -0.5, -0.1, 0.0123, 0.0246, monte_carlo_error=0.001)
WHOLE = replace(
    invented_comparison(),
    grafted=replace(GROUP, cases=20),
    advanced=replace(GROUP, cases=20),
    flow=(FlowStep("surgeons", 20, 20, (Loss("filtered", 1),), "AB"),),
    balance=(),
    findings=(),
    timing=(),
    warnings=(),
)


def told_of(*findings, timing=()):
    """The findings and the moments that are made public, and the caution that says how many are not."""
    found = public(replace(WHOLE, findings=findings, timing=timing), PROTOCOL)
    return found.findings, found.timing, found.warnings[0].text


def poor(grafted=5, advanced=10, *, n=20, **more):
    return replace(
        finding(share(n, grafted), share(n, advanced)), contrast=SOUND, verdict="better with advanced", **more
    )


def value(*, n=20, **more):
    return replace(finding(values(n), values(n), "main"), contrast=SOUND, **more)


def test_a_safe_result_keeps_its_counts_its_contrast_and_its_verdict():
    checks, unseen = (Check("as_planned", -0.3, -0.5, -0.1),), Unseen(Range(-0.5, 0.1))
    [kept], _, said = told_of(poor(checks=checks, unseen=unseen, could_find=0.312))
    assert (kept.grafted.events, kept.advanced.events, kept.verdict) == (5, 10, "better with advanced")
    assert (kept.contrast.estimate, kept.contrast.p, kept.contrast.permutation_p) == (-0.3, 0.02, 0.03)
    assert (kept.checks, kept.unseen, kept.could_find) == ((), Unseen(), 0.31)
    assert (kept.grafted.missing, kept.grafted.not_due, kept.grafted.patients) == (None, None, None)
    assert "counts from 1 to 4 are left out, and with them 0 results" in said


def test_with_too_few_poor_results_the_middle_of_the_values_alone_stays():
    [kept], _, said = told_of(poor(4), value())
    assert (kept.outcome, kept.grafted.median, kept.grafted.q1, kept.grafted.counts) == ("main", 1.0, 0.5, ())
    assert (kept.grafted.mean, kept.grafted.sd) == (None, None)
    assert (kept.contrast.estimate, kept.adjusted, kept.verdict, kept.withheld) == (None, None, None, "public")
    assert "with them 1 results" in said


@pytest.mark.parametrize("n,quartile,kept", [(20, 0.5, True), (15, None, True), (9, None, False)])
def test_of_fewer_lids_first_the_quartiles_go_and_then_the_middle(n, quartile, kept):
    found, _, _ = told_of(value(n=n))
    assert [each.grafted.q1 for each in found] == ([quartile] if kept else [])


def test_a_result_of_which_too_few_were_not_seen_goes_whole():
    assert told_of(poor(5, 5, n=17), value(n=17))[0] == ()
    assert len(told_of(poor(5, 5, n=15), value(n=15))[0]) == 2


def test_another_window_is_not_drawn_in():
    found, _, _ = told_of(poor(4), value(), poor(window="one_year"), value(window="one_year"))
    assert [(each.window, each.outcome) for each in found] == [
        ("six_months", "main"),
        ("one_year", "poor"),
        ("one_year", "main"),
    ]
    assert [each.contrast.estimate for each in found] == [None, -0.3, -0.3]


def test_notes_with_a_number_or_a_name_go():
    [kept], _, _ = told_of(poor(notes=(Note("few_lids", 3), Note("few_at_risk", label="3 grafted"), Note("unseen"))))
    assert kept.notes == (Note("unseen"),)


def test_moments_are_told_event_by_event_without_those_who_were_due():
    others = [replace(moment(months, (20, events)), event="revision") for months, events in ((12, 5), (24, 8))]
    mine = [moment(12, (20, 5)), moment(24, (20, 10))]
    lost = [replace(each, grafted=replace(each.grafted, due=20, lost=3), contrast=SOUND) for each in mine]
    _, told, said = told_of(timing=(*lost, *others))
    assert [(each.event, each.at_months) for each in told] == [("recurrence", 12), ("recurrence", 24), ("revision", 12)]
    assert (told[0].grafted.events, told[0].grafted.due, told[0].grafted.lost) == (5, None, None)
    assert (told[0].contrast.p, told[0].unseen) == (0.02, Unseen())
    assert "with them 1 results" in said


def test_nothing_of_single_lids_is_told_and_no_code():
    found = public(WHOLE, PROTOCOL)
    assert (found.curves, found.means, found.followed, found.followed_by_window) == ((), (), (), ())
    assert [(step.id, step.label, step.lost) for step in found.flow] == [("surgeons", "1 chosen", ())]
    assert found.stamp.suppressed_below == K
    assert found.warnings[0].code == "public"


def test_levels_that_are_codes_go_by_both_cohorts_together_and_by_name_when_alike():
    coded = next(each for each in PROTOCOL.characteristics if each.levels_of == "surgeon")
    lines = [
        line(name, *lids, field=coded.id)
        for name, lids in (("AB", (None, 6)), ("CD", (6, None)), ("EF", (5, 6)), ("GH", (0, 7)))
    ]
    assert [(each.grafted, each.advanced) for each in _coded(tuple(lines), PROTOCOL)] == [
        (5, 6),
        (0, 7),
        (None, 6),
        (6, None),
    ]
