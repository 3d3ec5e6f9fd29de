"""A leaflet that leaves the room points to nobody."""

import pytest

from outcomes.report.counsel.language import read_language
from outcomes.report.counsel.sheet import make_sheet
from outcomes.report.traced_text import plain
from tests.findings.counsel.registers import PROTOCOL, counsel_for, counselled, lids, patient, together, told


@pytest.mark.parametrize(
    "poor, why", [(0, ""), (1, "suppressed"), (4, "suppressed"), (5, ""), (15, ""), (16, "suppressed"), (20, "")]
)
def test_counts_from_one_to_four_are_held_back_on_either_side(poor, why):
    """The protocol's public threshold is 5; 20 lids, so that 16 poor leave 4 that were spared."""
    found = counsel_for(together(lids("grafted", 20, poor=poor), lids("advanced", 20)), patient(), public=True)
    side = told(found, "swollen").grafted
    assert side.why == why
    assert (side.used is None) == bool(why)
    if why:
        assert (side.all, side.like, side.predicted, side.due, side.missing) == (None, None, None, 0, 0)


def test_two_times_of_one_event_do_not_give_away_the_few_between_them():
    found = counselled("typical", public=True)
    for side in ("grafted", "advanced"):
        events = [
            answer.side(side).used.events
            for answer in found.outcomes
            if answer.words == "tumour_back" and answer.side(side).used
        ]
        assert all(abs(one - other) == 0 or abs(one - other) >= 5 for one in events for other in events)


def test_nothing_of_the_patient_is_in_the_finding():
    assert counselled("typical", public=True) == counselled("old", public=True)
    found = counselled("typical", public=True)
    assert (found.observed, found.outside) == ((), ())
    assert all(answer.group is None and not answer.shortfalls for answer in found.outcomes)
    levels = {side.used.level for answer in found.outcomes for side in (answer.grafted, answer.advanced) if side.used}
    assert levels == {"all"}


def test_the_leaflet_says_that_a_number_is_held_back():
    made = make_sheet(counselled("typical", public=True), PROTOCOL, read_language("en"))
    said = {plain(sentence) for row in made.rows for cell in row.cells for sentence in cell.sentences}
    assert "Too few people to print here." in said
    assert made.spaces == ()
    assert made.title.startswith("A new lower eyelid")
