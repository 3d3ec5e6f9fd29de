"""Each check is the same estimate with one thing done differently, worked on lids whose means are plain."""

from dataclasses import replace

import numpy as np
import pytest

from outcomes.findings.checks import Question, checks_of, unchecked_of
from outcomes.findings.covariates import Covariates
from outcomes.findings.masking import masked_saw_less
from outcomes.findings.outcomes import scale_of
from outcomes.findings.results import Unchecked
from outcomes.findings.sample import sample_of
from tests.findings.lids import PROTOCOL, RULES, lids

NOTCH = PROTOCOL.measure("notching")
GRAFTED, ADVANCED = [0, 1, 2, 1, 0, 2, 1, 1], [1, 2, 3, 2, 1, 3, 2, 2]
PLACES = np.zeros(16)


def question(some, *, stratum=None, **changes):
    names = np.full(some.second.size, "") if stratum is None else np.array(stratum)
    nothing = Covariates((), "Surgeon", np.empty(0, dtype=int), names, False, False, RULES)
    return Question(NOTCH, "main", scale_of(NOTCH, "main", 0.5), some, nothing, **changes)


def checks(some, **changes):
    one = question(some, **changes)
    return {each.id: each for each in checks_of(one, sample_of(some, some.seen, one.covariates))}


def test_lids_measured_wholly_and_done_as_planned_have_no_checks():
    assert checks(lids(GRAFTED, ADVANCED), order=np.full(16, 20.0)) == {}


def test_as_planned_puts_lids_where_they_were_meant_to_be():
    """One lid with value 3 moves from advanced to grafted: means 11/9 and 13/7."""
    some = lids(GRAFTED, ADVANCED)
    planned = some.second.copy()
    planned[10] = False
    found = checks(replace(some, planned=planned), order=np.full(16, 20.0))["as_planned"]
    assert found.estimate == pytest.approx(13 / 7 - 11 / 9)


def test_masked_reviews_are_the_same_estimate_of_their_own_lids():
    some, other = lids(GRAFTED, ADVANCED), lids(GRAFTED, [*ADVANCED[:-1], None])
    assert checks(some, masked=other, order=np.full(16, 20.0))["masked_only"].estimate == pytest.approx(2 - 1)
    few = lids(GRAFTED, [*ADVANCED[:4], *[None] * 4])
    assert "masked_only" not in checks(some, masked=few, order=np.full(16, 20.0))


def test_the_first_twenty_of_each_cover_are_left_out():
    order = np.concatenate([np.arange(18, 26), np.arange(18, 26)]).astype(float)
    found = checks(lids(GRAFTED, ADVANCED), order=order)["without_first_twenty"]
    assert found.estimate == pytest.approx(np.mean(ADVANCED[2:]) - np.mean(GRAFTED[2:]))


def test_a_revised_lid_counts_the_other_way():
    """The first grafted lid, of value 0, was revised: as poor it is 1 mm."""
    found = checks(lids(GRAFTED, ADVANCED, revised=[0]), order=np.full(16, 20.0))["revision_poor"]
    assert found.estimate == pytest.approx(2 - 9 / 8)


def test_within_surgeons_leaves_out_who_did_one_cover_only():
    """Surgeon A did the first six and B the next six of either cover; C did grafts only."""
    some = lids([*GRAFTED, 9, 9], ADVANCED)
    stratum = ["A"] * 4 + ["B"] * 4 + ["C"] * 2 + ["A"] * 4 + ["B"] * 4
    found = checks(some, stratum=stratum, order=np.full(18, 20.0))["within_surgeon"]
    assert found.estimate == pytest.approx(1)
    names = np.array(stratum)
    covariates = Covariates((), "Surgeon", np.where(names == "B", 1, 0), names, True, False, RULES)
    one = replace(question(some, order=np.full(18, 20.0)), covariates=covariates)
    made = {each.id: each for each in checks_of(one, sample_of(some, some.seen, covariates))}
    assert made["within_surgeon"].estimate == pytest.approx(1)


def test_within_surgeons_is_left_out_where_it_is_the_main_estimate_again():
    """Two surgeons who both did both: with the surgeon among the characteristics it is the same model, without it is another."""
    some, names = lids(GRAFTED, ADVANCED), np.array(["A", "A", "B", "B"] * 4)
    for surgeon, left_out in ((np.where(names == "A", 1, 0), True), (np.empty(0, dtype=int), False)):
        covariates = Covariates((), "Surgeon", surgeon, names, True, False, RULES)
        one = replace(question(some, order=np.full(16, 20.0)), covariates=covariates)
        made = {each.id for each in checks_of(one, sample_of(some, some.seen, covariates))}
        assert ("within_surgeon" not in made) is left_out


@pytest.mark.parametrize(
    "masked, reason",
    [
        (None, "none_masked"),
        (lids([None] * 8, [None] * 8), "none_masked"),
        (lids(GRAFTED, ADVANCED), "all_masked"),
        (lids(GRAFTED, [*ADVANCED[:4], *[None] * 4]), "few_masked"),
        (lids(GRAFTED, [*ADVANCED[:5], *[None] * 3]), None),
    ],
)
def test_it_is_known_why_masked_assessors_have_no_estimate_of_their_own(masked, reason):
    some = lids(GRAFTED, ADVANCED)
    one = question(some, masked=masked)
    made = checks_of(one, sample_of(some, some.seen, one.covariates))
    expected = () if reason is None else (Unchecked("masked_only", reason),)
    assert unchecked_of(one, made) == expected


def test_masked_assessors_saw_less_only_where_their_interval_excludes_the_unmasked_difference_towards_none():
    unmasked = lids([2, 2, 3, 3, 2, 3, 2, 3], [0, 0, 1, 1, 0, 1, 0, 1])
    same, none, more = (
        unmasked,
        lids([1, 1, 2, 2, 1, 2, 1, 2], [1, 1, 2, 2, 1, 2, 1, 2]),
        lids([4, 4, 5, 5, 4, 5, 4, 5], [0, 0, 1, 1, 0, 1, 0, 1]),
    )
    for masked, less in ((same, False), (none, True), (more, False)):
        assert masked_saw_less(question(unmasked, masked=masked), unmasked) is less
    few = lids([1, 1, 2, 2, None, None, None, None], [1, 1, 2, 2, 1, 2, 1, 2])
    assert not masked_saw_less(question(unmasked, masked=few), unmasked)
    assert not masked_saw_less(question(unmasked), unmasked)
