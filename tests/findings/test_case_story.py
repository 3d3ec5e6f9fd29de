"""The course of one case: computed values, the fellow lid, the rule for poor results, and the order of what happened."""

import pytest

from outcomes.errors import OutcomesError
from outcomes.findings.case_story import case_story
from outcomes.protocol import default_protocol
from tests.rows import AS_OF, after, case, held_rows, review, sheets

PROTOCOL = default_protocol()


def story(reviews=(), events=(), as_of=AS_OF, **fields):
    return case_story(held_rows(sheets([case("A", **fields)], reviews, events)), PROTOCOL, "a", as_of)


def course(told, measure):
    return next(each.points for each in told.courses if each.measure == measure)


def test_retraction_is_computed_and_the_margin_stands_beside_the_fellow_lid():
    told = story([review("A", 42, margin_position_mm=6.5, fellow_margin_position_mm=5, retraction_mm=9)])
    [margin], [retraction] = course(told, "margin_position"), course(told, "retraction")
    assert (margin.value, margin.fellow, margin.days, margin.poor) == (6.5, 5, 42, None)
    assert (retraction.value, retraction.fellow, retraction.poor) == (1.5, None, True)


def test_an_entered_retraction_serves_where_the_fellow_lid_cannot():
    [retraction] = course(story([review("A", 42, margin_position_mm=6.5, retraction_mm=0.5)]), "retraction")
    assert (retraction.value, retraction.poor) == (0.5, False)


@pytest.mark.parametrize("day, poor", [(66, None), (67, True)])
def test_oedema_is_poor_from_the_first_day_of_its_window_on(day, poor):
    """Swelling counts from three months on, whose window begins on day 67."""
    [point] = course(story([review("A", day, oedema="mild")]), "oedema")
    assert point.poor is poor


@pytest.mark.parametrize("grade, poor", [(6, True), (7, False)])
def test_satisfaction_is_poor_from_below(grade, poor):
    [point] = course(story([review("A", 91, satisfaction=grade)]), "satisfaction")
    assert point.poor is poor


def test_what_happened_stands_in_order_with_days_from_division():
    told = story([review("A", 7, notch_mm=0)], [{"case_id": "A", "happened_on": after(30), "kind": "revision"}])
    assert [(each.kind, each.days) for each in told.happenings] == [
        ("operation", None), ("division", 0), ("review", 7), ("event", 30),
    ]  # fmt: skip
    assert told.days_shut == 31


@pytest.mark.parametrize("day, number", [(0, 1), (-1, 0)])
def test_a_value_counts_from_the_day_of_division_on(day, number):
    told = story([review("A", day, recurrence="none", **({"notch_mm": 0} if day >= 0 else {}))])
    assert sum(len(each.points) for each in told.courses) == number


def test_what_lies_after_the_as_of_day_is_unknown():
    told = story([review("A", 7, notch_mm=0), review("A", 42, notch_mm=2)], as_of=after(41))
    assert [point.days for point in course(told, "notching")] == [7]


def test_an_undivided_case_has_no_course_and_is_open():
    told = story(divided_on=None)
    assert (told.courses, told.days_shut, len(told.open.pedicles)) == ((), None, 1)


def test_an_unknown_case_is_refused():
    with pytest.raises(OutcomesError, match='there is no case "B" in the register'):
        case_story(held_rows(sheets([case("A")])), PROTOCOL, "B", AS_OF)
