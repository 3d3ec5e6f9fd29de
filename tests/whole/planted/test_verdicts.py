"""The verdicts on planted registers, each with one hazard and a known truth.

Each register holds one hazard that would fool a hasty reader, and its docstring says what is true. Where a naive method
is shown to be fooled, that method is somebody else's: Fisher's test and the rank tests of SciPy, or plain arithmetic.
"""

from datetime import date
from functools import cache

import numpy as np
import pytest
from scipy.stats import fisher_exact

from outcomes.cohort import Selection, event_intervals, event_times
from outcomes.findings import case_series, compare, stamp
from outcomes.findings.estimable import excludes_none
from outcomes.findings.results import BETTER, MAY_BE, Note
from outcomes.protocol import default_protocol
from outcomes.report.warning_words import caution_words
from outcomes.statistics.gray import gray_test
from outcomes.statistics.interval_logrank import interval_logrank
from outcomes.statistics.kaplan_meier import kaplan_meier
from outcomes.statistics.proportion import wilson
from tests.rows import RowRegister
from tests.whole.planted import registers

pytestmark = pytest.mark.slow

CLOSING = date(2026, 6, 30)
PROTOCOL = default_protocol()
NAMES = tuple(hazard.__name__ for hazard in registers.HAZARDS)


@cache
def series(name):
    return case_series(RowRegister(getattr(registers, name)(), PROTOCOL), PROTOCOL, Selection(CLOSING))


@cache
def compared(name):
    one = series(name)
    return compare(one, stamp(one, digest="0" * 64, frozen="", software="outcomes"))


def finding(name, measure, window="six_months", outcome="main", clock="division"):
    place = (measure, window, outcome, clock)
    return next(f for f in compared(name).findings if (f.measure, f.window, f.outcome, f.clock) == place)


def timed(name, event, months):
    return next(f for f in compared(name).timing if (f.event, f.at_months) == (event, months))


def warnings(name):
    return {each.code: caution_words(each) for each in compared(name).warnings}


def better(name):
    """Every finding and timed finding of a comparison that is better with either cover."""
    lids = {(f.measure, f.window): f.verdict for f in compared(name).findings if f.verdict}
    times = {(f.event, f.at_months): f.verdict for f in compared(name).timing if f.verdict}
    return {place: verdict for place, verdict in (lids | times).items() if verdict in BETTER}


def excludes(part):
    return part is not None and excludes_none(part.low, part.high)


TRULY_DIFFERENT = {
    "effect_hidden_by_confounding", "a_real_effect", "different_days_of_division", "only_the_unmasked_assessor_sees_it",
    "swelling_at_three_months_only",
}  # fmt: skip


@pytest.mark.parametrize("name", [name for name in NAMES if name not in TRULY_DIFFERENT])
def test_where_the_cover_does_nothing_or_it_cannot_be_seen_nothing_is_better(name):
    assert better(name) == {}


@pytest.mark.parametrize("name", NAMES)
def test_what_may_be_better_is_no_more_than_chance_and_truth_give(name):
    planned, further = compared(name).families
    assert planned.by_chance == pytest.approx(0.05 * planned.judged, abs=0.01)
    if name not in TRULY_DIFFERENT | {"planned_one_way_done_another"}:
        assert planned.may_be <= 4
        assert further.may_be <= 2 * further.by_chance


def test_confounding_alone_is_not_an_effect():
    found = finding("effect_by_confounding_alone", "retraction")
    assert found.contrast.high < -0.1
    assert found.contrast.p < 0.01
    assert found.adjusted.low < 0 < found.adjusted.high
    assert found.verdict == "no difference that matters"
    assert "laxity" in warnings("effect_by_confounding_alone")["imbalance"]


def test_confounding_alone_leaves_balance_in_what_was_adjusted_for():
    lines = [line for line in compared("effect_by_confounding_alone").balance if line.field == "distraction"]
    assert abs(lines[0].smd) > 0.5
    assert abs(lines[0].smd_adjusted) < 0.05


def test_an_effect_hidden_by_confounding_is_seen_after_adjustment():
    """Crude, the two covers look alike: the lids that retract least were grafted, and each graft retracts 0.75 mm more."""
    found = finding("effect_hidden_by_confounding", "retraction")
    assert found.contrast.low < 0 < found.contrast.high
    assert found.adjusted.low <= -0.75 <= found.adjusted.high
    assert found.adjusted.e_value_limit > 1
    assert found.verdict == "better with advanced"
    assert "imbalance" in warnings("effect_hidden_by_confounding")
    poor = finding("effect_hidden_by_confounding", "retraction", outcome="poor")
    assert poor.adjusted.estimate < -0.2
    assert {measure for measure, _ in better("effect_hidden_by_confounding")} <= {
        "retraction", "margin_position", "scleral_show",
    }  # fmt: skip


