"""What the rule is given of each finding: its smaller cohort, which way is worse, who was reviewed, what the masked saw."""

from __future__ import annotations

from dataclasses import replace

import pytest

from outcomes.findings.decision_rule import Evidence, read
from outcomes.findings.families import is_main_result, is_primary, reviewed_apart, with_readings
from outcomes.findings.results import Adjusted, Contrast, Finding, Range, Share, Values
from outcomes.protocol import default_protocol
from tests.findings.lids import unadjusted
from tests.rows import case, series_of, sheets

pytestmark = pytest.mark.quick

PROTOCOL = default_protocol()
SERIES = series_of(sheets([case("A")]))
BELOW = Contrast("difference", -0.4, -0.6, -0.2, p=0.001, p_adjusted=0.02)
TOO_FEW = PROTOCOL.rules.too_few_lids


def share(n, missing=0):
    return Share(n, missing, 0, 0, n, 0, 0.0, 0.0, 0.0)


def values(n):
    return Values(n, 0, 0, 0, n, 1.0, 0.5, 1.5, ((1.0, n),))


def finding(**changes):
    made = Finding(
        "notching",
        "six_months",
        "poor",
        "division",
        share(20),
        share(20),
        BELOW,
        None,
        Range(-0.5, -0.1),
        "too few to say",
    )
    return replace(made, **changes)


def reading(found, *, masking=frozenset(), choice=None):
    [done] = with_readings(SERIES, choice or unadjusted(), [found], masking)
    return done.reading


def test_a_sound_difference_is_read():
    assert reading(finding()) == "better with advanced"


@pytest.mark.parametrize("side", ["grafted", "advanced"])
@pytest.mark.parametrize("n,few", [(TOO_FEW - 1, True), (TOO_FEW, False)])
def test_the_smaller_cohort_decides_whether_there_are_too_few(side, n, few):
    assert (reading(finding(**{side: share(n)})) == "too few to say") is few


def test_which_way_is_worse_is_that_of_the_measure_and_of_a_poor_result_always_more():
    lower = next(measure for measure in PROTOCOL.measures if measure.worse != "higher")
    higher = next(measure for measure in PROTOCOL.measures if measure.worse == "higher")
    as_value = {"outcome": "value", "grafted": values(20), "advanced": values(20)}
    assert reading(finding(measure=lower.id)) == "better with advanced"
    assert reading(finding(measure=lower.id, **as_value)) == "better with graft"
    assert reading(finding(measure=higher.id, **as_value)) == "better with advanced"


def test_masking_is_held_against_its_own_measure_only():
    assert reading(finding(), masking=frozenset({"notching"})) == "no clear difference"
    assert reading(finding(), masking=frozenset({"oedema"})) == "better with advanced"


def test_covers_that_were_never_a_choice_let_nothing_be_read():
    adjustment = replace(unadjusted().adjustment, covariates=("Defect height",))
    no_overlap = replace(unadjusted(), adjustment=adjustment)
    assert (unadjusted().no_overlap, no_overlap.no_overlap) == (False, True)
    assert reading(finding(), choice=no_overlap) == "no clear difference"


def test_the_missing_count_where_the_shares_reviewed_lie_apart_and_only_there():
    reversible = {"if_missing": Range(-0.5, 0.1)}
    assert reading(finding(**reversible)) == "better with advanced"
    assert reading(finding(advanced=share(20, 10), **reversible)) == "no clear difference"


def test_the_contrast_by_the_planned_cover_counts():
    assert reading(finding(as_planned=replace(BELOW, low=-0.6, high=0.1))) == "no clear difference"
    assert reading(finding(as_planned=BELOW)) == "better with advanced"


@pytest.mark.parametrize("p,read_as", [(0.05, "better with advanced"), (0.0500001, "no clear difference")])
def test_the_corrected_p_may_be_five_percent_and_not_more(p, read_as):
    assert reading(finding(contrast=replace(BELOW, p_adjusted=p))) == read_as


