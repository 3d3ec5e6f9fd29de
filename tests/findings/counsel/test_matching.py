"""Which lids are like the patient's, by a register in which they are listed by hand."""

import polars as pl
import pytest

from outcomes.findings.counsel.local_figures import read_for_counsel
from outcomes.findings.counsel.matching import groups_for, is_like
from outcomes.findings.counsel.patient import features
from tests.findings.counsel.registers import AS_OF, PROTOCOL, counsel_for, lids, patient, together, told

# The patient is 74, with 18 of 30 mm (60 %) lost at full thickness. Each line: age, width in mm, depth.
BY_HAND = {
    "same": (74, 18, "full thickness"),
    "ten years older": (84, 18, "full thickness"),
    "ten years younger": (64, 18, "full thickness"),
    "eleven years older": (85, 18, "full thickness"),
    "twenty years older": (94, 18, "full thickness"),
    "forty years younger": (34, 18, "full thickness"),
    "fifteen points wider": (74, 22.5, "full thickness"),
    "sixteen points wider": (74, 22.8, "full thickness"),
    "fifteen points narrower": (74, 13.5, "full thickness"),
    "twenty points narrower": (74, 12, "full thickness"),
    "thirty points wider": (74, 27, "full thickness"),
    "not so deep": (74, 18, "skin and muscle"),
}
NEAR = {"same", "ten years older", "ten years younger", "fifteen points wider", "fifteen points narrower"}
WIDER_AGE = NEAR | {"eleven years older", "twenty years older"}
ANY_AGE = WIDER_AGE | {"forty years younger"}
WIDER_DEFECT = ANY_AGE | {"sixteen points wider", "twenty points narrower"}


@pytest.mark.parametrize("rule, nearest", list(enumerate([NEAR, WIDER_AGE, ANY_AGE, WIDER_DEFECT])))
def test_the_nearest_cases_are_those_listed_by_hand(rule, nearest):
    register = together(
        *(
            lids("grafted", 1, first=place, age=age, width=width, depth=depth)
            for place, (age, width, depth) in enumerate(BY_HAND.values())
        )
    )
    series = read_for_counsel(register, PROTOCOL, as_of=AS_OF)[0]
    group = groups_for(PROTOCOL, features(patient(), PROTOCOL))[rule]
    found = series.cases.filter(is_like(group, PROTOCOL)).get_column("case_id").to_list()
    names = list(BY_HAND)
    assert {names[int(case.removeprefix("grafted"))] for case in found} == nearest


def test_a_lid_with_nothing_recorded_is_like_nobody():
    group = groups_for(PROTOCOL, features(patient(), PROTOCOL))[0]
    row = pl.DataFrame(
        {"defect_depth": [None], "is:age": [74.0], "is:defect_share": [0.6]},
        schema_overrides={"defect_depth": pl.String},
    )
    assert row.filter(is_like(group, PROTOCOL)).height == 0


def both(near, further, *, advanced=20):
    """So many grafted lids within ten years of the patient, and so many within twenty."""
    return together(
        lids("grafted", near),
        lids("grafted", further, first=near, age=90),
        lids("advanced", advanced),
        lids("grafted", 15, first=near + further, depth="skin and muscle"),
    )


def test_ten_near_lids_are_enough():
    answer = told(counsel_for(both(10, 5), patient()), "lid_lower")
    assert (answer.group.rule, answer.grafted.used.n, answer.advanced.used.n) == ("near", 10, 20)
    assert answer.shortfalls == ()


def test_nine_near_lids_are_relaxed_to_the_next_rule_for_both_covers():
    answer = told(counsel_for(both(9, 5), patient()), "lid_lower")
    assert (answer.group.rule, answer.grafted.used.n, answer.advanced.used.n) == ("wider_age", 14, 20)
    assert [(lack.rule, lack.cohort, lack.n, lack.more) for lack in answer.shortfalls] == [("near", "grafted", 9, 1)]


def test_the_group_is_never_relaxed_below_ten():
    answer = told(counsel_for(both(5, 4), patient()), "lid_lower")
    assert answer.group is None
    assert (answer.grafted.used.level, answer.grafted.used.n) == ("all", 24)
    assert [(lack.rule, lack.cohort, lack.n, lack.more) for lack in answer.shortfalls] == [
        ("wider_defect", "grafted", 9, 1)
    ]


def test_only_lids_whose_result_is_known_count():
    register = together(lids("grafted", 9), lids("grafted", 30, first=9, measured=False), lids("advanced", 12))
    found = counsel_for(register, patient())
    assert told(found, "lid_lower").grafted.used is None
    assert told(found, "lid_lower").grafted.why == "too_few"
    assert told(found, "lid_lower").advanced.used.n == 12


def test_a_patient_outside_what_was_seen_is_like_nobody():
    found = counsel_for(both(10, 5), patient(age="20"))
    assert [(each.characteristic, each.cohort, each.low, each.high) for each in found.outside] == [
        ("age", "both", 74, 90)
    ]
    assert {answer.grafted.used.level for answer in found.outcomes if answer.grafted.used} == {"all"}
