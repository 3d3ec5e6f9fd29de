"""When do masked and unmasked reviews tell two stories?"""

import math

import pytest

from outcomes.findings.masking import mask_difference, masking_tells, measures_masking_tells, with_masking
from outcomes.findings.measure_findings import POOR
from outcomes.findings.results import Contrast, Finding, Range, Share
from tests.rows import case, review, series_of, sheets

SHARE = Share(20, 0, 0, 0, 20, 10, 0.5, 0.3, 0.7)


def contrast(estimate, low, high):
    return Contrast(POOR, estimate, low, high)


def finding(masked, unmasked, measure="notching"):
    crude = contrast(-0.4, -0.6, -0.2)
    return Finding(
        measure,
        "six_months",
        "poor",
        "division",
        SHARE,
        SHARE,
        crude,
        None,
        Range(None, None),
        "too few to say",
        masked=masked,
        unmasked=unmasked,
    )


TABLE = {
    "both see the same": (contrast(-0.4, -0.6, -0.2), contrast(-0.4, -0.6, -0.2), False),
    "they differ beyond chance": (contrast(0.1, -0.1, 0.3), contrast(-0.5, -0.65, -0.3), True),
    "only the unmasked see it, the masked less than half": (
        contrast(-0.1, -0.5, 0.3),
        contrast(-0.4, -0.7, -0.05),
        True,
    ),
    "the masked see as much with too few reviews to be sure": (
        contrast(-0.35, -0.8, 0.2),
        contrast(-0.4, -0.7, -0.05),
        False,
    ),
    "the masked see it and the unmasked do not": (contrast(-0.3, -0.6, -0.02), contrast(-0.1, -0.4, 0.2), False),
    "neither sees anything": (contrast(0.0, -0.3, 0.3), contrast(0.05, -0.3, 0.3), False),
    "no masked interval": (contrast(-0.1, None, None), contrast(-0.4, -0.7, -0.05), False),
    "no masked review": (None, contrast(-0.4, -0.7, -0.05), False),
}


@pytest.mark.parametrize("masked, unmasked, tells", TABLE.values(), ids=TABLE.keys())
def test_masking_tells(masked, unmasked, tells):
    assert masking_tells(finding(masked, unmasked)) is tells


def test_the_difference_of_the_two_is_by_squaring_and_adding():
    """Distances 0.2 and 0.15 below, 0.2 and 0.2 above, to the limits that widen the difference."""
    apart = mask_difference(finding(contrast(0.1, -0.1, 0.3), contrast(-0.5, -0.65, -0.3)))
    assert apart is not None
    assert apart.estimate == pytest.approx(-0.6)
    assert apart.low == pytest.approx(-0.6 - math.hypot(0.15, 0.2))
    assert apart.high == pytest.approx(-0.6 + math.hypot(0.2, 0.2))


def test_one_window_condemns_the_measure_and_no_other_measure():
    told = finding(contrast(0.1, -0.1, 0.3), contrast(-0.5, -0.65, -0.3), "oedema")
    assert measures_masking_tells([told, finding(None, None, "oedema"), finding(None, None)]) == {"oedema"}


def graded_twice():
    """Six lids a cover, each graded by the surgeon and by a masked grader, who disagree about advanced skin."""
    cases = [case(f"G{n}") for n in range(6)] + [case(f"A{n}", "advancement") for n in range(6)]
    reviews = []
    for each in cases:
        name = each["case_id"]
        reviews.append(review(name, 180, notch_mm=2 if name[0] == "G" else 0))
        reviews.append(review(name, 180, notch_mm=2, assessor="PL", masked="yes", mode="photograph"))
    return sheets(cases, reviews)


def test_each_finding_gets_the_contrast_of_its_masked_and_of_its_unmasked_reviews():
    series = series_of(graded_twice(), measures=("notching",), windows=("six_months", "one_year"))
    (told,) = with_masking(series, [finding(None, None)])
    assert (told.masked.estimate, told.unmasked.estimate) == (0.0, -1.0)
    assert masking_tells(told)


def test_without_masked_reviews_a_finding_stays_as_it_is():
    rows = graded_twice()
    rows["reviews"] = [each for each in rows["reviews"] if each["masked"] == "no"]
    series = series_of(rows, measures=("notching",), windows=("six_months",))
    (told,) = with_masking(series, [finding(None, None)])
    assert told.masked is None
    assert told.unmasked is None
