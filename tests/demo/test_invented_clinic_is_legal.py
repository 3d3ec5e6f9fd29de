"""Is every row of the invented clinic one that domain.md allows?

The limits below were copied by hand from the data dictionary, not read from the protocol: this check shares
nothing with the generator or the loader.
"""

from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
import python_calamine

WORKBOOK = Path(__file__).parents[2] / "demo" / "invented_clinic.xlsx"
CLOSING = date(2026, 6, 30)
YES_NO = {"yes", "no"}
UNKNOWN_TOO = {"yes", "no", "unknown"}
COVERS = {"graft", "advancement", "transposition", "myocutaneous", "secondary intention", "other"}

CHOICES = {
    "sex": {"female", "male", "other", "unknown"},
    "smoker": {"never", "former", "current", "unknown"},
    "diabetes": UNKNOWN_TOO, "immunosuppressed": UNKNOWN_TOO, "anticoagulated": UNKNOWN_TOO,
    "prior_lid_radiotherapy": UNKNOWN_TOO,
    "side": {"right", "left"},
    "diagnosis": {"basal cell carcinoma", "squamous cell carcinoma", "sebaceous carcinoma", "melanoma",
                  "Merkel cell carcinoma", "other malignant", "benign"},
    "bcc_subtype": {"nodular", "superficial", "micronodular", "infiltrating", "sclerosing", "basosquamous", "other",
                    "mixed"},
    "recurrent_tumour": YES_NO,
    "defect_depth": {"skin", "skin and muscle", "full thickness"},
    "canthus_involved": {"none", "medial", "lateral", "both"},
    "excision_method": {"scalpel", "cutting diathermy", "radiofrequency", "laser", "other"},
    "margin_control": {"none", "paraffin before repair", "frozen section", "staged"},
    "histology_margin": {"clear", "close", "involved", "not assessable"},
    "histology_reason": {"thermal artefact", "fragmented", "orientation lost", "other"},
    "re_excised": YES_NO, "residual_tumour": YES_NO,
    "cover_planned": COVERS, "cover": COVERS,
    "graft_donor": {"upper lid", "preauricular", "postauricular", "supraclavicular", "inner arm", "other"},
    "division_early_reason": {"only-seeing eye", "dehiscence", "patient's wish", "other"},
    "masked": YES_NO, "mode": {"clinic", "photograph", "telephone", "letter"},
    "entropion": YES_NO, "trichiasis": YES_NO,
    "recurrence": {"none", "suspected", "confirmed"},
    "kind": {"pedicle dehiscence", "cover failure", "infection", "haematoma", "granuloma", "revision", "recurrence",
             "death", "withdrawn", "moved away"},
}
LIMITS = {
    "birth_year": (1900, 2026), "defect_width_mm": (1, 60), "lid_width_mm": (15, 45), "defect_height_mm": (1, 40),
    "distraction_mm": (0, 20), "snap_back": (0, 4), "fellow_logmar": (-0.3, 3.0), "clinical_margin_mm": (0, 20),
    "histology_lateral_mm": (0, 20), "histology_deep_mm": (0, 20), "flap_width_mm": (3, 40), "tarsus_left_mm": (0, 12),
    "margin_shortfall_mm": (-2, 6), "margin_position_mm": (0, 15), "fellow_margin_position_mm": (0, 15),
    "retraction_mm": (-5, 10), "scleral_show_mm": (0, 8), "notch_mm": (0, 8), "lash_loss_percent": (0, 100),
    "oedema": (0, 3), "ectropion": (0, 3), "margin_redness": (0, 3), "lagophthalmos_mm": (0, 15),
    "corneal_staining": (0, 5), "watering": (0, 5), "colour_mismatch": (0, 3), "contour_mismatch": (0, 3),
    "upper_margin_position_mm": (-2, 8), "fellow_upper_margin_position_mm": (-2, 8), "satisfaction": (0, 10),
    "percent_lost": (0, 100),
}
GRADES = {"snap_back", "oedema", "ectropion", "margin_redness", "corneal_staining", "watering", "colour_mismatch",
          "contour_mismatch", "satisfaction"}
