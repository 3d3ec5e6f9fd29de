"""Registers with next to nothing in them: the comparison finishes, and says what it cannot estimate and why."""

from dataclasses import replace
from datetime import date
from functools import cache

import pytest

from outcomes.errors import WrongUsage
from outcomes.findings import compare, stamp
from outcomes.findings.results import Fact, LeftOut, Note, Range
from outcomes.protocol import default_protocol
from outcomes.report import document_text
from tests.findings.nulls import unexplained
from tests.rows import series_of
from tests.whole.planted import edges
from tests.whole.planted.edges import EDGES

pytestmark = pytest.mark.slow

PROTOCOL = default_protocol()
NAMES = [edge.__name__ for edge in EDGES]


@cache
def compared(name):
    series = series_of(getattr(edges, name)())
    return compare(series, stamp(series, digest="0" * 64, frozen="", software="outcomes"))


def codes(name):
    return {warning.code for warning in compared(name).warnings}


@pytest.mark.parametrize("name", NAMES)
def test_the_comparison_finishes_and_nothing_is_better(name):
    found = compared(name)
    verdicts = {each.verdict for each in (*found.findings, *found.timing)}
    assert verdicts <= {None, "cannot tell", "too few to say", "no difference that matters"}
    assert document_text(found).endswith("}\n")


@pytest.mark.parametrize("name", NAMES)
def test_every_number_that_is_null_has_a_note(name):
    assert unexplained(compared(name)) == []


@pytest.mark.parametrize("name", NAMES)
def test_every_lid_is_accounted_for_in_every_finding(name):
    found = compared(name)
    for each in found.findings:
        for side, cohort in ((each.grafted, found.grafted), (each.advanced, found.advanced)):
            assert side.n + side.missing + side.not_due + side.not_applicable == cohort.cases


@pytest.mark.parametrize(
    "selection",
    [
        {"windows": ("one_week",)},
        {"measures": ("satisfaction",)},
        {"operated_from": date(2026, 1, 1)},
        {"diagnoses": ("melanoma",)},
    ],
)
def test_a_selection_that_leaves_little_or_nobody_finishes(selection):
    series = series_of(edges.two_cases_each(), **selection)
    found = compare(series, stamp(series, digest="0" * 64, frozen="", software="outcomes"))
    assert unexplained(found) == []
    assert found.stamp.selection


def test_a_selection_of_what_does_not_exist_is_wrong_usage():
    with pytest.raises(WrongUsage, match=r"(?i)did you mean"):
        series_of(edges.two_cases_each(), measures=("retractoin",))


def test_one_cohort_empty():
    found = compared("one_cohort_empty")
    assert (found.grafted.cases, found.advanced.cases) == (12, 0)
    assert found.adjustment.why_not == "one_cohort_empty"
    assert "no_overlap" not in codes("one_cohort_empty")
    assert all(each.contrast.estimate is None for each in found.findings)
    six = next(each for each in found.findings if each.measure == "notching" and each.window == "six_months")
    assert six.grafted.n == 12
    assert six.notes[0] == Note("not_recorded", label="advanced")


def test_no_lid_at_all_is_warned_of():
    assert codes("no_cases") == {"too_few"}


def test_one_case_each_is_too_few():
    assert {each.verdict for each in compared("one_case_each").findings} == {None, "too few to say"}
    assert "too_few" in codes("one_case_each")


def test_all_events_have_limits_below_one_and_no_event_above_zero():
    for name, share in (("all_events", 1.0), ("no_events", 0.0)):
        six = next(
            each
            for each in compared(name).findings
            if (each.measure, each.window, each.outcome) == ("notching", "six_months", "poor")
        )
        assert six.grafted.proportion == six.advanced.proportion == share
        assert six.grafted.low < six.grafted.high
        assert six.contrast.low < 0 < six.contrast.high
        assert six.contrast.p == six.contrast.permutation_p == 1


def test_a_measure_nobody_recorded_is_there_with_a_note_and_its_missing():
    six = next(
        each
        for each in compared("a_measure_nobody_recorded").findings
        if (each.measure, each.window, each.outcome) == ("retraction", "six_months", "poor")
    )
    assert (six.grafted.n, six.grafted.missing) == (0, 10)
    assert six.notes == (Note("not_recorded", label="grafted and advanced"),)
    assert six.unseen.worst_case == Range(-1.0, 1.0)


