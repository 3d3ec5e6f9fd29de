"""What may leave the clinic, at its boundaries: one less than the threshold, the threshold, none. Expected by hand, threshold 5."""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass, replace

import pytest

from outcomes.cohort.filters import Choice
from outcomes.cohort.series import Loss
from outcomes.errors import DataRefused
from outcomes.findings import at_level, compare, public, stamp
from outcomes.findings.disclosure.counts import (
    OTHER_LEVELS,
    public_balance,
    public_count,
    public_flow,
    safe,
    safe_middle,
    safe_part,
    safe_quartiles,
)
from outcomes.findings.disclosure.public_findings import PUBLIC_NOTES, Rules, public_findings
from outcomes.findings.disclosure.public_timing import public_timing, safe_months
from outcomes.findings.disclosure.rounding import brief, rounded, rounded_contrast, upwards
from outcomes.findings.disclosure.study_facts import _safe_counts, _with_safe_revisions, public_congress
from outcomes.findings.disclosure.suppression import _coded, _general, _group, choice_without_codes
from outcomes.findings.results import (
    Adjusted,
    BalanceLine,
    Caution,
    Check,
    Contrast,
    Fact,
    Finding,
    FlowStep,
    Group,
    LearningCourse,
    LearningPoint,
    Note,
    Range,
    Share,
    SurgeonDifference,
    TimedFinding,
    TimedShare,
    Unseen,
    Values,
)
from outcomes.findings.small_count import SmallCount
from outcomes.findings.study_facts import CohortCounts, Congress, EventCounts, OtherCover
from outcomes.protocol import default_protocol
from outcomes.report.finding_words import note_words
from tests.report.invented import invented_comparison
from tests.rows import case, series_of, sheets

pytestmark = pytest.mark.quick

PROTOCOL = default_protocol()
K = 5
NOTHING = Contrast("difference of means", None, None, None)
RULES = Rules(PROTOCOL, (20, 20), (0, 0))
FEW, ALL_BUT = SmallCount(K), SmallCount(K, all_but=True)


def share(n, events=0):
    return Share(n, 1, 1, 1, n, events, events / n if n else None, 0.123456, 0.654321)


