"""Does the comparison read each planted register as its truth deserves?

Each register holds one hazard that would fool a hasty reader, and its docstring says what is true. Where a naive method
is shown to be fooled, that method is somebody else's: Fisher's test and the rank tests of SciPy, or plain arithmetic.
"""

from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import pytest
from scipy.stats import fisher_exact

from outcomes.cohort import Selection, event_intervals, event_times
from outcomes.findings import case_series, compare, stamp
from outcomes.findings.estimable import excludes_none
from outcomes.protocol import default_protocol
from outcomes.statistics.gray import gray_test
from outcomes.statistics.interval_logrank import interval_logrank
from outcomes.statistics.kaplan_meier import kaplan_meier
from outcomes.statistics.proportion import wilson
from tests.rows import RowRegister
from tests.whole.planted import registers

pytestmark = pytest.mark.slow

CLOSING = date(2026, 6, 30)
DEFAULT = default_protocol()
PROTOCOL = replace(DEFAULT, rules=replace(DEFAULT.rules, resamples=400))
"""The shipped protocol, with fewer resamples: they move an adjusted limit by half a millimetre at most."""
NAMES = tuple(hazard.__name__ for hazard in registers.HAZARDS)


@cache
def series(name):
    return case_series(RowRegister(getattr(registers, name)(), PROTOCOL), PROTOCOL, Selection(CLOSING))


@cache
def compared(name):
    one = series(name)
    return compare(one, stamp(one, digest="0" * 64, frozen="", software="outcomes"))


def finding(name, measure, window="six_months", outcome="poor", clock="division"):
    place = (measure, window, outcome, clock)
    return next(f for f in compared(name).findings if (f.measure, f.window, f.outcome, f.clock) == place)


def timed(name, event, months):
    return next(f for f in compared(name).timing if (f.event, f.at_months) == (event, months))


def warnings(name):
    return {each.code: each.text for each in compared(name).warnings}


def better(name):
    """Every finding and timed finding of a comparison that is read as better with either cover."""
    lids = {(f.measure, f.window, f.outcome, f.clock): f.reading for f in compared(name).findings}
    times = {(f.event, f.at_months): f.reading for f in compared(name).timing}
    return {place: reading for place, reading in (lids | times).items() if reading.startswith("better")}


def excludes(part):
    return part is not None and excludes_none(part.low, part.high)


@pytest.mark.parametrize(
    "name", [name for name in NAMES if name not in {"a_real_effect", "different_days_of_division"}]
)
def test_where_the_cover_does_nothing_or_it_cannot_be_seen_nothing_reads_as_better(name):
    assert better(name) == {}


def test_confounding_alone_is_not_read_as_an_effect():
    found = finding("effect_by_confounding_alone", "retraction")
    assert found.contrast.high < -0.1
    assert found.contrast.p_adjusted < 0.01
    assert found.adjusted.low < 0 < found.adjusted.high
    assert abs(found.adjusted.estimate) < 0.1
    assert found.reading == "no clear difference"
    assert found.reasons == ("it does not survive the adjustment for how the covers were chosen",)
    assert "laxity" in warnings("effect_by_confounding_alone")["imbalance"]


def test_confounding_alone_leaves_balance_in_what_was_adjusted_for():
    lines = [line for line in compared("effect_by_confounding_alone").balance if line.field == "distraction"]
    assert abs(lines[0].smd) > 0.5
    assert abs(lines[0].smd_adjusted) < 0.05


def test_an_effect_hidden_by_confounding_is_told_as_hidden():
    found = finding("effect_hidden_by_confounding", "retraction")
    assert found.contrast.low < 0 < found.contrast.high
    assert found.adjusted.high < 0
    assert found.adjusted.e_value_limit > 1
    assert found.reading == "no clear difference"
    assert any("may be hiding" in reason for reason in found.reasons)
    assert "imbalance" in warnings("effect_hidden_by_confounding")
    shift = finding("effect_hidden_by_confounding", "margin_position", outcome="value").adjusted
    assert shift.low <= -0.75 <= shift.high


def test_a_real_effect_is_found_and_only_that():
    found = finding("a_real_effect", "oedema")
    assert found.reading == "better with advanced"
    assert found.reasons == ()
    # 10 % with advanced skin minus 75 % with a graft were planted.
    assert found.contrast.low <= 0.10 - 0.75 <= found.contrast.high
    assert found.adjusted.low <= 0.10 - 0.75 <= found.adjusted.high
    read = better("a_real_effect")
    assert {place[0] for place in read} == {"oedema", "oedema_settled"}
    assert set(read.values()) == {"better with advanced"}
    assert {place[1] for place in read} >= {"three_months", "six_months", "one_year", 6}