def test_every_way_of_looking_at_the_hidden_effect_sees_it():
    checks = finding("effect_hidden_by_confounding", "retraction").checks
    assert {"operation_clock", "without_first_twenty", "overlap_weighted"} <= {check.id for check in checks}
    assert all(check.high < 0 for check in checks if check.id != "without_first_twenty")


def test_a_real_effect_is_found_and_only_that():
    found = finding("a_real_effect", "oedema")
    assert found.verdict == "better with advanced"
    assert found.notes == ()
    # 10 % with advanced skin minus 75 % with a graft were planted.
    poor = finding("a_real_effect", "oedema", outcome="poor")
    assert poor.contrast.low <= 0.10 - 0.75 <= poor.contrast.high
    assert poor.adjusted.low <= 0.10 - 0.75 <= poor.adjusted.high
    wins = finding("a_real_effect", "oedema", outcome="value")
    assert wins.adjusted.low > 0.5
    read = better("a_real_effect")
    assert {place[0] for place in read} == {"oedema", "oedema_settled"}
    assert set(read.values()) == {"better with advanced"}
    assert {place[1] for place in read} >= {"three_months", "six_months", "one_year", 6}


def test_swelling_at_three_months_only_is_said_of_three_months_only():
    read = {window for measure, window in better("swelling_at_three_months_only") if measure == "oedema"}
    assert read == {"one_week", "six_weeks", "three_months"}
    three = finding("swelling_at_three_months_only", "oedema", "three_months")
    assert (three.family, three.adjusted.p_corrected) == ("further", None)
    assert three.q <= 0.01
    assert finding("swelling_at_three_months_only", "oedema").verdict != "better with advanced"


def test_nothing_at_150_a_cover_is_no_difference_that_matters():
    planned = {f.measure: f.verdict for f in compared("nothing_at_150_a_cover").findings if f.family == "planned"}
    assert planned["retraction"] == planned["margin_position"] == planned["oedema"] == "no difference that matters"
    assert sum(verdict == "no difference that matters" for verdict in planned.values()) >= 15
    assert set(planned.values()) <= {"no difference that matters", "cannot tell"}
    for each in compared("nothing_at_150_a_cover").findings:
        if each.verdict == "no difference that matters":
            assert -each.important_difference < each.judged.low < each.judged.high < each.important_difference


def test_good_lids_that_stay_away_in_one_cohort_withhold_the_difference():
    found = finding("trouble_returns", "retraction")
    assert excludes(found.adjusted)
    assert found.adjusted.p_corrected < 0.05
    # Three in ten of both: no difference is what is true.
    assert (found.verdict, found.withheld) == ("cannot tell", "unseen")
    drawn = found.unseen.as_other_cohort
    assert drawn.low < 0 < drawn.high
    assert found.unseen.worst_case.low < 0 < found.unseen.worst_case.high
    # Grafted was seen to be better, and hardly a grafted lid was unseen: nothing there could tip it.
    assert found.unseen.tipping_shift is None or found.unseen.tipping_shift > 5
    assert "retraction" in warnings("trouble_returns")["missing_could_reverse"]
    assert "29% advanced" in warnings("trouble_returns")["follow_up_differs"]


def test_trouble_that_returns_is_counted_as_missing_by_window():
    seen = {each.cohort: each for each in compared("trouble_returns").followed_by_window if each.window == "six_months"}
    assert seen["grafted"].seen >= 46
    assert seen["advanced"].missing >= 25


def test_a_newer_cohort_is_not_judged_beyond_its_follow_up():
    late = timed("newer_cohort", "recurrence", 60)
    assert late.contrast.estimate is None
    assert late.advanced.estimate is None
    assert late.notes == (Note("few_followed", 5, "advanced"),)
    # The counts are there, and would have fooled.
    assert late.grafted.events > late.advanced.events
    assert "median follow-up" in warnings("newer_cohort")["follow_up_differs"].lower()
    # 30 % by five years in both; by three years 1 - 0.7 to the power (3 - 0.4) / (5 - 0.4) at a constant hazard: 18 %.
    three = timed("newer_cohort", "recurrence", 36)
    assert three.grafted.low <= 0.18 <= three.grafted.high
    assert three.advanced.low <= 0.18 <= three.advanced.high
    assert three.contrast.low < 0 < three.contrast.high
    assert three.verdict == "cannot tell"


