"""A leaflet that leaves the room points to nobody."""

import random
import re

import pytest

from outcomes.report.counsel.language import read_language
from outcomes.report.counsel.sheet import make_sheet
from outcomes.report.traced_text import plain
from tests.findings.counsel.registers import PROTOCOL, counsel_for, counselled, lids, patient, together, told


@pytest.mark.parametrize(
    "poor, why",
    [(0, ""), (1, "suppressed"), (4, "suppressed"), (5, ""), (15, ""), (16, "suppressed"), (20, "suppressed")],
)
@pytest.mark.parametrize("side", ["grafted", "advanced"])
def test_counts_from_one_to_four_take_both_sides_with_them(poor, why, side):
    """The protocol's public threshold is 5; 20 lids, so that 16 poor leave 4 that were spared; 20 would tell of everybody."""
    other = "advanced" if side == "grafted" else "grafted"
    outcome = told(counsel_for(together(lids(side, 20, poor=poor), lids(other, 20)), patient(), public=True), "swollen")
    for each in (outcome.grafted, outcome.advanced):
        assert each.why == why
        assert (each.used is None) == bool(why)
        if why:
            assert (each.all, each.like, each.predicted, each.due, each.missing) == (None, None, None, 0, 0)


def test_a_side_with_too_few_lids_takes_the_other_with_it():
    outcome = told(counsel_for(together(lids("grafted", 20), lids("advanced", 9)), patient(), public=True), "swollen")
    assert (outcome.grafted.used, outcome.advanced.used) == (None, None)


def test_a_cover_that_was_never_used_takes_nothing_with_it():
    outcome = told(counsel_for(together(lids("grafted", 20)), patient(), public=True), "swollen")
    assert outcome.grafted.used.n == 20


@pytest.mark.parametrize("seed", range(20))
def test_no_leaflet_shows_one_side_of_a_pair(seed):
    poor = random.Random(seed)
    register = together(lids("grafted", 25, poor=poor.randint(0, 25)), lids("advanced", 30, poor=poor.randint(0, 30)))
    for outcome in counsel_for(register, patient(), public=True).outcomes:
        assert (outcome.grafted.used is None) == (outcome.advanced.used is None)


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


@pytest.mark.parametrize(
    "language, words", [("en", "We do not print very small numbers."), ("de", "Sehr kleine Zahlen drucken wir nicht.")]
)
def test_the_leaflet_says_that_a_number_is_left_out(language, words):
    made = make_sheet(counselled("typical", public=True), PROTOCOL, read_language(language))
    assert words in {plain(sentence) for pair in made.pairs for sentence in pair.nothing}
    assert made.spaces == ()
    assert {len(pair.cells) for pair in made.pairs} <= {0, 2}


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_leaflet_has_years_and_no_days(language):
    made = make_sheet(counselled("typical", public=True), PROTOCOL, read_language(language))
    text = made.stamp + " ".join(plain(each) for each in made.basis.paragraphs)
    assert {"2017", "2026"} <= set(re.findall(r"\d{4}", text))
    assert not re.search(r"\d{4}-\d\d", text)
    assert not any(month in text for month in read_language(language).tree["months"])
    private = make_sheet(counselled("typical"), PROTOCOL, read_language(language))
    assert any(month in plain(private.basis.paragraphs[0]) for month in read_language(language).tree["months"])
