"""No small count of grades follows from what is printed of them together: an attacker tries every way they can lie."""

import random
from dataclasses import replace

import pytest

from outcomes.findings import compare, public, stamp
from outcomes.findings.disclosure import public_findings
from outcomes.findings.disclosure.alternatives import Scale, alternatives, leave_open
from outcomes.findings.disclosure.public_findings import notes_beside_nothing
from outcomes.findings.results import Contrast, Note
from outcomes.protocol import Threshold
from outcomes.report import document
from tests.findings.disclosure.grades import cells, worked_back
from tests.findings.disclosure.test_suppression import FEW
from tests.rows import case, review, series_of, sheets

GRADES = Scale(0, 3, 1, Threshold(at_least=2), 5)


def graded(seed):
    """A register by chance of patients with one lid each: grades that few or many have, at one review."""
    chance = random.Random(seed)
    cases = [
        case(f"L{number:03}", chance.choice(["graft", "advancement"])) for number in range(chance.randrange(36, 110))
    ]
    weights = {
        name: [chance.uniform(0.05, 1) ** 2 for _ in range(4)]
        for name in ("oedema", "margin_redness", "colour_mismatch")
    }
    reviews = [
        review(each["case_id"], 183, **{name: chance.choices(range(4), weight)[0] for name, weight in weights.items()})
        for each in cases
        if chance.random() < 0.85
    ]
    series = series_of(sheets(cases, reviews), protocol=FEW)
    return compare(series, stamp(series, digest="0" * 64, frozen="", software="outcomes"))


def attacked(found):
    return list(cells(document(found), document(public(found, FEW)), FEW))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(12))
def test_no_small_count_of_a_grade_follows_from_what_is_printed(seed):
    assert worked_back(attacked(graded(seed))) == []


def test_the_attacker_succeeds_where_an_interval_is_printed_whatever_it_tells(monkeypatch):
    """The planted fault: every register's means and intervals are taken as safe."""
    monkeypatch.setattr(public_findings, "leave_open", lambda *_: True)
    found = [each for seed in range(12) for each in attacked(graded(seed))]
    assert len(found) > 20
    assert len(worked_back(found)) > 2


def test_grades_of_which_one_way_only_is_left_are_not_open():
    """Of three grades the poor lids are those of the last, and the sum then tells the lids of the middle one: 17 - 2 x 7 = 3."""
    several = alternatives(((0, 9), (1, 3), (2, 5), (3, 3)), GRADES)
    assert leave_open((several, several), None, 0)
    one_way = alternatives(((0, 10), (1, 3), (2, 7)), replace(GRADES, most=2))
    assert one_way.has_small
    assert not leave_open((one_way, several), None, 0)


def test_an_interval_can_tell_what_the_mean_leaves_open():
    side = alternatives(((0, 9), (1, 3), (2, 5), (3, 3)), GRADES)
    assert not leave_open((side, side), Contrast("difference of means", 0.0, -0.7012, 0.7012), 4)
    assert leave_open((side, side), Contrast("difference of means", 0.0, -0.7, 0.7), 0)


def test_counts_that_are_all_safe_need_no_alternative():
    assert not alternatives(((0, 9), (1, 8), (2, 7), (3, 6)), GRADES).has_small


def test_beside_a_verdict_alone_no_note_follows_from_the_values():
    told = notes_beside_nothing((Note("no_interval"), Note("no_overlap"), Note("win_probability_disagrees")))
    assert [each.id for each in told] == ["no_overlap", "public"]
