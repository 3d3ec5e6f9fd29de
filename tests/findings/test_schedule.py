"""The schedule of a day: planned days, boundaries of windows, flags, ends of follow-up and confirmations."""

from datetime import date, timedelta

import pytest

from outcomes.errors import OutcomesError, WrongUsage
from outcomes.findings.case_records import case_records, record_of
from outcomes.findings.schedule import schedule
from outcomes.protocol import default_protocol
from tests.rows import DIVIDED, OPERATED, after, case, held_rows, review, sheets

PROTOCOL = default_protocol()


def due(cases, reviews=(), events=(), *, as_of, **options):
    return schedule(held_rows(sheets(cases, reviews, events)), PROTOCOL, as_of, **options)


def event(case_id, days, kind, **fields):
    return {"case_id": case_id, "happened_on": after(days), "kind": kind, **fields}


def reviews_of(listed):
    return [(each.window, each.status, each.days_late) for each in listed.reviews]


# ---------------------------------------------------------------- pedicles


def test_a_pedicle_is_planned_as_entered_or_by_its_cover():
    """21 days after a graft, 35 after an advancement: the days of the default protocol."""
    cases = [
        case("A", divided_on=None),
        case("B", cover="advancement", divided_on=None),
        case("C", divided_on=None, division_planned_on=date(2024, 1, 20)),
    ]
    listed = due(cases, as_of=date(2024, 1, 22))
    assert [(each.case.case, each.planned_on, each.planned, each.days_late) for each in listed.pedicles] == [
        ("C", date(2024, 1, 20), "entered", 2),
        ("A", date(2024, 1, 22), "by cover", 0),
        ("B", date(2024, 2, 5), "by cover", -14),
    ]
    assert {each.days_shut for each in listed.pedicles} == {21}


@pytest.mark.parametrize("as_of, waiting", [(DIVIDED - timedelta(days=1), 1), (DIVIDED, 0)])
def test_a_pedicle_waits_until_the_day_of_its_division(as_of, waiting):
    held = held_rows(sheets([case("A")]))
    assert len(schedule(held, PROTOCOL, as_of).pedicles) == waiting


@pytest.mark.parametrize("logmar, poor", [(None, False), (0.49, False), (0.5, True), (1.0, True)])
def test_a_fellow_eye_that_sees_poorly_is_told(logmar, poor):
    [pedicle] = due([case("A", divided_on=None, fellow_logmar=logmar)], as_of=DIVIDED).pedicles
    assert pedicle.fellow_sees_poorly == poor


def test_a_dehisced_pedicle_is_told_from_its_day_on():
    events = [event("A", -20, "pedicle dehiscence")]
    before, on = (due([case("A", divided_on=None)], events=events, as_of=after(days)) for days in (-21, -20))
    assert (before.pedicles[0].dehisced_on, on.pedicles[0].dehisced_on) == (None, after(-20))


def test_an_operation_that_lies_ahead_is_not_listed():
    assert due([case("A", divided_on=None)], as_of=OPERATED - timedelta(days=1)).pedicles == ()


# ---------------------------------------------------------------- reviews: nominal days 7, 42, 91 …, windows 1-21, 22-66, 67-136 …


@pytest.mark.parametrize(
    "day, within, first_week",
    [(0, 6, None), (0, 7, "due"), (7, 0, "due"), (8, 0, "overdue"), (21, 0, "overdue"), (22, 0, "missed")],
)
def test_a_review_is_due_overdue_and_missed_by_its_window(day, within, first_week):
    listed = due([case("A")], as_of=after(day), within=within)
    assert [status for window, status, _ in reviews_of(listed) if window == "one_week"] == [first_week] * bool(
        first_week
    )


@pytest.mark.parametrize("seen, listed", [(1, []), (21, []), (22, [("one_week", "missed", 37)])])
def test_a_visit_anywhere_in_the_window_settles_it(seen, listed):
    cases = due([case("A")], [review("A", seen), review("A", 42)], as_of=after(44), within=0)
    assert reviews_of(cases) == listed


def test_a_review_after_the_as_of_day_is_not_known_yet():
    held = held_rows(sheets([case("A")], [review("A", 7)]))
    assert reviews_of(schedule(held, PROTOCOL, after(6), within=7)) == [("one_week", "due", -1)]


def test_a_telephone_call_settles_a_review():
    assert due([case("A")], [review("A", 7, mode="telephone")], as_of=after(8), within=0).reviews == ()


@pytest.mark.parametrize("kind", ["death", "withdrawn", "moved away"])
def test_nothing_is_due_after_an_end_of_either_lid(kind):
    cases = [case("A", patient_id="P"), case("B", patient_id="P", side="left", divided_on=None)]
    events = [event("A", 30, kind)]
    before, after_it = (due(cases, events=events, as_of=after(days)) for days in (29, 30))
    assert (len(before.pedicles), len(before.reviews) > 0) == (1, True)
    assert (after_it.pedicles, after_it.reviews) == ((), ())


# ---------------------------------------------------------------- confirmations


def test_a_suspicion_is_open_until_a_review_or_an_event_settles_it():
    seen = [review("A", 42, recurrence="suspected"), review("A", 91, recurrence="suspected")]
    suspected = due([case("A")], seen, as_of=after(100)).confirmations
    assert [(each.kind, each.since) for each in suspected] == [("suspected_recurrence", after(42))]
    again = due([case("A")], [review("A", 7, recurrence="none"), *seen], as_of=after(100)).confirmations
    assert [each.since for each in again] == [after(42)]
    assert due([case("A")], [*seen, review("A", 99, recurrence="none")], as_of=after(100)).confirmations == ()
    assert due([case("A")], seen, [event("A", 95, "recurrence")], as_of=after(100)).confirmations == ()


def test_a_confirmed_recurrence_wants_its_event():
    [open_] = due([case("A")], [review("A", 42, recurrence="confirmed")], as_of=after(50)).confirmations
    assert (open_.kind, open_.since) == ("confirmed_without_event", after(42))


@pytest.mark.parametrize(
    "margin, re_excised, count",
    [("involved", None, 1), ("involved", "no", 1), ("involved", "yes", 0), ("clear", None, 0)],
)
def test_an_involved_margin_wants_a_re_excision(margin, re_excised, count):
    row = case("A", histology_margin=margin, re_excised=re_excised)
    assert len(due([row], as_of=after(1)).confirmations) == count


# ---------------------------------------------------------------- filters and codes


def test_only_one_surgeon_is_listed_and_an_unknown_one_is_refused():
    cases = [case("A", divided_on=None, surgeon="KO"), case("B", divided_on=None, surgeon="TV")]
    only = due(cases, as_of=DIVIDED, only=(("surgeon", ("TV",)), ("site", ())))
    assert [each.case.case for each in only.pedicles] == ["B"]
    with pytest.raises(WrongUsage, match=r'there is no surgeon "KO1"\. Did you mean "KO"\?'):
        due(cases, as_of=DIVIDED, only=(("surgeon", ("KO1",)),))


def test_an_unknown_case_suggests_near_ones():
    records = case_records(held_rows(sheets([case("VB-301N-R"), case("VB-301N-L")])), PROTOCOL, DIVIDED)
    assert record_of(records, " vb-301n-r ").case_id == "VB-301N-R"
    with pytest.raises(OutcomesError, match='no case "VB-301-R" in the register; did you mean VB-301N-R'):
        record_of(records, "VB-301-R")