def values(n, *, counts=None):
    """So many lids, half of them with 1 mm and the rest with 5 mm, unless told otherwise."""
    held = counts or ((1.0, n - n // 2), (5.0, n // 2))
    return Values(n, 1, 1, 1, n, 2.987654, 1.2, 1.0, 1.0, 5.0, held)


def finding(grafted, advanced, outcome="poor", **more):
    whole = {"window": "six_months", "clock": "division", "contrast": NOTHING, "adjusted": None, **more}
    return Finding("notching", outcome=outcome, grafted=grafted, advanced=advanced, **whole)


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
    "part,whole,told",
    [
        (5, 20, 5),
        (0, 20, 0),
        (20, 20, 20),
        (15, 20, 15),
        (4, 20, FEW),
        (1, 20, FEW),
        (16, 20, ALL_BUT),
        (19, 20, ALL_BUT),
        (3, 6, FEW),
    ],
)
def test_a_count_that_is_not_safe_is_under_the_threshold_or_all_but_so_few(part, whole, told):
    assert public_count(part, whole, K) == told


@pytest.mark.parametrize(
    "n,middle,quartiles", [(0, True, True), (9, False, False), (10, True, False), (19, True, False), (20, True, True)]
)
def test_a_middle_value_needs_twice_and_a_quartile_four_times_the_threshold(n, middle, quartiles):
    assert (safe_middle(n, K), safe_quartiles(n, K)) == (middle, quartiles)


# Moments and steps.


def moment(months, grafted, advanced=(20, 5)):
    sides = (TimedShare(*each, 0.1, 0.0, 0.2) for each in (grafted, advanced))
    return TimedFinding("recurrence", "Aalen-Johansen", "operation", months, *sides, NOTHING)


def kept(*moments, cases=(20, 20)):
    return sorted(safe_months(moments, Rules(PROTOCOL, cases, (0, 0))))


def test_moments_between_which_fewer_than_the_threshold_differ_are_thinned_out():
    assert kept(moment(12, (20, 5)), moment(24, (20, 9)), moment(36, (20, 10)), moment(48, (20, 10))) == [12, 36, 48]


def test_a_moment_by_which_too_few_had_it_is_left_out_and_is_no_step():
    assert kept(moment(12, (20, 4)), moment(24, (20, 9)), moment(36, (20, 12))) == [24]


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
        line(OTHER_LEVELS, 20, 5, field=coded.id, note="together"),
    )
    found = _coded(lines, PROTOCOL)
    assert [(each.level, each.grafted) for each in found] == [
        (f"{coded.label.lower()} 1", 9),
        (f"{coded.label.lower()} 2", 5),
        (OTHER_LEVELS, 20),
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
    assert upwards(p) == told
    found = rounded_contrast(
        Contrast("difference of means", 0.126, 0.0149, 0.2, p, 0.3, p, exact=True, monte_carlo_error=0.1)
    )
    assert found == Contrast("difference of means", 0.13, 0.01, 0.2, told, None, told)


@pytest.mark.parametrize("number,told", [(None, None), (72.44, 72.4), (0.136, 0.14), (1.19, 1.2), (-0.004, 0.0)])
def test_means_of_characteristics_are_brief(number, told):
    assert brief(number) == told
    assert str(rounded(-0.001, 1)) == "0.0"


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
    assert choice_without_codes(Choice(name, values)).values == (told,)


def test_a_caution_is_told_in_general():
    assert _general(Caution("clustered", (Fact("clustered", numbers=(3, 2)),))).facts == (Fact("in_general"),)
    assert _general(Caution("imbalance", (Fact("cohorts_differed", ("age",)),))).facts == (Fact("in_general"),)
    bare = Caution("no_overlap", (Fact("no_overlap"),))
    assert _general(bare) == bare


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
    return EventCounts("revision", CohortCounts(*lids), CohortCounts(*revised))


@pytest.mark.parametrize(
    "lids,told", [((5, 5), True), ((0, 20), True), ((4, 5), False), ((5, 16), False), ((None, 5), True)]
)
def test_lids_with_an_event_are_told_when_both_cohorts_are_safe(lids, told):
    assert _safe_counts(CohortCounts(*lids), (20, 20), K) is told


def test_revisions_are_told_when_they_and_the_rest_are_safe():
    assert _with_safe_revisions(happened((10, 10), (5, 10)), K).revised == CohortCounts(5, 10)
    assert _with_safe_revisions(happened((9, 10), (5, 10)), K).revised == CohortCounts(None, None)


@pytest.mark.parametrize(
    "operated,others,told",
    [(40, 0, (40, 0)), (45, 5, (45, 5)), (44, 4, (None, 0)), (42, 0, (None, 0)), (47, 5, (None, 0)), (50, 5, (50, 5))],
)
def test_lids_with_another_cover_and_those_that_left_are_told_when_both_are_safe(operated, others, told):
    """Twenty lids of each cover are compared: what is left of those operated had another cover, withdrew or was filtered."""
    more = (OtherCover("transposition", others - 1), OtherCover("other", 1)) if others else ()
    facts = Congress(operated, more, (), (), "2020-01", "2024-02", "2026-03", 2, 1, 3, (), ())
    found = public_congress(facts, WHOLE, PROTOCOL)
    assert (found.operated, sum(each.lids for each in found.other_covers)) == told
    assert (found.first_operation, found.last_operation, found.last_review) == ("2020", "2024", "2026")


# A whole comparison: 20 lids a cover, one measure in one window.

SOUND = Contrast("difference of means", -0.3, -0.5, -0.1, 0.0123, 0.5, 0.0246, monte_carlo_error=0.001)
ADJUSTED = Adjusted("difference of means", "linear model", -0.2121, -0.4141, -0.0101, 0.0301, 0.2, 11.5, 12.5, 1.4, 1.1)
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


def made_public(*findings):
    return public_findings(findings, RULES)


def poor(grafted=5, advanced=10, *, n=20, **more):
    return finding(
        share(n, grafted), share(n, advanced), contrast=replace(SOUND, kind="difference of proportions"), **more
    )


def main(n=20, **more):
    more = {"contrast": SOUND, "adjusted": ADJUSTED, "verdict": "may be better with advanced", **more}
    return finding(values(n), values(n), "main", **more)


def test_a_safe_share_keeps_its_counts_and_limits_that_follow_from_them():
    """Five and ten of 20; the score limits without clustering, and Newcombe's, as the published formulas give them."""
    [kept] = made_public(poor())
    assert kept.grafted == Share(20, None, None, None, None, 5, 0.25, 0.11, 0.47)
    assert kept.advanced == Share(20, None, None, None, None, 10, 0.5, 0.3, 0.7)
    assert (kept.contrast.estimate, kept.contrast.low, kept.contrast.high) == (0.25, -0.05, 0.49)
    assert (kept.contrast.permutation_p, kept.withheld, kept.notes) == (None, "", ())


def test_safe_values_keep_their_means_their_differences_and_the_verdict():
    extra = {
        "checks": (Check("as_planned", 0.1, 0.0, 0.2),),
        "unseen": Unseen(Range(0, 1)),
        "q": 0.001,
        "could_find": 0.444,
    }
    [kept] = made_public(main(**extra))
    assert kept.grafted == Values(20, None, None, None, None, 2.99, None, 1.0, 1.0, 5.0, ())
    assert kept.contrast == Contrast("difference of means", -0.3, -0.5, -0.1, 0.02, None, 0.03)
    assert kept.adjusted == Adjusted("difference of means", "linear model", -0.21, -0.41, -0.01, 0.04, 0.2)
    assert (kept.verdict, kept.q, kept.could_find) == ("may be better with advanced", 0.01, 0.44)
    assert (kept.checks, kept.unseen) == ((), Unseen())


@pytest.mark.parametrize("few", [1, 4, 16, 19, 20])
def test_of_few_with_a_poor_result_the_share_keeps_its_lids_and_the_values_lose_the_crude_interval(few):
    kept, values_kept = made_public(poor(few, verdict="cannot tell", adjusted=ADJUSTED), main())
    assert (kept.grafted.events, kept.grafted.n, kept.grafted.proportion) == (FEW if few < K else ALL_BUT, 20, None)
    assert (kept.advanced.events, kept.contrast.estimate, kept.adjusted) == (10, None, None)
    assert (kept.verdict, kept.withheld, kept.notes) == ("cannot tell", "public", (Note("public"),))
    assert (values_kept.grafted.mean, values_kept.contrast.estimate) == (2.99, -0.3)
    assert (values_kept.contrast.low, values_kept.contrast.p, values_kept.adjusted.low) == (None, None, -0.41)
    assert (values_kept.withheld, values_kept.notes) == ("", (Note("public"),))


def test_the_verdict_of_a_crude_share_goes_with_its_small_count():
    """Whoever computes it for one to four knows which of them agree with the verdict."""
    assert made_public(poor(4, verdict="cannot tell"))[0].verdict is None
    assert made_public(poor(5, verdict="cannot tell"))[0].verdict == "cannot tell"


@pytest.mark.parametrize(
    "counts,told",
    [
        (((0.0, 16), (1.0, 4)), None),
        (((0.0, 15), (1.0, 5)), None),
        (((0.0, 10), (2.0, 10)), 2.99),
        (((0.0, 20),), None),
        (((0.0, 12), (2.0, 4), (3.0, 4)), 2.99),
    ],
)
def test_a_mean_of_few_steps_or_of_few_that_differ_is_not_given(counts, told):
    """Notching is in steps of half a millimetre: 4 lids of 1 mm are 8 steps, 20 steps are the least."""
    side = values(20, counts=counts)
    [kept] = made_public(finding(side, values(20), "main", contrast=SOUND, adjusted=ADJUSTED, verdict="cannot tell"))
    assert kept.grafted.mean == told
    assert (kept.contrast.estimate is None, kept.adjusted is None) == (told is None, told is None)
    assert (kept.grafted.median, kept.verdict) == (1.0, "cannot tell")


@pytest.mark.parametrize("n,middle,quartile", [(20, 1.0, 1.0), (15, 1.0, None), (5, None, None)])
def test_of_fewer_lids_first_the_quartiles_go_and_then_the_middle(n, middle, quartile):
    [kept] = made_public(main(n))
    assert (kept.grafted.n, kept.grafted.median, kept.grafted.q1) == (n, middle, quartile)


@pytest.mark.parametrize("n,told", [(17, ALL_BUT), (4, FEW)])
def test_of_few_lids_seen_or_not_seen_the_verdict_alone_stays(n, told):
    share_kept, kept = made_public(poor(0, 0, n=n), main(n))
    assert share_kept.grafted == Share(told, None, None, None, None, None, None, None, None)
    assert kept.grafted == Values(told, None, None, None, None, None, None, None, None, None, ())
    assert (kept.contrast.estimate, kept.adjusted, kept.q) == (None, None, None)
    assert (kept.verdict, kept.withheld) == ("may be better with advanced", "public")


def test_another_window_is_not_drawn_in():
    found = made_public(poor(4), main(), poor(window="one_year"), main(window="one_year"))
    assert [each.contrast.low for each in found] == [None, None, -0.05, -0.5]


def test_findings_by_the_clock_of_operation_are_left_out():
    assert made_public(poor(clock="operation")) == ()


def test_notes_with_a_number_or_a_name_go():
    notes = (Note("few_lids", 5.0), Note("unseen"), Note("no_overlap", 3.0, "x"), Note("few_at_risk", 3))
    [kept] = made_public(main(notes=notes))
    assert kept.notes == (Note("unseen"), Note("no_overlap"))
    assert all(note_words((Note(each),)) for each in PUBLIC_NOTES)


def test_months_are_told_event_by_event_without_those_who_were_due():
    others = [replace(moment(months, (20, events)), event="revision") for months, events in ((12, 5), (24, 8))]
    mine = [moment(12, (20, 5)), moment(24, (20, 10))]
    lost = [replace(each, grafted=replace(each.grafted, due=20, lost=3), contrast=SOUND) for each in mine]
    told = public_timing((*lost, *others), RULES)
    assert [(each.event, each.at_months) for each in told] == [("recurrence", 12), ("recurrence", 24), ("revision", 12)]
    assert (told[0].grafted.events, told[0].grafted.due, told[0].grafted.lost) == (5, None, None)
    assert (told[0].unseen, told[0].contrast.p) == (Unseen(), None)


def test_a_month_with_a_verdict_keeps_it_where_its_counts_are_few():
    few = replace(moment(24, (20, 4)), verdict="cannot tell", adjusted=ADJUSTED, contrast=SOUND)
    [told] = public_timing((moment(12, (20, 3)), few), RULES)
    assert (told.at_months, told.verdict, told.withheld) == (24, "cannot tell", "public")
    assert (told.grafted, told.adjusted) == (TimedShare(20, FEW, None, None, None, None, None), None)
    assert public_timing((replace(few, adjusted=None),), RULES)[0].verdict is None


def test_the_limits_of_a_cumulative_share_follow_from_its_counts_where_nobody_is_censored():
    """Five of 20 are 25 %: the limits are those of the counts; 30 % can only be had with censoring, and keep theirs."""
    plain, censored = (
        public_timing((replace(moment(12, (20, 5)), grafted=TimedShare(20, 5, estimate, 0.0111, 0.9)),), RULES)[0]
        for estimate in (0.25, 0.3)
    )
    assert (plain.grafted.low, plain.grafted.high) == (0.11, 0.47)
    assert (censored.grafted.low, censored.grafted.high) == (0.01, 0.9)


# Every field of a result that public output may give. A field that is added later is in no list, and this test then asks
# for a decision.
GIVEN = {
    "Comparison": "stamp grafted advanced flow balance adjustment findings timing warnings families level",
    "Stamp": "cases digest frozen as_of software protocol fingerprint selection suppressed_below",
    "Choice": "id values",
    "Group": "cases patients divided median_followup_months followup_low followup_high followup_completeness assessors "
    "masked_reviews reviews",
    "Step": "id grafted advanced label window",
    "BalanceLine": "field label level unit grafted advanced grafted_spread advanced_spread grafted_known advanced_known "
    "grafted_missing advanced_missing smd smd_adjusted adjusted_for consequence note",
    "Adjustment": "estimable covariates left_out surgeons effective_n_grafted effective_n_advanced why_not",
    "LeftOut": "label reason",
    "Finding": "measure window outcome clock grafted advanced contrast adjusted verdict family q important_difference could_find "
    "withheld notes",
    "Share": "n events proportion low high",
    "Values": "n mean median q1 q3",
    "SmallCount": "fewer_than all_but",
    "Contrast": "kind estimate low high p p_corrected",
    "Adjusted": "kind method estimate low high p p_corrected",
    "Note": "id",
    "TimedFinding": "event method clock at_months grafted advanced contrast adjusted p_curve q verdict withheld notes",
    "TimedShare": "n events estimate low high",
    "Unseen": "",
    "FamilySummary": "family judged better may_be by_chance",
    "Caution": "code facts",
    "Fact": "id numbers",
}
EMPTY = (None, (), "", False, Unseen(), Range(None, None), NOTHING)


def given_fields(thing, found):
    if isinstance(thing, tuple):
        for each in thing:
            given_fields(each, found)
    elif is_dataclass(thing):
        for each in fields(thing):
            value = getattr(thing, each.name)
            if value not in EMPTY:
                found.add((type(thing).__name__, each.name))
            given_fields(value, found)
    return found


def test_only_named_fields_are_ever_given():
    allowed = {(name, field) for name, listed in GIVEN.items() for field in listed.split()}
    whole = replace(
        invented_comparison(),
        findings=(main(), poor(), poor(4), main(window="one_year", notes=(Note("unseen"),))),
        timing=(
            replace(
                moment(12, (20, 5)), verdict="cannot tell", adjusted=ADJUSTED, p_curve=SOUND, q=0.2, as_planned=SOUND
            ),
        ),
        grafted=GROUP,
        advanced=GROUP,
    )
    assert given_fields(public(whole, PROTOCOL), set()) <= allowed
    assert given_fields(whole, set()) - allowed


def test_a_field_that_is_added_later_is_not_given_by_itself():
    """A finding of a class with one more field is made anew without it."""

    @dataclass(frozen=True)
    class Later(Finding):
        lids: tuple[str, ...] = ()

    later = Later(**{each.name: getattr(main(), each.name) for each in fields(Finding)}, lids=("C1",))
    [kept] = made_public(later)
    assert not hasattr(kept, "lids")


def test_a_journal_has_counts_of_any_size_and_nothing_of_single_lids():
    whole = invented_comparison()
    shown = at_level(whole, PROTOCOL, "journal")
    assert [(each.grafted.n, getattr(each.grafted, "events", None)) for each in shown.findings] == [
        (each.grafted.n, getattr(each.grafted, "events", None)) for each in whole.findings
    ]
    assert (shown.followed, shown.courses, shown.queries, shown.level) == ((), (), (), "journal")
    assert all(name.startswith("assessor ") for name, _ in shown.grafted.assessors)


@pytest.mark.parametrize("lids, shown", [(1, False), (2, False), (3, True)])
def test_a_journal_has_no_mean_of_one_or_two_lids_nor_anything_from_which_it_follows(lids, shown):
    few = replace(main(), grafted=replace(main().grafted, n=lids))
    [found] = at_level(replace(invented_comparison(), findings=(few,)), PROTOCOL, "journal").findings
    assert (found.grafted.mean is not None) is shown
    assert (found.contrast.estimate is not None) is shown
    assert (found.adjusted is not None) is shown
    assert ("few_lids" in {each.id for each in found.notes}) is not shown


def test_a_course_over_case_order_goes_to_a_journal_of_two_decimals_and_of_lids_enough():
    """Of sixteen lids one way only is left in which whole steps give three numbers of all digits: every lid's, in its order."""
    points = (LearningPoint(1, 0.123456, -0.4, 1 / 3),)
    courses = tuple(LearningCourse("notching", "six_months", "grafted", lids, points) for lids in (19, 20))
    [kept] = at_level(replace(invented_comparison(), learning=courses), PROTOCOL, "journal").learning
    assert (kept.n, kept.points) == (20, (LearningPoint(1, 0.12, -0.4, 0.33),))


def test_a_journal_names_no_surgeon_though_there_is_only_one_and_numbers_them_as_the_baseline_table_does():
    coded = next(each for each in PROTOCOL.characteristics if each.levels_of == "surgeon")
    lines = (line("AB", 5, 5, field=coded.id, note="the same in all"), line("CD", 9, 9, field=coded.id))
    surgeons = tuple(SurgeonDifference("notching", code, 5, 5, -0.1, -0.4, 0.2) for code in ("AB", "CD"))
    shown = at_level(replace(invented_comparison(), balance=lines, surgeons=surgeons), PROTOCOL, "journal")
    assert [each.surgeon for each in shown.surgeons] == ["surgeon 2", "surgeon 1"]
    assert [(each.level, each.grafted) for each in shown.balance] == [("surgeon 1", 9), ("surgeon 2", 5)]


def test_nothing_of_single_lids_is_told_and_no_code():
    found = public(WHOLE, PROTOCOL)
    assert (found.curves, found.means, found.followed, found.followed_by_window) == ((), (), (), ())
    assert (found.learning, found.surgeons, found.calendar) == ((), (), ())
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