TEXT = {"patient_id", "case_id", "surgeon", "site", "assessor", "revision_kind"}
DATES = {"operated_on", "division_planned_on", "divided_on", "reviewed_on", "happened_on"}
REQUIRED = {
    "patients": ["patient_id"],
    "reconstructions": ["case_id", "patient_id", "side", "operated_on", "diagnosis", "cover"],
    "reviews": ["case_id", "reviewed_on"],
    "events": ["case_id", "happened_on", "kind"],
}
NOT_MEASURES = {"case_id", "reviewed_on", "assessor", "masked", "mode", "recurrence"}
ENDS = {"death", "withdrawn", "moved away"}


def sheets():
    book = python_calamine.CalamineWorkbook.from_path(str(WORKBOOK))
    assert book.sheet_names == ["patients", "reconstructions", "reviews", "events", "definitions"]
    found = {}
    for name in REQUIRED:
        head, *rows = book.get_sheet_by_name(name).to_python()
        found[name] = [{column: value for column, value in zip(head, row, strict=True) if value != ""} for row in rows]
    return found


@pytest.fixture(scope="module")
def clinic():
    return sheets()


@pytest.fixture(scope="module")
def cases(clinic):
    return {row["case_id"]: row for row in clinic["reconstructions"]}


def test_every_column_is_one_of_the_data_dictionary(clinic):
    known = set(CHOICES) | set(LIMITS) | TEXT | DATES
    assert {column for rows in clinic.values() for row in rows for column in row} <= known


def test_every_value_is_of_its_kind_and_within_its_limits(clinic):
    for rows in clinic.values():
        for row in rows:
            for column, value in row.items():
                if column in CHOICES:
                    assert value in CHOICES[column], (column, value)
                elif column in LIMITS:
                    low, high = LIMITS[column]
                    assert isinstance(value, int | float), (column, value)
                    assert low <= value <= high, (column, value)
                    assert column not in GRADES or value == int(value), (column, value)
                elif column in DATES:
                    assert isinstance(value, date), (column, value)
                else:
                    assert isinstance(value, str), (column, value)


def test_required_fields_are_filled(clinic):
    for sheet, columns in REQUIRED.items():
        assert all(column in row for row in clinic[sheet] for column in columns), sheet


def test_codes_are_unique_and_point_somewhere(clinic, cases):
    patients = {row["patient_id"] for row in clinic["patients"]}
    assert len(patients) == len(clinic["patients"])
    assert len(cases) == len(clinic["reconstructions"])
    assert {row["patient_id"] for row in cases.values()} == patients
    assert {row["case_id"] for row in clinic["reviews"]} <= set(cases)
    assert {row["case_id"] for row in clinic["events"]} <= set(cases)
    assert len({(row["patient_id"], row["side"]) for row in cases.values()}) == len(cases)
    keys = [(row["case_id"], row["reviewed_on"], row["assessor"]) for row in clinic["reviews"]]
    assert len(set(keys)) == len(keys)


def test_conditional_fields_stand_only_with_their_condition(clinic, cases):
    for row in cases.values():
        assert "graft_donor" not in row or row["cover"] == "graft"
        assert "bcc_subtype" not in row or row["diagnosis"] == "basal cell carcinoma"
        assert "histology_reason" not in row or row["histology_margin"] in {"not assessable", "close"}
        assert "residual_tumour" not in row or row["re_excised"] == "yes"
    for row in clinic["events"]:
        assert "percent_lost" not in row or row["kind"] == "cover failure"
        assert "revision_kind" not in row or row["kind"] == "revision"


def test_margin_words_agree_with_the_clear_distances(cases):
    for row in cases.values():
        clear = [row[field] for field in ("histology_lateral_mm", "histology_deep_mm") if field in row]
        if row.get("histology_margin") == "clear":
            assert min(clear) >= 1
        if row.get("histology_margin") == "close":
            assert 0 < min(clear) < 1
        if row.get("histology_margin") == "involved":
            assert min(clear) == 0


