"""Rows of a register that the data dictionary does not allow.

The limits below were copied by hand from the data dictionary, not read from the protocol: this check shares nothing
with the generator or the loader. Rows come without their blank fields.
"""

from datetime import date

YES_NO = {"yes", "no"}
UNKNOWN_TOO = {"yes", "no", "unknown"}
COVERS = {"graft", "advancement", "transposition", "myocutaneous", "secondary intention", "other"}

CHOICES = {
    "sex": {"female", "male", "other", "unknown"},
    "smoker": {"never", "former", "current", "unknown"},
    "diabetes": UNKNOWN_TOO,
    "immunosuppressed": UNKNOWN_TOO,
    "anticoagulated": UNKNOWN_TOO,
    "prior_lid_radiotherapy": UNKNOWN_TOO,
    "side": {"right", "left"},
    "diagnosis": {
        "basal cell carcinoma",
        "squamous cell carcinoma",
        "sebaceous carcinoma",
        "melanoma",
        "Merkel cell carcinoma",
        "other malignant",
        "benign",
    },
    "bcc_subtype": {
        "nodular",
        "superficial",
        "micronodular",
        "infiltrating",
        "sclerosing",
        "basosquamous",
        "other",
        "mixed",
    },
    "recurrent_tumour": YES_NO,
    "defect_depth": {"skin", "skin and muscle", "full thickness"},
    "canthus_involved": {"none", "medial", "lateral", "both"},
    "excision_method": {"scalpel", "cutting diathermy", "radiofrequency", "laser", "other"},
    "margin_control": {"none", "paraffin before repair", "frozen section", "staged"},
    "histology_margin": {"clear", "close", "involved", "not assessable"},
    "histology_reason": {"thermal artefact", "fragmented", "orientation lost", "other"},
    "re_excised": YES_NO,
    "residual_tumour": YES_NO,
    "cover_planned": COVERS,
    "cover": COVERS,
    "graft_donor": {"upper lid", "preauricular", "postauricular", "supraclavicular", "inner arm", "other"},
    "division_early_reason": {"only-seeing eye", "dehiscence", "patient's wish", "other"},
    "masked": YES_NO,
    "mode": {"clinic", "photograph", "telephone", "letter"},
    "entropion": YES_NO,
    "trichiasis": YES_NO,
    "recurrence": {"none", "suspected", "confirmed"},
    "kind": {
        "pedicle dehiscence",
        "cover failure",
        "infection",
        "haematoma",
        "granuloma",
        "revision",
        "recurrence",
        "death",
        "withdrawn",
        "moved away",
    },
}
LIMITS = {
    "birth_year": (1900, 2026),
    "defect_width_mm": (1, 60),
    "lid_width_mm": (15, 45),
    "defect_height_mm": (1, 40),
    "distraction_mm": (0, 20),
    "snap_back": (0, 4),
    "fellow_logmar": (-0.3, 3.0),
    "clinical_margin_mm": (0, 20),
    "histology_lateral_mm": (0, 20),
    "histology_deep_mm": (0, 20),
    "flap_width_mm": (3, 40),
    "tarsus_left_mm": (0, 12),
    "margin_shortfall_mm": (-2, 6),
    "margin_position_mm": (0, 15),
    "fellow_margin_position_mm": (0, 15),
    "retraction_mm": (-5, 10),
    "scleral_show_mm": (0, 8),
    "notch_mm": (0, 8),
    "lash_loss_percent": (0, 100),
    "oedema": (0, 3),
    "ectropion": (0, 3),
    "margin_redness": (0, 3),
    "lagophthalmos_mm": (0, 15),
    "corneal_staining": (0, 5),
    "watering": (0, 5),
    "colour_mismatch": (0, 3),
    "contour_mismatch": (0, 3),
    "upper_margin_position_mm": (-2, 8),
    "fellow_upper_margin_position_mm": (-2, 8),
    "satisfaction": (0, 10),
    "percent_lost": (0, 100),
}
GRADES = {
    "snap_back",
    "oedema",
    "ectropion",
    "margin_redness",
    "corneal_staining",
    "watering",
    "colour_mismatch",
    "contour_mismatch",
    "satisfaction",
    "birth_year",
}
TEXT = {"patient_id", "case_id", "surgeon", "site", "assessor", "revision_kind"}
DATES = {"operated_on", "division_planned_on", "divided_on", "reviewed_on", "happened_on"}
REQUIRED = {
    "patients": {"patient_id"},
    "reconstructions": {"case_id", "patient_id", "side", "operated_on", "diagnosis", "cover"},
    "reviews": {"case_id", "reviewed_on"},
    "events": {"case_id", "happened_on", "kind"},
}
ONLY_WITH = {
    "graft_donor": ("cover", {"graft"}),
    "bcc_subtype": ("diagnosis", {"basal cell carcinoma"}),
    "histology_reason": ("histology_margin", {"not assessable", "close"}),
    "residual_tumour": ("re_excised", {"yes"}),
    "percent_lost": ("kind", {"cover failure"}),
    "revision_kind": ("kind", {"revision"}),
}
BEFORE_DIVISION = {"case_id", "reviewed_on", "assessor", "masked", "mode", "recurrence"}
ENDS = {"death", "withdrawn", "moved away"}


