"""Which characteristics enter the model of the cover, and what is said of those that stay out?"""

from dataclasses import replace

import numpy as np
import pytest

from outcomes.findings.propensity import choose_covers, open_choices
from outcomes.protocol import default_protocol
from outcomes.statistics.overlap import weighted_difference
from tests.rows import case, series_of, sheets

PROTOCOL = default_protocol()
FEW = replace(PROTOCOL, rules=replace(PROTOCOL.rules, resamples=50))
PATIENT = {"birth_year": 1950, "smoker": "never", "prior_lid_radiotherapy": "no"}


def defect(rng, cover, **fixed):
    """One lid whose characteristics are all recorded; laxity leans towards advancing."""
    return {
        "defect_width_mm": float(rng.integers(10, 26)),
        "lid_width_mm": 30.0,
        "defect_height_mm": float(rng.integers(4, 12)),
        "distraction_mm": float(rng.integers(4, 12)) + (1.0 if cover == "advancement" else 0.0),
        "defect_depth": str(rng.choice(["full thickness", "skin and muscle"])),
        "canthus_involved": str(rng.choice(["none", "medial"])),
        "recurrent_tumour": str(rng.choice(["yes", "no"])),
        "surgeon": str(rng.choice(["KM", "PL"])),
        **fixed,
    }


def rows(each, *, change=lambda _, lid: lid):
    rng = np.random.default_rng(3)
    cases = []
    for place in range(2 * each):
        cover = "advancement" if place % 2 else "graft"
        lid = case(f"L{place:03d}", cover, **defect(rng, cover))
        cases.append(change(place, lid))
    return sheets(cases)


def chosen(made, protocol=FEW):
    return choose_covers(series_of(made, protocol=protocol))


def labels(number):
    ordered = sorted((each for each in PROTOCOL.characteristics if each.adjust), key=lambda each: each.adjust)
    return [each.label for each in ordered][:number]


@pytest.mark.parametrize("each, terms", [(7, 0), (8, 1), (15, 1), (16, 2), (24, 3), (40, 5)])
def test_one_term_for_each_eight_lids_of_the_smaller_cohort_in_the_protocols_order(each, terms):
    adjustment = chosen(rows(each)).adjustment
    assert list(adjustment.covariates) == labels(terms)
    assert adjustment.estimable is (terms > 0)
    assert all(
        reason.endswith(("(too few lids to bear it)", "(not recorded, or the same in all)"))
        for reason in adjustment.left_out
    )


def test_the_number_of_terms_is_the_protocols():
    rules = replace(FEW.rules, cases_per_covariate=4)
    assert list(chosen(rows(8), replace(FEW, rules=rules)).adjustment.covariates) == labels(2)


def test_too_few_lids_for_any_model_is_said_and_is_not_no_overlap():
    choice = chosen(rows(7))
    assert choice.weight is None
    assert not choice.no_overlap
    assert choice.adjustment.note == "too few lids for a model of the cover"


def test_a_missing_number_takes_the_mean_and_from_five_on_an_indicator_as_a_term_of_its_own():
    def lacking(number):
        def change(place, lid):
            return {**lid, "distraction_mm": None} if place < number else lid

        return chosen(rows(24, change=change))

    four, five = lacking(4), lacking(5)
    assert list(four.adjustment.covariates) == labels(3)
    assert four.covariates.shape[1] == 3
    # Share of the lid, distraction, and whether distraction is missing: nothing is left for the height.
    assert list(five.adjustment.covariates) == labels(2)
    assert five.covariates.shape[1] == 3
    # A lid whose distraction is missing lies at the mean, which is 0 after standardising.
    assert four.covariates[:4, 1] == pytest.approx(0, abs=1e-12)
    indicator = five.covariates[:, 2]
    assert len({round(float(value), 9) for value in indicator[:5]}) == 1
    assert len({round(float(value), 9) for value in indicator}) == 2


@pytest.mark.parametrize("value", [None, 8.0])
def test_a_characteristic_that_nobody_recorded_or_that_never_differs_is_left_out_with_the_reason(value):
    adjustment = chosen(rows(16, change=lambda _, lid: {**lid, "distraction_mm": value})).adjustment
    assert "Distraction (laxity) (not recorded, or the same in all)" in adjustment.left_out
    assert list(adjustment.covariates) == [labels(3)[0], labels(3)[2]]


def test_nothing_recorded_at_all_is_said():
    def bare(_, lid):
        return {
            name: lid[name]
            for name in ("case_id", "patient_id", "side", "operated_on", "divided_on", "diagnosis", "cover")
        }

    made = rows(16, change=bare)
    for patient in made["patients"]:
        patient["birth_year"] = None
    choice = chosen(made)
    assert choice.weight is None
    assert choice.adjustment.note == "no characteristic was recorded that differs"


def apart(place, lid):
    """Every wide defect was grafted, every narrow one advanced."""
    return {**lid, "defect_width_mm": 12.0 + place % 3 if lid["cover"] == "advancement" else 24.0 + place % 3}


def test_covers_told_apart_by_one_characteristic_do_not_overlap():
    choice = chosen(rows(16, change=apart))
    assert choice.adjustment.penalised
    assert choice.no_overlap
    assert choice.weight is None
    assert choice.resampled_weight is None
    assert choice.adjustment.note.startswith("the covers do not overlap")


def test_covers_that_separate_nearly_are_weighted_by_the_few_lids_that_could_have_had_either():
    def nearly(place, lid):
        return lid if place < 10 else apart(place, lid)

    choice = chosen(rows(16, change=nearly))
    assert choice.adjustment.estimable
    assert choice.adjustment.effective_n_grafted < 16
    assert choice.adjustment.effective_n_advanced < 16


def test_weighted_means_of_what_entered_are_the_same_under_both_covers():
    """Li, Morgan & Zaslavsky 2018: exact after a logistic model fitted by maximum likelihood."""
    made = rows(40)
    choice = chosen(made)
    second = np.array([lid["cover"] == "advancement" for lid in made["reconstructions"]])
    assert not choice.adjustment.penalised
    for column in choice.covariates.T:
        assert weighted_difference(column, second, choice.weight) == pytest.approx(0, abs=1e-8)


def test_the_model_is_fitted_anew_in_every_resample():
    choice = chosen(rows(24))
    assert choice.resampled.shape == choice.resampled_weight.shape == (50, 48)
    refitted = np.divide(
        choice.resampled_weight,
        choice.resampled,
        out=np.full(choice.resampled.shape, np.nan),
        where=choice.resampled > 0,
    )
    spread = np.nanstd(refitted, axis=0)
    assert (spread > 1e-6).mean() > 0.95


def test_one_cohort_without_lids_is_said():
    choice = chosen(rows(8, change=lambda _, lid: {**lid, "cover": "graft"}))
    assert choice.adjustment.note == "one cohort has no lids"
    assert not choice.no_overlap


def test_surgeons_enter_as_levels_once_lids_allow():
    adjustment = chosen(rows(120)).adjustment
    assert "Surgeon" in adjustment.covariates


@pytest.mark.parametrize("each", [8, 16, 40])
def test_no_number_of_lids_makes_separate_covers_overlap(each):
    """Told apart perfectly, all lids weigh about alike, so that the effective size says nothing: only the open choices do."""
    assert chosen(rows(each, change=apart)).no_overlap


def test_open_choices_by_hand():
    """Three even choices, one of 1 in 4, one certain: 3 + 1/2 + 0."""
    assert open_choices(np.array([0.5, 0.5, 0.5, 0.25, 0.0])) == 3.5
