"""Does each condition of the rule, alone, keep a difference from being read as better with either cover?"""

from dataclasses import replace

import pytest

from outcomes.findings.decision_rule import Evidence, read
from outcomes.findings.results import Adjusted, Contrast, Range

BELOW = Contrast("difference of proportions", -0.4, -0.6, -0.2, p=0.001, p_adjusted=0.02)
ADJUSTED = Adjusted("overlap-weighted difference of proportions", -0.35, -0.55, -0.1, 18.0, 19.0)
SOUND = Evidence(
    BELOW,
    ADJUSTED,
    Range(-0.5, -0.1),
    fewest=20,
    too_few=5,
    more_is_worse=True,
    reviewed_apart=True,
    no_overlap=False,
    as_planned=replace(BELOW, p=None, p_adjusted=None),
)
"""All that the rule asks for, in the direction of fewer poor results with advanced skin."""

HOLDS_NONE = (-0.6, 0.1)
TOUCHES_NONE = (-0.6, 0.0)
OTHER_WAY = (0.1, 0.6)


def test_sound_evidence_is_read_in_its_direction():
    assert read(SOUND) == ("better with advanced", ())
    assert read(replace(SOUND, more_is_worse=False)) == ("better with graft", ())


def turned(evidence):
    """The same evidence with the two cohorts exchanged."""

    def flip(part):
        return replace(
            part, low=-part.high, high=-part.low, **({"estimate": -part.estimate} if hasattr(part, "estimate") else {})
        )

    return replace(
        evidence,
        contrast=flip(evidence.contrast),
        adjusted=flip(evidence.adjusted),
        if_missing=flip(evidence.if_missing),
        as_planned=flip(evidence.as_planned),
    )


def test_exchanging_the_cohorts_exchanges_the_reading():
    assert read(turned(SOUND)) == ("better with graft", ())


def contrast(ends):
    return replace(BELOW, low=ends[0], high=ends[1])


SINGLE_FAULTS = {
    "1, the interval holds none": ({"contrast": contrast(HOLDS_NONE)}, "the interval includes no difference"),
    "1, the interval touches none": ({"contrast": contrast(TOUCHES_NONE)}, "the interval includes no difference"),
    "1, the interval is not estimable": ({"contrast": contrast((None, None))}, "the interval includes no difference"),
    "2, the corrected p is above 5 %": (
        {"contrast": replace(BELOW, p_adjusted=0.0501)},
        "correction for many comparisons",
    ),
    "2, there is no corrected p": ({"contrast": replace(BELOW, p_adjusted=None)}, "correction for many comparisons"),
    "3, the adjusted interval holds none": (
        {"adjusted": replace(ADJUSTED, low=-0.5, high=0.1)},
        "survive the adjustment",
    ),
    "3, the adjusted one is the other way": (
        {"adjusted": replace(ADJUSTED, low=0.1, high=0.5)},
        "survive the adjustment",
    ),
    "3, the adjusted one has no interval": (
        {"adjusted": replace(ADJUSTED, low=None, high=None)},
        "survive the adjustment",
    ),
    "3, the covers do not overlap": ({"adjusted": None, "no_overlap": True}, "the covers do not overlap"),
    "4, the bounds hold none": ({"if_missing": Range(-0.5, 0.05)}, "not measured could reverse it"),
    "4, the bounds touch none": ({"if_missing": Range(-0.5, 0.0)}, "not measured could reverse it"),
    "4, the bounds have no end": ({"if_missing": Range(None, None)}, "not measured could reverse it"),
    "5, by the plan it holds none": ({"as_planned": contrast(HOLDS_NONE)}, "by the cover that was planned"),
    "5, by the plan it is the other way": ({"as_planned": contrast(OTHER_WAY)}, "by the cover that was planned"),
    "6, the masked saw another": ({"masking_tells": True}, "did not know the cover"),
}


@pytest.mark.parametrize("fault, reason", SINGLE_FAULTS.values(), ids=SINGLE_FAULTS.keys())
def test_one_condition_that_fails_is_enough_and_is_the_only_reason_given(fault, reason):
    reading, reasons = read(replace(SOUND, **fault))
    assert reading == "no clear difference"
    told = [each for each in reasons if "may be hiding" not in each]
    assert len(told) == 1
    assert reason in told[0]


def test_a_corrected_p_of_exactly_5_percent_is_enough():
    assert read(replace(SOUND, contrast=replace(BELOW, p_adjusted=0.05)))[0] == "better with advanced"


@pytest.mark.parametrize(
    "absent", [{"adjusted": None}, {"reviewed_apart": False, "if_missing": Range(-0.5, 0.3)}, {"as_planned": None}]
)
def test_what_does_not_apply_does_not_block(absent):
    assert read(replace(SOUND, **absent))[0] == "better with advanced"


def test_fewer_lids_than_the_protocol_asks_for_is_too_few_whatever_they_show():
    reading, reasons = read(replace(SOUND, fewest=4))
    assert reading == "too few to say"
    assert reasons == ("fewer than 5 lids in a cohort",)
    assert read(replace(SOUND, fewest=5))[0] == "better with advanced"


def test_no_estimate_is_too_few():
    assert read(replace(SOUND, contrast=Contrast("difference of proportions", None, None, None)))[0] == "too few to say"


def test_a_difference_that_only_the_adjustment_shows_is_told_as_hidden_but_not_read():
    reading, reasons = read(replace(SOUND, contrast=replace(BELOW, low=-0.6, high=0.1)))
    assert reading == "no clear difference"
    assert any("may be hiding" in reason for reason in reasons)


def test_every_doubt_is_told_when_several_hold():
    evidence = replace(
        SOUND,
        contrast=replace(BELOW, p_adjusted=0.5),
        adjusted=replace(ADJUSTED, high=0.1),
        if_missing=Range(-0.6, 0.2),
        as_planned=contrast(HOLDS_NONE),
        masking_tells=True,
    )
    assert len(read(evidence)[1]) == 5