def test_an_adjusted_contrast_the_other_way_counts():
    turned = Adjusted("weighted", 0.3, 0.1, 0.5, 18.0, 19.0)
    assert reading(finding(adjusted=turned)) == "no clear difference"
    assert reading(finding(adjusted=replace(turned, estimate=-0.3, low=-0.5, high=-0.1))) == "better with advanced"


EVIDENCE = Evidence(
    BELOW, None, Range(-0.5, -0.1), fewest=20, too_few=5, more_is_worse=True, reviewed_apart=False, no_overlap=False
)


def test_a_difference_that_the_missing_could_reverse_is_said_to_be():
    assert read(replace(EVIDENCE, if_missing=Range(-0.5, 0.0)))[1] == (
        "the lids that were not measured could reverse it",
    )
    assert read(replace(EVIDENCE, if_missing=Range(None, None))) == ("better with advanced", ())
    assert read(replace(EVIDENCE, if_missing=Range(-0.5, None))) == ("better with advanced", ())


def test_too_few_says_why_and_a_difference_that_cannot_be_estimated_does_not():
    assert read(replace(EVIDENCE, fewest=4)) == ("too few to say", ("fewer than 5 lids in a cohort",))
    assert read(replace(EVIDENCE, fewest=5))[0] == "better with advanced"
    for fewest in (5, 20):
        unknown = replace(EVIDENCE, fewest=fewest, contrast=Contrast("difference", None, None, None))
        assert read(unknown) == ("too few to say", ())


def test_a_difference_that_the_choice_of_cover_may_be_hiding_is_said():
    hidden = replace(EVIDENCE, contrast=replace(BELOW, high=0.1))
    assert read(hidden) == ("no clear difference", ("the interval includes no difference",))
    weighted = Adjusted("weighted", -0.3, -0.5, -0.1, 18.0, 19.0)
    assert len(read(replace(hidden, adjusted=weighted))[1]) == 2
    assert len(read(replace(hidden, adjusted=replace(weighted, high=0.1)))[1]) == 1


def test_every_doubt_is_told_in_the_order_of_the_rule():
    doubtful = replace(
        EVIDENCE,
        contrast=replace(BELOW, p_adjusted=0.2),
        no_overlap=True,
        reviewed_apart=True,
        if_missing=Range(-0.5, 0.1),
        as_planned=replace(BELOW, high=0.1),
        masking_tells=True,
    )
    read_as, reasons = read(doubtful)
    assert (read_as, len(reasons)) == ("no clear difference", 5)


# Main results.


def test_a_main_result_is_the_share_where_there_is_a_rule_and_else_the_value():
    ruled, bare = (
        next(
            (measure, window)
            for measure in PROTOCOL.main_measures
            for window in PROTOCOL.windows
            if PROTOCOL.judges(measure, window) is judged
        )
        for judged in (True, False)
    )
    for (measure, window), outcome in ((ruled, "poor"), (bare, "value")):
        other = "value" if outcome == "poor" else "poor"
        assert is_main_result(PROTOCOL, measure.id, window.id, outcome)
        assert not is_main_result(PROTOCOL, measure.id, window.id, other)


def test_a_further_measure_has_no_main_result():
    further = next(measure for measure in PROTOCOL.measures if not measure.main)
    assert not any(is_main_result(PROTOCOL, further.id, PROTOCOL.primary_window, each) for each in ("poor", "value"))


def test_only_the_primary_window_has_primary_results():
    primary = [
        (measure.id, window.id)
        for measure in PROTOCOL.measures
        for window in PROTOCOL.windows
        for outcome in ("poor", "value")
        if is_primary(PROTOCOL, measure.id, window.id, outcome)
    ]
    assert primary == [(measure.id, PROTOCOL.primary_window) for measure in PROTOCOL.main_measures]


@pytest.mark.parametrize("missing,apart", [(10, False), (11, True)])
def test_ten_points_apart_are_allowed_and_more_are_not(missing, apart):
    found = finding(grafted=share(100), advanced=share(100 - missing, missing))
    assert reviewed_apart(found, 10) is apart