def test_trouble_that_returns_is_bounded_by_the_comfort_that_stayed_away():
    found = finding("trouble_returns", "retraction")
    assert found.contrast.low > 0.3
    assert found.contrast.p_adjusted < 0.001
    assert excludes(found.adjusted)
    # Three in ten of both: no difference is what is true, and the bounds hold it.
    assert found.if_missing.low < 0 < found.if_missing.high
    assert found.reading == "no clear difference"
    assert found.reasons == ("the lids that were not measured could reverse it",)
    assert not excludes(found.last_known)
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
    assert late.note == "fewer than 5 advanced lids were followed for 60 months, or until it was known"
    assert late.reading == "too few to say"
    # The counts are there, and would have fooled: 12 recurrences against 9.
    assert late.grafted.events > late.advanced.events
    assert "median follow-up" in warnings("newer_cohort")["follow_up_differs"]
    # 30 % by five years in both; by three years 1 - 0.7 to the power (3 - 0.4) / (5 - 0.4) at a constant hazard: 18 %.
    three = timed("newer_cohort", "recurrence", 36)
    assert three.grafted.low <= 0.18 <= three.grafted.high
    assert three.advanced.low <= 0.18 <= three.advanced.high
    assert three.contrast.low < 0 < three.contrast.high


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
    assert ours.permutation.p > 0.05
    assert ours.p > 0.05
    told = timed("different_review_intervals", "retraction_onset", 12)
    assert told.contrast.p == pytest.approx(ours.p, abs=0.01)
    assert told.contrast.low < 0 < told.contrast.high
    assert told.reading == "no clear difference"
    # Nobody of the advanced was seen at six months, and nothing is said of it.
    assert finding("different_review_intervals", "retraction").contrast.estimate is None
    assert {"too_few", "follow_up_differs"} <= warnings("different_review_intervals").keys()


def test_the_clock_is_warned_of_where_days_of_division_make_the_difference():
    division = finding("different_days_of_division", "oedema", "three_months")
    operation = finding("different_days_of_division", "oedema", "three_months", clock="operation")
    assert division.contrast.high < 0
    assert operation.contrast.estimate > -0.05
    assert division.since_operation == operation.contrast
    assert "oedema of the cover at three months" in warnings("different_days_of_division")["clock_matters"]
    # What reads as better does so for oedema early after division, where the warning stands.
    assert {place[0] for place in better("different_days_of_division")} <= {"oedema", "oedema_settled"}
    for place in better("different_days_of_division"):
        label = PROTOCOL.window(place[1]).label
        assert label in warnings("different_days_of_division")["clock_matters"]


def test_two_lids_of_one_patient_do_not_count_as_two():
    found = finding("two_lids_one_patient", "retraction")
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
    assert found.contrast.p > fisher_exact(table)[1] * 3
    assert found.reading == "no clear difference"
    assert "60 lids belong to 30 patients" in warnings("two_lids_one_patient")["clustered"]


def test_none_of_eighteen_still_allows_what_is_true():
    found = finding("none_of_eighteen", "ectropion")
    assert (found.advanced.events, found.advanced.n) == (0, 18)
    assert found.advanced.low == 0
    assert found.advanced.high > 0.08
    assert found.contrast.low < 0 < found.contrast.high
    assert found.reading == "no clear difference"
    # Eighteen lids a cover could not have shown less than this.
    assert found.detectable > 0.25


def test_blanks_are_missing_and_not_zero():
    found = finding("blanks", "notching")
    assert found.advanced.missing > 15
    assert found.grafted.missing == 0
    # Half of both is true; read as zero, the blanks would have made it far less.
    assert found.advanced.low < 0.5 < found.advanced.high
    as_zero = found.advanced.events / (found.advanced.n + found.advanced.missing)
    assert as_zero - found.grafted.proportion < -0.2
    assert found.contrast.estimate == pytest.approx(found.advanced.proportion - found.grafted.proportion)
    assert found.if_missing.low < 0 < found.if_missing.high
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
    assert found.contrast.p_adjusted < 0.01
    assert found.adjusted.low < 0 < found.adjusted.high
    assert "Calendar year of operation" in compared("learning_over_the_years").adjustment.covariates
    assert found.reading == "no clear difference"
    assert "calendar year" in warnings("learning_over_the_years")["imbalance"]


def test_what_only_the_unmasked_assessor_sees_is_not_believed():
    name = "only_the_unmasked_assessor_sees_it"
    three, six = (finding(name, "oedema", window) for window in ("three_months", "six_months"))
    assert excludes(six.contrast)
    assert six.contrast.p_adjusted < 0.001
    assert excludes(six.adjusted)
    assert excludes(three.unmasked)
    assert not excludes(three.masked)
    assert {"assessors who did not know the cover saw another difference"} == set(six.reasons)
    assert {f.reading for f in compared(name).findings if f.measure == "oedema"} <= {
        "no clear difference",
        "too few to say",
    }
    assert {f.reading for f in compared(name).timing if f.event == "oedema_settled"} <= {
        "no clear difference",
        "too few to say",
    }
    assert "oedema" in warnings(name)["masking_matters"]
    # The clock has nothing to do with it, and is not blamed for a reading that masking took away.
    assert "six months" not in warnings(name).get("clock_matters", "")


def test_planned_one_way_and_done_another_is_told_both_ways():
    name = "planned_one_way_done_another"
    found = finding(name, "retraction")
    assert excludes(found.contrast)
    assert excludes(found.adjusted)
    assert not excludes(found.as_planned)
    assert "by the cover that was planned it is not there" in found.reasons
    assert warnings(name)["converted"].startswith("In 18 lids")
    assert compared(name).grafted.cases == 63
    # By the plan, as counted from the rows themselves: 45 each way.
    values = series(name).cases.get_column("cover_planned").to_list()
    assert (values.count("graft"), values.count("advancement")) == (45, 45)


def test_a_pedicle_never_divided_is_neither_missing_nor_good():
    found = finding("never_divided", "retraction")
    assert found.advanced.not_applicable == 13
    assert found.advanced.missing == 0
    assert found.advanced.n <= 26
    assert compared("never_divided").advanced.divided == 26
    assert found.if_missing.low == pytest.approx(found.contrast.estimate)
    divided = next(step for step in compared("never_divided").flow if step.id == "divided")
    assert (divided.grafted, divided.advanced) == (39, 26)
    assert [(loss.reason, loss.lids) for loss in divided.lost] == [("undivided", 13)]