@pytest.mark.parametrize(
    "name, label",
    [
        ("a_constant_covariate", "Distraction (laxity)"),
        ("a_constant_covariate", "Calendar year of operation"),
        ("a_covariate_wholly_missing", "Distraction (laxity)"),
        ("a_covariate_wholly_missing", "Age at operation"),
    ],
)
def test_a_covariate_that_tells_nothing_is_left_out_and_said(name, label):
    adjustment = compared(name).adjustment
    assert LeftOut(label, "not_recorded") in adjustment.left_out
    assert adjustment.estimable


def test_nothing_recorded_before_leaves_figures_unadjusted_and_says_so():
    found = compared("nothing_recorded_before")
    assert found.adjustment.why_not == "nothing_recorded"
    six = next(each for each in found.findings if each.measure == "notching" and each.window == "six_months")
    assert six.adjusted is None
    assert Note("not_adjusted") in six.notes


def poor_notching(found):
    place = ("notching", "six_months", "poor")
    return next(each for each in found.findings if (each.measure, each.window, each.outcome) == place)


def test_everybody_lost_is_missing_and_bounded_by_everything():
    found = compared("everybody_lost")
    six = poor_notching(found)
    assert (six.grafted.n, six.grafted.missing) == (0, 10)
    assert six.unseen.worst_case == Range(-1.0, 1.0)
    assert found.grafted.reviews == 0


def test_nobody_divided_is_not_applicable():
    found = compared("nobody_divided")
    six = poor_notching(found)
    assert (six.grafted.n, six.grafted.missing, six.grafted.not_applicable) == (0, 0, 10)
    assert six.unseen.worst_case.low is None
    assert (found.grafted.divided, found.grafted.median_followup_months) == (0, None)


def test_separate_covers_are_said_not_to_overlap():
    found = compared("separate_covers")
    assert "no_overlap" in codes("separate_covers")
    assert all(each.adjusted is None for each in found.findings)
    assert all(line.smd_adjusted is None for line in found.balance)


def main_notching(name, window="six_months"):
    place = ("notching", window, "main", "division")
    return next(f for f in compared(name).findings if (f.measure, f.window, f.outcome, f.clock) == place)


def test_a_surgeon_who_is_the_cover_leaves_nothing_to_be_told_apart():
    found = main_notching("surgeon_is_cover")
    assert found.contrast.high < -1
    assert (found.adjusted, found.verdict, found.withheld) == (None, "cannot tell", "no_overlap")
    (warned,) = [each for each in compared("surgeon_is_cover").warnings if each.code == "no_overlap"]
    assert warned.facts == (Fact("surgeon_is_cover"),)


def test_one_patient_with_all_lids_of_a_cohort_bears_no_interval():
    found = main_notching("one_patient_with_all_lids")
    assert (found.contrast.low, found.verdict) == (None, "too few to say")
    assert Note("no_interval") in found.notes


def test_a_cohort_that_nobody_saw_is_too_few():
    found = main_notching("one_cohort_unseen")
    assert (found.grafted.n, found.advanced.n, found.advanced.missing) == (12, 0, 12)
    assert (found.contrast.estimate, found.verdict) == (None, "too few to say")
    assert Note("not_recorded", label="advanced") in found.notes


def test_values_that_are_all_equal_are_no_certainty():
    """The standard error is that of one lid of each cohort a step of half a millimetre away."""
    found = main_notching("all_values_equal")
    assert found.contrast.estimate == pytest.approx(0, abs=1e-12)
    assert found.contrast.high > 0.05
    assert found.verdict == "no difference that matters"


def test_one_event_makes_no_difference():
    place = ("entropion", "six_months", "main")
    found = next(f for f in compared("one_event").findings if (f.measure, f.window, f.outcome) == place)
    assert (found.grafted.events, found.advanced.events) == (0, 1)
    assert found.judged.low < 0 < found.judged.high
    assert found.adjusted.e_value is None
    assert found.verdict == "cannot tell"


def test_without_important_differences_nothing_is_said_not_to_matter():
    bare = replace(PROTOCOL, measures=tuple(replace(each, important_difference=None) for each in PROTOCOL.measures))
    series = series_of(edges.all_values_equal(), protocol=bare)
    found = compare(series, stamp(series, digest="0" * 64, frozen="", software="outcomes"))
    planned = [each for each in found.findings if each.family == "planned"]
    assert {each.verdict for each in planned} <= {"cannot tell", "too few to say"}
    told = [each for each in planned if each.verdict == "cannot tell"]
    assert told
    assert all(Note("no_important_difference") in each.notes for each in told)


def test_the_same_register_gives_the_same_text():
    texts = set()
    for _ in range(2):
        series = series_of(edges.two_cases_each())
        texts.add(document_text(compare(series, stamp(series, digest="0" * 64, frozen="", software="outcomes"))))
    assert len(texts) == 1
