"""The verdicts on the sheet are those of the whole comparison."""

import pytest

from outcomes.findings.comparison import compare
from outcomes.findings.counsel.local_figures import read_for_counsel
from outcomes.findings.counsel.verdicts import outcome_verdicts
from tests.findings.counsel.registers import (
    AS_OF,
    PROTOCOL,
    InMemory,
    lids,
    made,
    series_of_the_clinic,
    together,
)


def of_comparison(series):
    """The verdicts of the whole comparison by measure and window, and by timed event."""
    whole = compare(series, made(series))
    found = {
        (each.measure, each.window): each.verdict for each in whole.findings if each.outcome == "main" and each.verdict
    }
    return found | {(each.event, ""): each.verdict for each in whole.timing if each.verdict}


def of_sheet(series):
    places = {item.id: (item.measure or item.timed, item.window) for item in PROTOCOL.told}
    return {places[name]: verdict for name, verdict in outcome_verdicts(series).items()}


def test_the_invented_clinic_has_the_verdicts_of_its_comparison():
    whole, sheet = of_comparison(series_of_the_clinic()), of_sheet(series_of_the_clinic())
    assert sheet == {place: whole[place] for place in sheet}
    assert len(sheet) == 5
    assert len(set(sheet.values())) > 1


@pytest.mark.parametrize(
    "poor, planned, further",
    [
        ((15, 15), "no difference that matters", "cannot tell"),
        ((12, 4), "may be better with advanced", "may be better with advanced"),
        ((28, 2), "better with advanced", "better with advanced"),
        ((2, 28), "better with graft", "better with graft"),
    ],
)
def test_a_register_made_by_hand(poor, planned, further):
    """Twelve of 30 against four differ by one test alone, but not after the correction for several."""
    register = together(lids("grafted", 30, poor=poor[0]), lids("advanced", 30, poor=poor[1]))
    series = read_for_counsel(register, PROTOCOL, as_of=AS_OF)[0]
    found = outcome_verdicts(series)
    assert (found["lid_lower"], found["swollen"]) == (planned, further)


def test_few_lids_are_too_few_to_say():
    series = read_for_counsel(together(lids("grafted", 3), lids("advanced", 30)), PROTOCOL, as_of=AS_OF)[0]
    assert set(outcome_verdicts(series).values()) == {"too few to say"}


def test_an_empty_register_has_no_verdicts():
    empty = InMemory({"patients": [], "reconstructions": [], "reviews": [], "events": []})
    assert outcome_verdicts(read_for_counsel(empty, PROTOCOL, as_of=AS_OF)[0]) == {}
