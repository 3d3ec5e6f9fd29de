"""Planted contradictions, habits and gaps are found; a register without them is quiet; an accepted query stays quiet."""

import random
from datetime import timedelta

import pytest

from outcomes.findings import case_series
from outcomes.findings.case_records import case_records
from outcomes.findings.data_quality.completeness import completeness, gap_queries
from outcomes.findings.data_quality.contradictions import contradictions
from outcomes.findings.data_quality.graders import grader_queries
from outcomes.findings.data_quality.review import review_data
from outcomes.protocol import default_protocol
from outcomes.report.data_quality import query_words, settle_command
from tests.rows import AS_OF, DIVIDED, OPERATED, RowRegister, case, held_rows, review, series_of, sheets

PROTOCOL = default_protocol()


def contradicted(row, reviews=(), events=()):
    held = held_rows(sheets([row], reviews, events))
    return [query for record in case_records(held, PROTOCOL, AS_OF) for query in contradictions(record, PROTOCOL)]


def kinds(queries):
    return [query.kind for query in queries]


# ---------------------------------------------------------------- contradictions, each at its edge


@pytest.mark.parametrize("entered, found", [(1.5, []), (2.0, []), (2.5, ["entered_against_computed"])])
def test_an_entered_retraction_may_be_one_step_from_the_computed_one(entered, found):
    seen = review("A", 42, margin_position_mm=6.5, fellow_margin_position_mm=5, retraction_mm=entered)
    assert kinds(contradicted(case("A"), [seen])) == found


@pytest.mark.parametrize(
    "surgeon, masked, found",
    [("KM", "yes", ["masked_surgeon"]), ("KM", "no", []), ("TV", "yes", []), (None, "yes", [])],
)
def test_the_surgeon_of_the_case_is_no_masked_assessor(surgeon, masked, found):
    assert kinds(contradicted(case("A", surgeon=surgeon), [review("A", 42, masked=masked)])) == found


@pytest.mark.parametrize("lost, found", [(35, []), (30, ["lashes_on_rebuilt_margin"])])
def test_a_margin_rebuilt_by_half_has_lost_about_half_of_its_lashes(lost, found):
    """15 of 30 mm rebuilt: 50 %; 15 points of slack."""
    row = case("A", defect_width_mm=15, lid_width_mm=30)
    assert kinds(contradicted(row, [review("A", 42, lash_loss_percent=lost)])) == found


@pytest.mark.parametrize("day, found", [(99, []), (100, []), (101, ["none_after_recurrence"])])
def test_no_recurrence_after_a_recurrence(day, found):
    events = [{"case_id": "A", "happened_on": DIVIDED + timedelta(days=100), "kind": "recurrence"}]
    assert kinds(contradicted(case("A"), [review("A", day, recurrence="none")], events)) == found


@pytest.mark.parametrize(
    "days_before, reason, found",
    [
        (2, None, []), (3, None, ["early_division_without_reason"]), (3, "dehiscence", []),
        (0, "dehiscence", ["reason_without_early_division"]), (0, None, []),
    ],
)  # fmt: skip
def test_early_division_and_its_reason_go_together(days_before, reason, found):
    row = case("A", division_planned_on=DIVIDED + timedelta(days=days_before), division_early_reason=reason)
    assert kinds(contradicted(row)) == found


# ---------------------------------------------------------------- habits of assessors


def clinic(seed, *, reviews=120, habit=lambda _name, value: value):
    """Reviews of 60 lids by two assessors, without any habit unless one is given for the second."""
    chance = random.Random(seed)
    rows = []
    for number in range(2 * reviews):
        assessor = "AB" if number % 2 else "CD"
        values = {
            "margin_position_mm": round(2 * chance.gauss(5, 0.9)) / 2,
            "notch_mm": max(0.0, round(2 * chance.gauss(0.3, 0.6)) / 2),
            "oedema": min(3, max(0, round(chance.gauss(0.9, 0.9)))),
            "margin_redness": min(3, max(0, round(chance.gauss(0.9, 0.9)))),
        }
        if assessor == "CD":
            values = {name: habit(name, value) for name, value in values.items()}
        rows.append(review(f"C{number % 60:02}", 7 + number, assessor=assessor, **values))
    cases = [case(f"C{number:02}", cover=("graft", "advancement")[number % 2]) for number in range(60)]
    return sheets(cases, rows)


def habits(rows):
    return [*grader_queries(case_records(held_rows(rows), PROTOCOL, AS_OF), PROTOCOL)]


def test_a_preference_for_whole_millimetres_is_found():
    [found] = habits(
        clinic(1, habit=lambda name, value: float(round(value)) if name == "margin_position_mm" else value)
    )
    assert (found.kind, found.assessor, found.field) == ("digit_preference", "CD", "margin_position_mm")
    assert found.fact("even") == found.fact("values") == 120