def test_a_newer_cohorts_curve_stops_where_fewer_than_five_remain():
    curves = {each.cohort: each for each in compared("newer_cohort").curves if each.event == "recurrence"}
    assert curves["advanced"].ends_at_months < 60 <= curves["grafted"].ends_at_months
    frame = event_times(series("newer_cohort"), next(t for t in PROTOCOL.timed if t.id == "recurrence"))
    months = np.sort(
        [day / (365.25 / 12) for day, cohort in frame.select("days", "cohort").iter_rows() if cohort == "advanced"]
    )
    assert curves["advanced"].ends_at_months == pytest.approx(months[-5])


def test_death_that_competes_is_not_counted_as_loss():
    frame = event_times(series("competing_death"), next(t for t in PROTOCOL.timed if t.id == "recurrence"))
    grafted = frame.filter(frame["cohort"] == "grafted")
    days, cause = grafted["days"].to_numpy(), grafted["cause"].to_numpy()
    assert (cause == 2).sum() > 10
    naive = 1 - kaplan_meier(time=days / (365.25 / 12), event=cause == 1).at(36).estimate
    told = timed("competing_death", "recurrence", 36)
    assert told.grafted.estimate < naive - 0.01
    # The same hazard in the living, 30 % by five years: the covers do not differ.
    assert told.contrast.low < 0 < told.contrast.high
    assert told.contrast.p > 0.05


def test_review_intervals_alone_are_not_read_as_a_later_onset():
    """By the day on which it was first seen, advanced skin would seem to do better; between two reviews it does not."""
    onset = next(t for t in PROTOCOL.timed if t.id == "retraction_onset")
    frame = event_intervals(series("different_review_intervals"), onset)
    left, right, latest = (frame[name].cast(float).to_numpy() for name in ("left", "right", "latest"))
    second, happened = (frame["cohort"] == "advanced").to_numpy(), np.isfinite(right)
    # With the months up to half a year, when the advanced were not looked at, the naive log-rank rejects.
    first_seen = np.where(happened, right, latest)
    until = np.minimum(first_seen, 300)
    naive = gray_test(time=until, cause=(happened & (first_seen <= 300)).astype(int), second=second)
    assert naive.p < 0.05
    ours = interval_logrank(left=left, right=right, second=second, patient=frame["patient_id"].to_numpy())
    assert ours.p > 0.05
    told = timed("different_review_intervals", "retraction_onset", 12)
    assert told.p_curve.p == pytest.approx(ours.p, abs=0.01)
    assert told.contrast.low < 0 < told.contrast.high
    assert told.verdict == "cannot tell"
    # Nobody of the advanced was seen at six months, and nothing is said of it.
    assert finding("different_review_intervals", "retraction").contrast.estimate is None
    assert {"too_few", "follow_up_differs"} <= warnings("different_review_intervals").keys()


def test_the_clock_of_operation_stands_beside_what_the_days_of_division_make():
    found = finding("different_days_of_division", "oedema", "three_months")
    assert found.judged.high < 0
    check = found.check("operation_clock")
    assert check.estimate > found.judged.estimate / 2
    since_operation = finding("different_days_of_division", "oedema", "three_months", clock="operation")
    assert (since_operation.family, since_operation.verdict) == ("exploratory", None)
    assert check.estimate == pytest.approx(since_operation.judged.estimate)
    # What is better is so for oedema early after division.
    assert {place[0] for place in better("different_days_of_division")} <= {"oedema", "oedema_settled"}


def test_two_lids_of_one_patient_do_not_count_as_two():
    found = finding("two_lids_one_patient", "retraction", outcome="poor")
    grafted, advanced = found.grafted, found.advanced
    table = [[side.events, side.n - side.events] for side in (grafted, advanced)]
    assert fisher_exact(table)[1] < 0.05
    first, second = (wilson(side.events, side.n) for side in (grafted, advanced))
    naive_high = (second.estimate - first.estimate) + np.hypot(
        second.high - second.estimate, first.estimate - first.low
    )
    assert naive_high < 0
    assert (grafted.patients, advanced.patients) == (15, 15)
    assert found.contrast.low < 0 < found.contrast.high
    assert found.contrast.permutation_p > fisher_exact(table)[1] * 3
    assert finding("two_lids_one_patient", "retraction").verdict in {"cannot tell", "no difference that matters"}
    assert "60 lids belong to 30 patients" in warnings("two_lids_one_patient")["clustered"]


