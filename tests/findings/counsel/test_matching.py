"""Which lids are like the patient's, by a register in which they are listed by hand."""

from datetime import date

import polars as pl
import pytest

from outcomes.findings.counsel.local_figures import read_for_counsel
from outcomes.findings.counsel.matching import groups_for, is_like
from outcomes.findings.counsel.patient import features, fields_needed
from tests.findings.counsel.registers import AS_OF, PROTOCOL, counsel_for, lids, patient, together, told

# The patient is 74, with 18 of 30 mm (60 %) lost at full thickness and a laxity of 7 mm. Each line: age, width in mm, depth,
# laxity in mm.
BY_HAND = {
    "same": (74, 18, "full thickness", 7),
    "ten years older": (84, 18, "full thickness", 7),
    "ten years younger": (64, 18, "full thickness", 7),
    "eleven years older": (85, 18, "full thickness", 7),
    "twenty years older": (94, 18, "full thickness", 7),
    "forty years younger": (34, 18, "full thickness", 7),
    "fifteen points wider": (74, 22.5, "full thickness", 7),
    "sixteen points wider": (74, 22.8, "full thickness", 7),
    "fifteen points narrower": (74, 13.5, "full thickness", 7),
    "twenty points narrower": (74, 12, "full thickness", 7),
    "thirty points wider": (74, 27, "full thickness", 7),
    "not so deep": (74, 18, "skin and muscle", 7),
    "two mm looser": (74, 18, "full thickness", 9),
    "three mm tighter": (74, 18, "full thickness", 4),
    "four mm looser": (74, 18, "full thickness", 11),
    "five mm looser": (74, 18, "full thickness", 12),
}
NEAR = {
    "same",
    "ten years older",
    "ten years younger",
    "fifteen points wider",
    "fifteen points narrower",
    "two mm looser",
}
WIDER_AGE = NEAR | {"eleven years older", "twenty years older"}
ANY_AGE = WIDER_AGE | {"forty years younger"}
WIDER_LAXITY = ANY_AGE | {"three mm tighter"}
WIDER_DEFECT = WIDER_LAXITY | {"sixteen points wider", "twenty points narrower"}
WIDEST = WIDER_DEFECT | {"four mm looser"}
RULES = [NEAR, WIDER_AGE, ANY_AGE, WIDER_LAXITY, WIDER_DEFECT, WIDEST]


@pytest.mark.parametrize("rule, nearest", list(enumerate(RULES)))
def test_the_nearest_cases_are_those_listed_by_hand(rule, nearest):
    register = together(
        *(
            lids("grafted", 1, first=place, age=age, width=width, depth=depth, laxity=laxity)
            for place, (age, width, depth, laxity) in enumerate(BY_HAND.values())
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
        {"defect_depth": [None], "is:age": [74.0], "is:defect_share": [0.6], "is:distraction": [7.0]},
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
    assert [(lack.rule, lack.cohort, lack.n, lack.more) for lack in answer.shortfalls] == [("widest", "grafted", 9, 1)]


def test_only_lids_whose_result_is_known_count():
    register = together(lids("grafted", 9), lids("grafted", 30, first=9, measured=False), lids("advanced", 12))
    found = counsel_for(register, patient())
    assert told(found, "lid_lower").grafted.used is None
    assert told(found, "lid_lower").grafted.why == "too_few"
    assert told(found, "lid_lower").advanced.used.n == 12


def test_in_what_a_rule_was_relaxed_is_said():
    groups = groups_for(PROTOCOL, features(patient(), PROTOCOL))
    assert [group.relaxed for group in groups[:3]] == [(), (("age", "widened"),), (("age", "left_out"),)]
    assert dict(groups[-1].relaxed) == {"age": "left_out", "defect_share": "widened", "distraction": "widened"}


def test_an_age_that_is_not_known_leaves_fewer_rules_and_is_said():
    groups = groups_for(PROTOCOL, features(patient(age=""), PROTOCOL))
    assert [group.rule for group in groups] == ["near", "wider_laxity", "wider_defect", "widest"]
    assert groups[0].relaxed == (("age", "unknown"),)
    assert "birth_year" not in fields_needed(PROTOCOL)
    assert "distraction_mm" in fields_needed(PROTOCOL)


def test_outcomes_of_lids_like_the_patients_count_by_one_rule():
    """Ten near lids for one outcome, nine for the others: all are counted by the next rule."""
    sheets = lids("grafted", 10)
    sheets["reviews"] = [
        row
        for row in sheets["reviews"]
        if row["case_id"] != "grafted000"
        or row["oedema"] is None
        or (row["reviewed_on"] - date(2024, 3, 21)).days < 100
    ]
    register = together(sheets, lids("grafted", 3, first=10, age=90), lids("advanced", 12))
    found = counsel_for(register, patient())
    counted = {each.id: (each.group.rule, each.grafted.used.n) for each in found.outcomes if each.group}
    assert counted["swollen"] == ("wider_age", 13)
    assert counted["lid_lower"] == ("wider_age", 12)
    assert {each.group.rule for each in found.durations} == {"wider_age"}


@pytest.mark.parametrize(
    "asked, entry",
    [
        ({"age": "20"}, ("age", "both", 74, 90)),
        ({"laxity": "9.5"}, ("distraction", "both", 7, 7)),
        ({"width": "24"}, ("defect_share", "both", 0.6, 0.6)),
    ],
)
def test_nothing_is_used_for_a_patient_outside_what_was_seen(asked, entry):
    found = counsel_for(both(10, 5), patient(**asked))
    assert [(each.characteristic, each.cohort, each.low, each.high) for each in found.outside] == [entry]
    assert found.withheld
    assert {side.used for each in (*found.outcomes, *found.durations) for side in (each.grafted, each.advanced)} == {
        None
    }
    assert {side.why for each in found.outcomes[:3] for side in (each.grafted, each.advanced)} == {"unlike"}


def test_outside_the_range_of_one_cover_neither_is_used():
    register = together(lids("grafted", 12), lids("advanced", 12), lids("advanced", 1, first=12, laxity=9))
    found = counsel_for(register, patient(laxity="9.5"))
    assert [(each.characteristic, each.cohort, each.low, each.high) for each in found.outside] == [
        ("distraction", "grafted", 7, 7)
    ]
    assert {side.used for each in found.outcomes for side in (each.grafted, each.advanced)} == {None}


def test_a_patient_just_outside_the_range_is_still_like_a_lid_near_by():
    """The narrowest rule reaches 2 mm: at 9 mm the lids of 7 mm are like the patient's, and the surgeon is warned."""
    found = counsel_for(both(10, 5), patient(laxity="9"))
    assert (found.outside, found.withheld) == ((), False)
    assert told(found, "lid_lower").grafted.used.n == 10
    assert found.cautions[0].id == "outside"
