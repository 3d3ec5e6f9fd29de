"""Counts of a known register, and no figure of too few lids."""

from dataclasses import fields, is_dataclass
from datetime import date

import numpy as np
import pytest

from outcomes.cohort import read_frames
from outcomes.errors import DataRefused
from outcomes.findings.counsel.local_figures import local_figures, read_for_counsel
from outcomes.findings.counsel.patient import patient_of_case
from outcomes.findings.counsel.results import DurationFigure, RiskFigure
from tests.calibration.counsel import Scenario, simulate
from tests.findings.counsel.registers import (
    AS_OF,
    PATIENTS,
    PROTOCOL,
    InMemory,
    counsel_for,
    counselled,
    lids,
    made,
    patient,
    together,
    told,
)


def everything(part):
    """Every part of a finding, at any depth."""
    yield part
    if isinstance(part, tuple):
        for each in part:
            yield from everything(each)
    elif is_dataclass(part):
        for each in fields(part):
            yield from everything(getattr(part, each.name))


def test_none_of_twenty_may_still_be_seventeen_of_100():
    """Newcombe, Stat Med 1998;17:857-872, method 3: 0 of 20 reaches to 16.11 %."""
    found = told(counsel_for(together(lids("grafted", 20), lids("advanced", 20, poor=5)), patient()), "notch")
    assert (found.grafted.used.of_100.had, found.grafted.used.of_100.low, found.grafted.used.of_100.high) == (0, 0, 17)
    assert (found.advanced.used.events, found.advanced.used.of_100.had, found.advanced.used.of_100.had_not) == (
        5,
        25,
        75,
    )


def test_death_competes_with_another_operation():
    """By hand: of 10 lids, 2 are operated on again and 4 die, then nothing more: 20 of 100, not the 33 of the survivors."""
    sheets = lids("grafted", 10)
    for place, kind in enumerate(["revision"] * 2 + ["death"] * 4):
        sheets["events"].append({"case_id": f"grafted{place:03}", "happened_on": date(2024, 9, 1), "kind": kind})
    for place in range(6, 10):
        sheets["events"].append(
            {"case_id": f"grafted{place:03}", "happened_on": date(2025, 9, 1), "kind": "moved away"}
        )
    answer = told(counsel_for(InMemory(sheets), patient()), "operated_again").grafted.used
    assert (answer.events, answer.n, answer.known) == (2, 10, 10)
    assert (answer.of_100.had, answer.of_100.competed, answer.of_100.had_not) == (20, 40, 80)


def test_lids_not_followed_so_long_are_not_known():
    sheets = lids("grafted", 12)
    for place in range(12):
        day = date(2024, 9, 1) if place < 3 else date(2025, 9, 1)
        sheets["events"].append({"case_id": f"grafted{place:03}", "happened_on": day, "kind": "moved away"})
    answer = told(counsel_for(InMemory(sheets), patient()), "operated_again").grafted
    assert answer.used is None
    assert answer.why == "too_few"


@pytest.mark.parametrize("name", PATIENTS)
@pytest.mark.parametrize("public", [False, True])
def test_no_number_rests_on_fewer_than_ten_lids(name, public):
    found = [
        part for part in everything(counselled(name, public=public)) if isinstance(part, RiskFigure | DurationFigure)
    ]
    assert len(found) > 10
    assert all(part.n >= 10 for part in found)
    assert all(part.known >= 10 for part in found if isinstance(part, RiskFigure))


@pytest.mark.parametrize("name", PATIENTS)
def test_both_covers_are_told_at_one_level(name):
    for answer in counselled(name).outcomes:
        levels = {side.used.level for side in (answer.grafted, answer.advanced) if side.used}
        assert len(levels) <= 1


def test_a_cover_that_was_never_used_does_not_hold_the_other_back():
    found = counsel_for(InMemory(lids("grafted", 15, poor=3)), patient())
    for answer in found.outcomes:
        assert answer.advanced.why == "never_used"
        assert answer.advanced.used is None
    assert told(found, "swollen").grafted.used.of_100.had == 20
    assert told(found, "swollen").group.rule == "near"


def test_an_empty_register_says_nothing_and_does_not_fail():
    found = counsel_for(InMemory({"patients": [], "reconstructions": [], "reviews": [], "events": []}), patient())
    assert all(side.used is None for answer in found.outcomes for side in (answer.grafted, answer.advanced))
    assert [figure.count for figure in told(found, "operated_again").published] == [5]


def test_the_days_with_the_eye_shut():
    days = counsel_for(together(lids("grafted", 10), lids("advanced", 11)), patient()).durations[0]
    assert (days.grafted.used.median, days.grafted.used.q1, days.grafted.used.q3, days.grafted.used.n) == (
        20,
        20,
        20,
        10,
    )


def test_a_case_is_left_out_of_its_own_figures_with_its_patients_other_lid():
    sheets = lids("grafted", 12, poor=2)
    sheets["reconstructions"][1]["patient_id"] = "P-grafted000"
    register = together(sheets, lids("advanced", 12))
    asked = patient_of_case(read_frames(register, PROTOCOL), "grafted000")
    assert (asked.values["birth_year"], asked.values["defect_depth"]) == (1950, "full thickness")
    found = counsel_for(register, asked)
    assert found.left_out_lids == 2
    assert (told(found, "notch").grafted.used.n, told(found, "notch").grafted.used.events) == (10, 0)


def test_a_case_that_is_not_there_is_refused_with_the_nearest_one():
    with pytest.raises(DataRefused) as refused:
        read_for_counsel(together(lids("grafted", 2)), PROTOCOL, as_of=AS_OF, case="graftd001")
    assert 'did you mean "grafted001"?' in refused.value.reasons[0]


@pytest.mark.parametrize(
    "given, option, limits",
    [
        ({"age": "150"}, "--age", "from 16 to 110"),
        ({"age": "old"}, "--age", "from 16 to 110"),
        ({"width": "90"}, "--defect-width", "from 1 to 60"),
        ({"lid": "5"}, "--lid-width", "from 15 to 45"),
        ({"depth": "deep"}, "--depth", "full thickness"),
        ({"laxity": "-1"}, "--laxity", "from 0 to 20"),
        ({"vision": "9"}, "--fellow-vision", "from -0.3 to 3"),
    ],
)
def test_impossible_values_are_refused_with_their_limits(given, option, limits):
    with pytest.raises(DataRefused) as refused:
        patient(**given)
    assert len(refused.value.reasons) == 1
    assert option in refused.value.reasons[0]
    assert limits in refused.value.reasons[0]


@pytest.mark.parametrize("seed", range(8))
def test_counts_never_fall_with_time(seed):
    """The tumour by three and by five years, and the dead by then, in registers with much death and loss."""
    series, _ = read_for_counsel(
        simulate(np.random.default_rng(seed), Scenario(each=25, strength=1.0)), PROTOCOL, as_of=AS_OF
    )
    found = local_figures(series, patient(), made(series))
    three, five = (told(found, name) for name in ("tumour_three_years", "tumour_five_years"))
    for cohort in ("grafted", "advanced"):
        before, after = three.side(cohort).used, five.side(cohort).used
        if before and after:
            assert before.level == after.level
            assert before.of_100.had <= after.of_100.had
            assert before.of_100.competed <= after.of_100.competed