def allowed(column, value):
    """Whether a value is of its field's kind and within its limits."""
    if column in CHOICES:
        return value in CHOICES[column]
    if column in LIMITS:
        low, high = LIMITS[column]
        return isinstance(value, int | float) and low <= value <= high and (column not in GRADES or value == int(value))
    return isinstance(value, date if column in DATES else str) and column in DATES | TEXT


def cell_faults(sheet, number, row):
    """Faults that one row shows by itself."""
    for column, value in row.items():
        if not allowed(column, value):
            yield f"{sheet} {number}, {column}: {value!r}"
        if column in ONLY_WITH and row.get(ONLY_WITH[column][0]) not in ONLY_WITH[column][1]:
            yield f"{sheet} {number}, {column}: stands without its condition"
    for column in REQUIRED[sheet] - set(row):
        yield f"{sheet} {number}, {column}: missing"


def case_faults(register, closing):
    """Faults of codes and dates among the reconstructions."""
    patients = [row["patient_id"] for row in register["patients"]]
    cases = [row["case_id"] for row in register["reconstructions"]]
    if len(set(patients)) < len(patients) or len(set(cases)) < len(cases):
        yield "a code twice"
    for row in register["reconstructions"]:
        if row["patient_id"] not in patients:
            yield f"{row['case_id']}: no such patient"
        if row["operated_on"] > closing or row.get("divided_on", closing) > closing:
            yield f"{row['case_id']}: a date in the future"
        if any(row.get(field, date.max) <= row["operated_on"] for field in ("division_planned_on", "divided_on")):
            yield f"{row['case_id']}: divided before the operation"


def review_faults(register, cases, ended, closing):
    """Faults of reviews against their cases and their events."""
    dated = {(row["case_id"], row["happened_on"]) for row in register["events"] if row["kind"] == "recurrence"}
    keys = set()
    for row in register["reviews"]:
        case, day = row["case_id"], row["reviewed_on"]
        where = f"{case} on {day}"
        if (case, day, row["assessor"]) in keys:
            yield f"{where}: examined twice by one assessor"
        keys.add((case, day, row["assessor"]))
        if not cases[case]["operated_on"] < day <= closing:
            yield f"{where}: outside the story"
        if day >= ended.get(case, date.max):
            yield f"{where}: after the end"
        if day < cases[case].get("divided_on", date.max) and not set(row) <= BEFORE_DIVISION:
            yield f"{where}: a lid measure before division"
        if row["mode"] in {"telephone", "letter"} and any(column.endswith("_mm") for column in row):
            yield f"{where}: millimetres by {row['mode']}"
        if row.get("recurrence") == "confirmed" and (case, day) not in dated:
            yield f"{where}: a confirmed recurrence without its event"


def event_faults(register, cases, ended, closing):
    """Faults of events against their cases."""
    for row in register["events"]:
        if (
            not cases[row["case_id"]]["operated_on"]
            < row["happened_on"]
            <= min(closing, ended.get(row["case_id"], closing))
        ):
            yield f"{row['case_id']}: {row['kind']} outside the story"


def faults(register, closing=date(2026, 6, 30)):
    """Every fault of a register, in words; none where every row is legal."""
    found = [
        fault
        for sheet, rows in register.items()
        for number, row in enumerate(rows, start=2)
        for fault in cell_faults(sheet, number, row)
    ]
    cases = {row["case_id"]: row for row in register["reconstructions"]}
    strangers = {row["case_id"] for sheet in ("reviews", "events") for row in register[sheet]} - set(cases)
    if strangers:
        return [*found, f"no such cases: {sorted(strangers)}"]
    ended = {row["case_id"]: row["happened_on"] for row in register["events"] if row["kind"] in ENDS}
    return [
        *found,
        *case_faults(register, closing),
        *review_faults(register, cases, ended, closing),
        *event_faults(register, cases, ended, closing),
    ]


def without_blanks(register):
    """The rows without the fields that are not recorded."""
    return {
        sheet: [{column: value for column, value in row.items() if value not in ("", None)} for row in rows]
        for sheet, rows in register.items()
    }
