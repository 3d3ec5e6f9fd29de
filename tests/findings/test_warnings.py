"""Each warning is given when it must be, and only then."""

from dataclasses import replace
from functools import cache

import pytest

from outcomes.findings import compare, stamp
from outcomes.findings.balance import balance
from outcomes.findings.covariates import covariates
from outcomes.findings.propensity import choose_covers
from outcomes.findings.results import Check, Contrast, Finding, Group, Range, Share, Unseen
from outcomes.findings.warnings import cautions
from outcomes.protocol import read_protocol
from outcomes.report.warning_words import caution_words
from tests.findings.test_invariance import FEW
from tests.rows import series_of, sheets
from tests.whole.planted.edges import both, seen, varied

PROTOCOL = read_protocol(FEW)
GROUP = Group(20, 20, 20, 12.0, 10.0, 14.0, 0.9)


def series_with(lids, reviews=None):
    return series_of(sheets(lids, seen(lids, varied) if reviews is None else reviews), protocol=PROTOCOL)


@cache
def plain():
    """Ten lids a cover, alike, all reviewed by one person."""
    return series_with(both(10))


def told(series=None, findings=(), groups=(GROUP, GROUP)):
    one = series or plain()
    choice = choose_covers(one, covariates(one))
    return {
        each.code: caution_words(each) for each in cautions(one, choice, balance(one, choice), tuple(findings), groups)
    }