def test_none_of_eighteen_still_allows_what_is_true():
    found = finding("none_of_eighteen", "ectropion", outcome="poor")
    assert (found.advanced.events, found.advanced.n) == (0, 18)
    assert found.advanced.low == 0
    assert found.advanced.high > 0.08
    assert found.contrast.low < 0 < found.contrast.high
    main = finding("none_of_eighteen", "ectropion")
    assert main.verdict == "cannot tell"
    # Eighteen lids a cover could not have shown less than this.
    assert main.could_find > 0.25


def test_blanks_are_missing_and_not_zero():
    found = finding("blanks", "notching", outcome="poor")
    assert found.advanced.missing > 15
    assert found.grafted.missing == 0
    # Half of both is true; read as zero, the blanks would have made it far less.
    assert found.advanced.low < 0.5 < found.advanced.high
    as_zero = found.advanced.events / (found.advanced.n + found.advanced.missing)
    assert as_zero - found.grafted.proportion < -0.2
    assert found.contrast.estimate == pytest.approx(found.advanced.proportion - found.grafted.proportion)
    assert found.unseen.worst_case.low < 0 < found.unseen.worst_case.high
    assert "notching" in warnings("blanks")["follow_up_differs"]


def test_suspected_recurrences_do_not_count():
    assert [
        (f.grafted.events, f.advanced.events)
        for f in compared("suspected_recurrences").timing
        if f.event == "recurrence"
    ] == [(0, 0), (2, 2), (2, 2), (2, 2)]


def test_learning_over_the_years_is_adjusted_away():
    found = finding("learning_over_the_years", "retraction")
    assert found.contrast.high < -0.1
    assert found.contrast.p < 0.01
    assert found.adjusted.low < 0 < found.adjusted.high
    assert "Calendar year of operation" in compared("learning_over_the_years").adjustment.covariates
    assert found.verdict in {"cannot tell", "no difference that matters"}
    assert "calendar year" in warnings("learning_over_the_years")["imbalance"]
    # Nor does any surgeon seem to have done better with one cover, with so many lids as there are.
    own = [each for each in compared("learning_over_the_years").surgeons if each.measure == "retraction"]
    assert len(own) == 3
    assert all(each.low < 0 < each.high for each in own)


def test_what_only_the_unmasked_assessor_sees_is_not_believed_where_masked_ones_looked():
    """At three months and a year every lid was graded by masked eyes too; at six months only the chief looked."""
    name = "only_the_unmasked_assessor_sees_it"
    three, year = (finding(name, "oedema", window) for window in ("three_months", "one_year"))
    assert three.verdict not in BETTER + MAY_BE
    assert (year.verdict, year.withheld) == ("cannot tell", "masked")
    assert "oedema of the cover at one year" in warnings(name)["masking_matters"]
    six = finding(name, "oedema")
    assert (six.verdict, six.notes) == ("better with advanced", (Note("masked_elsewhere"),))
    assert [(each.id, each.reason) for each in six.unchecked] == [("masked_only", "none_masked")]


def test_planned_one_way_and_done_another_is_told_both_ways():
    name = "planned_one_way_done_another"
    found = finding(name, "retraction")
    assert excludes(found.contrast)
    assert not excludes(found.check("as_planned"))
    assert found.verdict not in BETTER
    assert Note("check_reverses", label="as_planned") in found.notes
    assert warnings(name)["converted"].startswith("In 18 lids")
    assert compared(name).grafted.cases == 63
    # By the plan, as counted from the rows themselves: 45 each way.
    values = series(name).cases.get_column("cover_planned").to_list()
    assert (values.count("graft"), values.count("advancement")) == (45, 45)


def test_a_pedicle_never_divided_is_neither_missing_nor_good():
    found = finding("never_divided", "retraction", outcome="poor")
    assert found.advanced.not_applicable == 13
    assert found.advanced.missing == 0
    assert found.advanced.n <= 26
    assert compared("never_divided").advanced.divided == 26
    assert found.unseen.worst_case.low == pytest.approx(found.contrast.estimate)
    divided = next(step for step in compared("never_divided").flow if step.id == "divided")
    assert (divided.grafted, divided.advanced) == (39, 26)
    assert [(loss.reason, loss.lids) for loss in divided.lost] == [("undivided", 13)]