def test_dates_are_in_order_and_not_in_the_future(clinic, cases):
    for row in cases.values():
        assert date(2017, 1, 1) <= row["operated_on"] <= CLOSING
        for field in ("division_planned_on", "divided_on"):
            assert field not in row or row["operated_on"] < row[field]
        assert "divided_on" not in row or row["divided_on"] <= CLOSING
        assert "division_early_reason" not in row or row["divided_on"] < row["division_planned_on"]
    for sheet, field in (("reviews", "reviewed_on"), ("events", "happened_on")):
        for row in clinic[sheet]:
            assert cases[row["case_id"]]["operated_on"] < row[field] <= CLOSING


def test_no_lid_is_measured_before_its_division(clinic, cases):
    for row in clinic["reviews"]:
        divided_on = cases[row["case_id"]].get("divided_on")
        if divided_on is None or row["reviewed_on"] < divided_on:
            assert set(row) <= NOT_MEASURES


def test_telephone_and_letter_bring_no_millimetres(clinic):
    remote = [row for row in clinic["reviews"] if row["mode"] in {"telephone", "letter"}]
    assert len(remote) > 10
    assert not [row for row in remote if any(column.endswith("_mm") for column in row)]


def test_nothing_happens_after_a_departure(clinic):
    ended = {row["case_id"]: row["happened_on"] for row in clinic["events"] if row["kind"] in ENDS}
    assert len(ended) == sum(row["kind"] in ENDS for row in clinic["events"])
    assert all(row["reviewed_on"] < ended.get(row["case_id"], date.max) for row in clinic["reviews"])
    assert all(row["happened_on"] <= ended.get(row["case_id"], date.max) for row in clinic["events"])


def test_a_departure_is_written_for_both_lids(clinic, cases):
    ends = {}
    for row in clinic["events"]:
        if row["kind"] in ENDS:
            ends.setdefault(cases[row["case_id"]]["patient_id"], set()).add((row["kind"], row["happened_on"]))
    assert all(len(days) == 1 for days in ends.values())


def test_a_confirmed_recurrence_has_its_event_on_that_day(clinic):
    said = [row for row in clinic["reviews"] if row.get("recurrence") == "confirmed"]
    confirmed = {(row["case_id"], row["reviewed_on"]) for row in said}
    dated = {(row["case_id"], row["happened_on"]) for row in clinic["events"] if row["kind"] == "recurrence"}
    assert confirmed == dated
    assert len(dated) >= 3


def test_retraction_is_entered_only_where_the_fellow_lid_cannot_serve(clinic):
    entered = [row for row in clinic["reviews"] if "retraction_mm" in row]
    assert entered
    assert not [row for row in entered if "fellow_margin_position_mm" in row]


def test_lengths_are_whole_and_half_millimetres(clinic):
    lengths = [value for row in clinic["reviews"] for column, value in row.items() if column.endswith("_mm")]
    assert all(value * 2 == int(value * 2) for value in lengths)


def test_the_odd_rows_are_there_and_few(clinic, cases):
    wide = [row for row in cases.values() if row["defect_width_mm"] > row["lid_width_mm"]]
    thin = [row for row in cases.values() if row["tarsus_left_mm"] < 4]
    late = [row for row in cases.values() if row["cover"] == "graft" and "divided_on" in row
            and row["divided_on"] - row["operated_on"] > timedelta(days=28)]
    assert (len(wide), len(thin), len(late)) == (1, 2, 1)
    runs = {}
    for row in clinic["reviews"]:
        if "margin_position_mm" in row:
            runs.setdefault(row["case_id"], []).append(row["margin_position_mm"])
    jumps = [case for case, run in runs.items() if any(abs(b - a) >= 4 for a, b in pairwise(run))]
    assert len(jumps) == 1