def test_an_assessor_who_never_grades_above_mild_is_found():
    [found] = habits(
        clinic(2, habit=lambda name, value: min(value, 1) if name in {"oedema", "margin_redness"} else value)
    )
    assert (found.kind, found.assessor, found.fact("level")) == ("never_above", "CD", "mild")
    assert found.fact("grades") == 240


def test_a_clean_register_is_quiet():
    """One false alarm of a kind in a hundred registers is what is allowed; none in forty."""
    assert [query for seed in range(40) for query in habits(clinic(100 + seed))] == []


def test_a_mild_preference_is_no_habit():
    """Six of ten values of 400 whole: chance hardly explains it (p 4e-5), but it is too little to ask about."""
    values = [1.0 if number % 10 < 6 else 1.5 for number in range(400)]
    rows = [review(f"C{number % 60:02}", 7 + number, notch_mm=value) for number, value in enumerate(values)]
    assert habits(sheets([case(f"C{number:02}") for number in range(60)], rows)) == []


def test_an_assessor_who_now_and_then_grades_moderate_is_not_asked():
    assert (
        habits(clinic(5, habit=lambda name, value: min(value, 2) if name in {"oedema", "margin_redness"} else value))
        == []
    )


def test_few_values_are_not_judged():
    assert habits(clinic(3, reviews=29, habit=lambda _name, value: float(round(value)))) == []


def test_one_assessor_alone_is_not_compared_with_nobody():
    rows = clinic(4, habit=lambda _name, value: min(value, 1))
    alone = {**rows, "reviews": [row for row in rows["reviews"] if row["assessor"] == "CD"]}
    assert [query for query in habits(alone) if query.kind == "never_above"] == []


# ---------------------------------------------------------------- gaps and completeness


def gaps():
    cases = [case("A"), case("B", cover="advancement"), case("C", cover="advancement", distraction_mm=8)]
    seen = [review("A", 183, notch_mm=1, oedema="none"), review("B", 183, notch_mm=0)]
    return series_of(sheets(cases, seen))


def test_a_missing_value_and_a_missing_review_are_told_apart():
    found = {(query.kind, query.field): query for query in gap_queries(gaps())}
    assert found["review_missing", ""].cases == ("C",)
    assert found["value_missing", "oedema"].cases == ("B",)
    assert ("value_missing", "notching") not in found
    assert found["characteristic_missing", "distraction"].cases == ("A", "B")
    assert found["characteristic_missing", "distraction"].fact("of") == 3


def test_completeness_counts_lids_seen_of_those_due():
    counts = {(each.measure, each.window, each.cohort): (each.seen, each.due) for each in completeness(gaps())}
    assert counts["notching", "six_months", "grafted"] == (1, 1)
    assert counts["notching", "six_months", "advanced"] == (1, 2)
    assert counts["oedema", "six_months", "advanced"] == (0, 2)
    assert counts["notching", "five_years", "grafted"] == (0, 0)


# ---------------------------------------------------------------- identifiers and acceptance


def reviewed(rows, accepted=()):
    register = RowRegister(rows, PROTOCOL)
    from outcomes.findings import Selection

    series = case_series(register, PROTOCOL, Selection(AS_OF))
    stored = [("reconstructions", "A", "little_tarsus", "less upper tarsus left than 4 mm")]
    return review_data(series, held_rows(rows), stored, accepted)


def test_an_accepted_query_stays_quiet_until_its_value_changes():
    def rows(entered):
        seen = review("A", 42, margin_position_mm=6.5, fellow_margin_position_mm=5, retraction_mm=entered)
        return sheets([case("A")], [seen])

    [doubt] = [query for query in reviewed(rows(4)).queries if query.group == "contradiction"]
    quiet = reviewed(rows(4), {doubt.id})
    assert (doubt in quiet.queries, quiet.accepted) == (False, (doubt,))
    assert [query.group for query in reviewed(rows(4.5), {doubt.id}).queries].count("contradiction") == 1


def test_every_query_has_words_and_a_way_to_settle_it():
    planted = clinic(
        1, habit=lambda name, value: float(round(value)) if name == "margin_position_mm" else min(value, 1)
    )
    planted["reconstructions"] = [
        {**row, "surgeon": "AB", "operated_on": OPERATED} for row in planted["reconstructions"]
    ]
    planted["reviews"] = [{**row, "masked": "yes"} for row in planted["reviews"]]
    found = reviewed({**planted, "reconstructions": [*planted["reconstructions"], case("A")]}).queries
    assert {query.group for query in found} == {"contradiction", "odd", "assessor", "gap"}
    for query in found:
        assert "{" not in query_words(query)
        assert f"--accept {query.id} --reason" in settle_command(query)
    assert len({query.id for query in found}) == len(found)