def share(n, missing=0):
    return Share(n, missing, 0, 0, n, n // 2, 0.5, 0.3, 0.7)


def finding(grafted=None, advanced=None, **changes):
    contrast = Contrast("difference of proportions", -0.3, -0.5, -0.1, p=0.01)
    made = Finding(
        "notching", "six_months", "main", "division", grafted or share(20), advanced or share(20), contrast, None,
        verdict="better with advanced", family="planned", unseen=Unseen(Range(-0.4, -0.2)),
    )  # fmt: skip
    return replace(made, **changes)


@pytest.mark.parametrize("grafted, advanced, warned", [(5, 5, False), (4, 20, True), (20, 4, True), (0, 0, True)])
def test_too_few(grafted, advanced, warned):
    found = told(findings=[finding(share(grafted), share(advanced))])
    assert ("too_few" in found) is warned


def test_too_few_asks_only_of_the_planned_findings():
    assert "too_few" not in told(findings=[finding(share(2), share(2), family="exploratory")])


@pytest.mark.parametrize("missing, warned", [(2, False), (3, True)])
def test_follow_up_differs_by_more_than_ten_points(missing, warned):
    """18 of 20 are ten points below all of 20, and 17 of 20 fifteen."""
    found = told(findings=[finding(share(20 - missing, missing), share(20))])
    assert ("follow_up_differs" in found) is warned


@pytest.mark.parametrize("changes, warned", [
    ({"median_followup_months": 30.0, "followup_low": 25.0, "followup_high": 35.0}, True),
    ({"median_followup_months": 30.0, "followup_low": 13.0, "followup_high": 35.0}, True),  # 12 is less than two thirds of 30
    ({"median_followup_months": 18.0, "followup_low": 13.0, "followup_high": 35.0}, False),
    ({"median_followup_months": 18.1, "followup_low": 13.0, "followup_high": 35.0}, True),
    ({"median_followup_months": 30.0, "followup_low": 25.0, "followup_high": None}, True),
    ({"median_followup_months": None, "followup_low": None, "followup_high": None}, False),
    ({"followup_completeness": 0.75}, True),
    ({"followup_completeness": 0.82}, False),
])  # fmt: skip
def test_follow_up_differs_in_length_or_completeness(changes, warned):
    assert ("follow_up_differs" in told(groups=(GROUP, replace(GROUP, **changes)))) is warned


@pytest.mark.parametrize("bounds, contrast, warned", [
    (Range(-0.4, -0.2), (-0.5, -0.1), False),
    (Range(-0.4, 0.1), (-0.5, -0.1), True),
    (Range(0.1, 0.4), (-0.5, -0.1), True),
    (Range(None, None), (-0.5, -0.1), True),
    (Range(-0.4, 0.1), (-0.5, 0.1), False),
])  # fmt: skip
def test_missing_could_reverse_what_an_interval_shows(bounds, contrast, warned):
    one = finding()
    one = replace(one, unseen=Unseen(bounds), contrast=replace(one.contrast, low=contrast[0], high=contrast[1]))
    assert ("missing_could_reverse" in told(findings=[one])) is warned


@pytest.mark.parametrize("main, other, warned", [
    ((-0.3, -0.5, -0.1), (-0.3, -0.5, -0.1), False),
    ((-0.3, -0.5, -0.1), (-0.1, -0.3, 0.1), True),  # excluded by one clock only, with less than half on the other
    ((-0.3, -0.5, -0.1), (-0.25, -0.5, 0.1), False),  # but about as much
    ((-0.1, -0.3, 0.1), (-0.3, -0.5, -0.1), True),
    ((-0.3, -0.5, -0.1), (None, None, None), False),
])  # fmt: skip
def test_clock_matters(main, other, warned):
    one = finding(contrast=Contrast("difference of proportions", *main), checks=(Check("operation_clock", *other),))
    assert ("clock_matters" in told(findings=[one])) is warned


def test_masking_matters_names_measure_and_window():
    assert "notching at six months" in told(findings=[finding(withheld="masked")])["masking_matters"]
    assert "masking_matters" not in told(findings=[finding()])


def test_alike_cohorts_are_not_warned_of():
    found = told()
    assert "imbalance" not in found
    assert "clustered" not in found
    assert "converted" not in found
    assert "no_overlap" not in found


def test_imbalance_names_what_differs_and_never_what_follows_from_the_cover():
    lids = [
        {**each, "distraction_mm": each["distraction_mm"] + (4 if each["cover"] == "graft" else 0)} for each in both(10)
    ]
    late = [{**each, "division_planned_on": None} for each in lids]
    found = told(series_with(late))
    assert "distraction" in found["imbalance"]
    assert "division" not in found["imbalance"]


@pytest.mark.parametrize("masked, warned", [(50, True), (51, False)])
def test_one_assessor_who_was_not_masked_made_half_of_the_reviews(masked, warned):
    """Reviews by another, or by the same person masked, are not those of an unmasked single assessor."""
    lids = both(10)
    reviews = seen(lids, varied)
    assert len(reviews) == 100
    by_another = [{**row, "assessor": "PL" if place < 20 else "KM"} for place, row in enumerate(reviews)]
    some = [{**row, "masked": "yes" if place < masked else None} for place, row in enumerate(by_another)]
    assert ("single_assessor" in told(series_with(lids, some))) is warned


@pytest.mark.parametrize("others, warned", [(50, True), (51, False)])
def test_two_assessors_share_the_reviews(others, warned):
    lids = both(10)
    reviews = [
        {**row, "assessor": f"P{place}" if place < others else "KM"} for place, row in enumerate(seen(lids, varied))
    ]
    assert ("single_assessor" in told(series_with(lids, reviews))) is warned


def test_clustered_counts_lids_and_patients():
    lids = both(10)
    lids[2]["patient_id"] = lids[0]["patient_id"]
    assert told(series_with(lids))["clustered"].startswith("20 lids belong to 19 patients")


def test_converted_counts_the_lids_whose_plan_was_changed():
    lids = [{**each, "cover_planned": each["cover"]} for each in both(10)]
    lids[0]["cover_planned"] = "advancement"
    lids[1]["cover_planned"] = "transposition"
    lids[2]["cover_planned"] = None
    assert told(series_with(lids))["converted"].startswith("In 2 lids")


def test_warnings_of_a_comparison_are_each_given_once():
    one = plain()
    found = compare(one, stamp(one, digest="0" * 64, frozen="", software="outcomes"))
    codes = [each.code for each in found.warnings]
    assert len(codes) == len(set(codes))
    # Lash loss was not recorded.
    assert codes == ["too_few", "single_assessor"]
