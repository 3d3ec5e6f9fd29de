"""What is sent to another process is no more than its part needs, and gives what the whole series gives."""

import pickle

import pytest

from outcomes.cohort import value_column
from outcomes.findings.covariates import covariates
from outcomes.findings.measure_findings import drafts, drafts_of_both_clocks
from outcomes.findings.propensity import choose_covers
from outcomes.findings.time_to_event.analysis import analyses_of_timed
from outcomes.findings.time_to_event.dated_events import analyse_event
from outcomes.findings.time_to_event.interval_censored import analyse_state
from outcomes.protocol import default_protocol
from tests.rows import after, case, review, series_of, sheets


@pytest.fixture(scope="module")
def series():
    cases = [case(f"L{n:02}", ("graft", "advancement")[n % 2], surgeon=f"S{n % 3}") for n in range(24)]
    reviews = [
        review(f"L{n:02}", day, notch_mm=n % 5 / 2, retraction_mm=n % 3, masked=("yes", "no")[n % 4 > 1])
        for n in range(24)
        for day in (91, 183, 365)
    ]
    events = [
        {"case_id": f"L{n:02}", "happened_on": after(100 + n), "kind": kind}
        for n, kind in ((1, "revision"), (2, "recurrence"), (3, "death"))
    ]
    return series_of(sheets(cases, reviews, events))


def test_the_findings_of_a_part_are_those_of_the_whole(series):
    adjusting = covariates(series)
    whole = [each.finding for each in drafts(series, adjusting) if each.finding.measure == "notching"]
    part, sent = pickle.loads(pickle.dumps((series.for_measures(("notching",)), adjusting)))  # noqa: S301 - our own
    assert [each.finding for each in drafts_of_both_clocks(part, sent)[0]] == whole
    assert any(finding.contrast.estimate for finding in whole)


def test_a_part_holds_the_values_of_its_measures_and_no_characteristic(series):
    part = series.for_measures(("notching",))
    measured = [name for name in part.measured.columns if name.startswith("measure:")]
    assert (measured, part.reviews.height) == ([value_column("notching")], 0)
    assert not [name for name in part.cases.columns if name.startswith("is:")]


def test_the_timed_events_of_a_part_are_those_of_the_whole(series):
    choice = choose_covers(series, covariates(series))
    timed = default_protocol().timed
    for each, analysis in zip(timed, analyses_of_timed(series, choice), strict=True):
        analyse = analyse_event if each.origin == "events" else analyse_state
        assert pickle.loads(pickle.dumps(analysis))() == analyse(series, choice, each)  # noqa: S301 - our own


def test_characteristics_are_sent_without_what_was_chosen_of_them(series):
    """The choice would be as large again, and may be added to while it is written."""
    found = covariates(series)
    chosen = found.chosen(12)
    text = pickle.dumps(found)
    assert len(text) == len(pickle.dumps(covariates(series)))
    assert pickle.loads(text).chosen(12).used == chosen.used  # noqa: S301 - our own
