"""Registers so bare that nothing, or hardly anything, can be estimated.

One function an edge. Each returns the four sheets as rows; its docstring says what is bare. Nobody in them is real.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from tests.rows import DIVIDED, OPERATED, case, review, sheets

Rows = dict[str, list[dict[str, Any]]]
NOTCH = {
    "notch_mm": 1.0,
    "margin_position_mm": 5.5,
    "fellow_margin_position_mm": 5.0,
    "oedema": "1",
    "scleral_show_mm": 0.5,
}
DAYS = (7, 42, 91, 183, 365)


def lid(number: int, cover: str, **fields: Any) -> dict[str, Any]:
    """One lid whose characteristics are all recorded and differ from lid to lid."""
    defect = {
        "defect_width_mm": 12.0 + number % 7,
        "lid_width_mm": 30.0,
        "defect_height_mm": 5.0 + number % 4,
        "distraction_mm": 6.0 + number % 5,
        "defect_depth": "full thickness" if number % 2 else "skin and muscle",
        "canthus_involved": "medial" if number % 3 else "none",
        "surgeon": "KM",
    }
    day = timedelta(days=11 * number)
    dates = {"operated_on": OPERATED + day, "divided_on": DIVIDED + day}
    return case(f"{cover[0].upper()}{number:02d}", cover, **{**dates, **defect, **fields})


def seen(
    lids: list[dict[str, Any]], values: Callable[[int], dict[str, Any]], days: tuple[int, ...] = DAYS
) -> list[dict[str, Any]]:
    """Reviews of every lid that was divided, on these days after its division, with values by the place of the lid."""
    return [
        {**review(each["case_id"], day, **values(place)), "reviewed_on": each["divided_on"] + timedelta(days=day)}
        for place, each in enumerate(lids)
        if each["divided_on"]
        for day in days
    ]


def both(each: int, **fields: Any) -> list[dict[str, Any]]:
    """So many lids of each cohort."""
    return [lid(number, cover, **fields) for number in range(each) for cover in ("graft", "advancement")]


def varied(place: int) -> dict[str, Any]:
    """Values that differ from lid to lid."""
    return {**NOTCH, "notch_mm": 0.5 * (place % 5), "scleral_show_mm": 0.5 * (place % 3), "oedema": str(place % 3)}


def no_cases() -> Rows:
    """No patients, no lids, nothing."""
    return sheets([])


def one_cohort_empty() -> Rows:
    """Twelve grafted lids and none advanced."""
    lids = [lid(number, "graft") for number in range(12)]
    return sheets(lids, seen(lids, varied))


def one_case_each() -> Rows:
    """One lid of each cohort."""
    lids = both(1)
    return sheets(lids, seen(lids, varied))


def two_cases_each() -> Rows:
    """Two lids of each cohort, both of one patient."""
    lids = [{**each, "patient_id": each["case_id"][0]} for each in both(2)]
    return sheets(lids, seen(lids, varied))


def all_events() -> Rows:
    """Every lid has a poor result in everything, was revised, and its tumour came back."""
    lids = both(10)
    worst = {
        "notch_mm": 8,
        "margin_position_mm": 9,
        "fellow_margin_position_mm": 4,
        "scleral_show_mm": 8,
        "lash_loss_percent": 100,
        "oedema": "3",
        "ectropion": "3",
        "entropion": "yes",
        "trichiasis": "yes",
        "margin_redness": "3",
        "lagophthalmos_mm": 15,
        "corneal_staining": "5",
        "watering": "5",
        "colour_mismatch": "3",
        "contour_mismatch": "3",
        "satisfaction": "0",
        "upper_margin_position_mm": 8,
        "fellow_upper_margin_position_mm": 3,
    }
    events = [
        {"case_id": each["case_id"], "happened_on": each["operated_on"] + timedelta(days=200), "kind": kind}
        for each in lids
        for kind in ("revision", "recurrence")
    ]
    return sheets(lids, seen(lids, lambda _: worst), events)


def no_events() -> Rows:
    """Nothing was ever wrong with any lid: every value is the best."""
    lids = both(10)
    best = {
        "notch_mm": 0,
        "margin_position_mm": 5,
        "fellow_margin_position_mm": 5,
        "scleral_show_mm": 0,
        "lash_loss_percent": 0,
        "oedema": "0",
        "ectropion": "0",
        "entropion": "no",
        "trichiasis": "no",
        "margin_redness": "0",
        "lagophthalmos_mm": 0,
        "corneal_staining": "0",
        "watering": "0",
        "colour_mismatch": "0",
        "contour_mismatch": "0",
        "satisfaction": "10",
        "upper_margin_position_mm": 4,
        "fellow_upper_margin_position_mm": 4,
    }
    return sheets(lids, seen(lids, lambda _: best))


def a_measure_nobody_recorded() -> Rows:
    """Notches were measured, and nothing else."""
    lids = both(10)
    return sheets(lids, seen(lids, lambda place: {"notch_mm": 0.5 * (place % 5)}))


def a_constant_covariate() -> Rows:
    """Every lid had the same laxity, and was operated in one year."""
    lids = both(20, distraction_mm=8.0, operated_on=OPERATED, divided_on=DIVIDED)
    return sheets(lids, seen(lids, varied))


def a_covariate_wholly_missing() -> Rows:
    """Nobody's laxity was recorded, nor any patient's year of birth."""
    lids = both(20, distraction_mm=None)
    made = sheets(lids, seen(lids, varied))
    for patient in made["patients"]:
        patient["birth_year"] = None
    return made


def nothing_recorded_before() -> Rows:
    """Of the lids nothing is known but the cover and the days."""
    bare = dict.fromkeys(
        (
            "defect_width_mm",
            "lid_width_mm",
            "defect_height_mm",
            "distraction_mm",
            "defect_depth",
            "canthus_involved",
            "surgeon",
        )
    )
    lids = both(12, **bare, operated_on=OPERATED, divided_on=DIVIDED)
    made = sheets(lids, seen(lids, varied))
    for patient in made["patients"]:
        patient["birth_year"] = None
    return made


def everybody_lost() -> Rows:
    """Every lid was divided and none was ever seen again."""
    return sheets(both(10))


def nobody_divided() -> Rows:
    """No pedicle was ever divided, so that no lid measure has a day 0."""
    return sheets([{**each, "divided_on": None} for each in both(10)])


def everybody_died() -> Rows:
    """Every patient died a month after division, having been seen once."""
    lids = both(10)
    events = [
        {"case_id": each["case_id"], "happened_on": each["divided_on"] + timedelta(days=30), "kind": "death"}
        for each in lids
    ]
    return sheets(lids, seen(lids, varied, (7,)), events)


def separate_covers() -> Rows:
    """Wide defects were all grafted and narrow ones all advanced: the covers do not overlap."""
    lids = [
        {**each, "defect_width_mm": each["defect_width_mm"] + (15 if each["cover"] == "graft" else 0)}
        for each in both(16)
    ]
    return sheets(lids, seen(lids, varied))


def seen_once_each() -> Rows:
    """Every lid was seen on one day, half of them in another window than the other half."""
    lids = both(10)
    early, late = seen(lids[:10], varied, (91,)), seen(lids[10:], varied, (365,))
    return sheets(lids, early + late)


def operated_yesterday() -> Rows:
    """Every lid was operated the day before the as-of day: nothing is due."""
    return sheets(both(8, operated_on=date(2026, 6, 29), divided_on=None))


def one_event() -> Rows:
    """One advanced lid of twelve turned in; nothing else of the kind happened."""
    lids = both(12)
    return sheets(lids, seen(lids, lambda place: {"entropion": "yes" if place == 1 else "no", "notch_mm": 0.0}))


def one_patient_with_all_lids() -> Rows:
    """Every grafted lid belongs to one patient, and every advanced one to another."""
    lids = [{**each, "patient_id": each["case_id"][0]} for each in both(10)]
    return sheets(lids, seen(lids, varied))


def surgeon_is_cover() -> Rows:
    """One surgeon grafted, and another advanced; grafts notch by two millimetres more."""
    lids = [{**each, "surgeon": each["cover"][:2].upper()} for each in both(16)]
    grafted = {each["case_id"] for each in lids if each["cover"] == "graft"}
    reviews = [
        {**row, "notch_mm": row["notch_mm"] + 2.0 * (row["case_id"] in grafted)} for row in seen(lids, varied)
    ]  # fmt: skip
    return sheets(lids, reviews)


def one_cohort_unseen() -> Rows:
    """No advanced lid was ever seen after its division."""
    lids = both(12)
    return sheets(lids, [row for row in seen(lids, varied) if row["case_id"][0] == "G"])


def all_values_equal() -> Rows:
    """Every lid has the same value of everything at every review."""
    lids = both(12)
    return sheets(lids, seen(lids, lambda _: NOTCH))


EDGES = (
    no_cases, one_cohort_empty, one_case_each, two_cases_each, all_events, no_events, a_measure_nobody_recorded,
    a_constant_covariate, a_covariate_wholly_missing, nothing_recorded_before, everybody_lost, nobody_divided, everybody_died,
    separate_covers, seen_once_each, operated_yesterday, one_event, one_patient_with_all_lids, surgeon_is_cover,
    one_cohort_unseen, all_values_equal,
)  # fmt: skip
