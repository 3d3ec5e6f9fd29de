"""Which characteristics enter, how many, the surgeon on top, and when the covers do not overlap."""

from datetime import date

import numpy as np
import pytest

from outcomes.findings import sample
from outcomes.findings.covariates import allowed_terms, covariates
from outcomes.findings.propensity import choose_covers
from outcomes.findings.results import LeftOut
from outcomes.findings.sample import overlap
from outcomes.statistics.cover_model import cover_model_of_all
from outcomes.statistics.design_matrix import design_matrix
from outcomes.statistics.two_cohorts import two_cohorts
from tests.findings.lids import RULES
from tests.rows import series_of, sheets
from tests.whole.planted.edges import both


@pytest.mark.parametrize(
    "due, allowed",
    [(0, 0), (3, 0), (4, 1), (11, 2), (12, 3), (19, 4), (20, 5), (40, 5), (47, 5), (48, 6), (70, 8), (150, 18)],
)
def test_one_for_every_eight_lids_due_but_three_at_twelve_and_five_at_twenty(due, allowed):
    assert allowed_terms(due, 8) == allowed


def series(lids):
    return series_of(sheets(lids))


def test_they_enter_in_the_order_of_the_protocol():
    chosen = covariates(series(both(20))).chosen(12)
    assert chosen.used == ("Defect width as share of the lid", "Distraction (laxity)", "Defect height")
    assert LeftOut("Full-thickness defect", "too_few_lids") in chosen.left_out


def test_a_missing_number_takes_the_mean_and_from_five_on_an_indicator():
    for missing, columns in ((4, 1), (5, 2)):
        lids = both(20)
        for each in lids[:missing]:
            each["distraction_mm"] = None
        (term,) = [term for term in covariates(series(lids)).terms if term.label == "Distraction (laxity)"]
        assert len(term.columns) == columns
        known = term.columns[0]
        gaps = [each["distraction_mm"] is None for each in sorted(lids, key=lambda each: each["case_id"])]
        assert known[gaps] == pytest.approx(known[~np.array(gaps)].mean())


def by_surgeons(*names):
    lids = both(20)
    return [{**each, "surgeon": names[place % len(names)]} for place, each in enumerate(lids)]


def test_the_surgeon_comes_on_top_where_two_did_both():
    """Lids alternate between the covers, so that surgeons in runs of two do both."""
    found = covariates(series(by_surgeons("A", "A", "B", "B")))
    assert found.surgeon.max() == 1
    assert found.chosen(12).used[-1] == "Surgeon"
    assert found.chosen(12).columns.groups == 1
    assert len(found.chosen(12).without_surgeon) == 3


@pytest.mark.parametrize("lids, levels", [(7, 0), (8, 2)])
def test_a_surgeon_has_a_level_from_eight_lids_on(lids, levels):
    names = ["B"] * lids + ["A"] * (40 - lids)
    assert np.unique(covariates(series(by_surgeons(*names))).surgeon).size == levels


def test_a_surgeon_who_is_the_cover_leaves_no_overlap():
    lids = series(by_surgeons("A", "B"))
    found = covariates(lids)
    assert found.one_surgeon_a_cover
    assert LeftOut("Surgeon", "one_surgeon_a_cover") in found.chosen(20).left_out
    choice = choose_covers(lids, found)
    assert (choice.weight, choice.adjustment.why_not) == (None, "no_overlap")


def test_one_surgeon_who_did_both_beside_one_who_did_not_is_said():
    found = covariates(series(by_surgeons("A", "A", "A", "B", "A", "A", "A", "B")))
    assert (found.surgeon.size, found.one_surgeon_a_cover) == (0, False)
    assert LeftOut("Surgeon", "one_surgeon_did_both") in found.chosen(20).left_out


def model(second, *columns):
    """The cover model of lids of different patients."""
    return cover_model_of_all(two_cohorts(second, range(second.size), covariates=np.column_stack(columns)))


def test_overlap_fails_where_the_chances_tell_all_lids_apart_and_not_where_they_nearly_do():
    second = np.repeat([0, 1], 30)
    apart = np.arange(60.0)
    assert not overlap(model(second, apart), RULES)
    mixed = np.tile(np.arange(30.0), 2)
    assert overlap(model(second, mixed), RULES)


def test_two_lids_with_a_rare_characteristic_do_not_undo_the_overlap():
    """A characteristic of two grafted lids tells these apart, and no others."""
    second, rare = np.repeat([0, 1], 30), np.array([1.0, 1.0] + [0.0] * 58)
    mixed = np.tile(np.arange(30.0), 2)
    assert overlap(model(second, mixed, rare), RULES)


@pytest.mark.parametrize("each, overlapping", [(4, False), (5, True)])
def test_overlap_asks_for_the_protocols_minimum_of_effective_lids(each, overlapping):
    second = np.repeat([0, 1], each)
    alike = np.tile(np.arange(float(each)), 2)
    assert overlap(model(second, alike), RULES) is overlapping


def test_weights_balance_what_entered():
    lids = [
        {**each, "operated_on": date(2024, 1, 1), "distraction_mm": each["distraction_mm"] + (each["cover"] == "graft")}
        for each in both(30)
    ]
    one = series(lids)
    choice = choose_covers(one, covariates(one))
    assert choice.weight is not None
    assert choice.adjustment.surgeons == 0


def test_the_columns_are_held_once_for_all_numbers_of_lids_that_bear_them_all():
    """In a large register every window has another number of lids due: a copy for each would fill the memory."""
    found = covariates(series(both(20)))
    assert found.chosen(10_000) is found.chosen(10_001)
    assert found.chosen(12) is not found.chosen(10_000)


@pytest.mark.parametrize("apart, why", [(0.3, ""), (8.0, "no_overlap")])
def test_of_very_many_lids_a_part_may_show_that_the_covers_overlap(apart, why, monkeypatch):
    monkeypatch.setattr(sample, "PART", 50)
    rng = np.random.default_rng(5)
    known, second = rng.normal(size=(400, 1)), np.arange(400) % 3 == 0
    columns = design_matrix(known + apart * second[:, np.newaxis])
    one = sample.Sample(second, np.arange(400), columns, np.ones(400, dtype=bool), RULES)
    assert one.why_not_adjusted == why
    assert ("cover_of_all" in vars(one)) is bool(why)  # the whole is modelled where a part does not show it
