"""Reconstructions: defect, choice of cover, and division."""

from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from demo.clinic.people import Person, Row, one_of, stream, weekday
from demo.clinic.truth import Cohort, Truth

SURGEONS = {"KO": 0.62, "TV": 0.26, "EA": 0.12}
"""Codes, drawn for this clinic; they are nobody's initials."""
SITES = {"VELLANBY": 0.78, "ORSTOWE": 0.22}
DONORS = {
    "upper lid": 0.42,
    "postauricular": 0.27,
    "preauricular": 0.17,
    "supraclavicular": 0.08,
    "inner arm": 0.04,
    "other": 0.02,
}
ELSEWHERE = {"transposition": 0.4, "myocutaneous": 0.3, "secondary intention": 0.2, "other": 0.1}
SUBTYPES = {
    "nodular": 0.42,
    "infiltrating": 0.2,
    "micronodular": 0.1,
    "sclerosing": 0.08,
    "superficial": 0.06,
    "mixed": 0.08,
    "basosquamous": 0.04,
    "other": 0.02,
}
DIAGNOSES = {
    "basal cell carcinoma": 0.79,
    "squamous cell carcinoma": 0.11,
    "sebaceous carcinoma": 0.06,
    "melanoma": 0.02,
    "Merkel cell carcinoma": 0.02,
}


@dataclass(frozen=True)
class Lid:
    """One reconstruction: its row, its owner, and the hidden standing of its defect."""

    row: Row
    person: Person
    number: int
    standing: dict[str, float]
    temper: dict[str, float]
    """How far this lid departs from what its defect predicts, a standard normal for each measure."""
    fellow: dict[str, float]
    """Where the margins of the other eye stand, in mm from the light reflex."""
    dehisced_on: date | None
    seen_until: date
    """The last day on which this lid can be examined: the closing date, or the day before a departure."""
    mended: dict[str, date] = field(default_factory=dict)
    """When a revision mended a measure."""

    @property
    def cohort(self) -> Cohort | None:
        """Which of the two cohorts compared, if either."""
        return cohort_of(self.row["cover"])


def cohort_of(cover: str) -> Cohort | None:
    """The cohort that goes with a cover."""
    named: dict[str, Cohort] = {"graft": "grafted", "advancement": "advanced"}
    return named.get(cover)


def half(value: float, low: float, high: float) -> float:
    """A length as it is written in the notes: whole and half millimetres."""
    return float(np.clip(round(value * 2) / 2, low, high))


def defect(rng: np.random.Generator, age: float) -> Row:
    """The lid before the operation and the hole after excision."""
    lid_width = half(rng.normal(29, 1.7), 25, 34)
    share = float(np.clip(rng.normal(0.65, 0.17), 0.28, 1.0))
    distraction = half(rng.normal(7 + 0.04 * (age - 72), 2), 2, 14)
    return {
        "defect_width_mm": half(share * lid_width, 8, lid_width),
        "lid_width_mm": lid_width,
        "defect_height_mm": half(rng.normal(9, 2.8), 3, 20),
        "defect_depth": one_of(rng, {"full thickness": 0.72, "skin and muscle": 0.25, "skin": 0.03}),
        "canthus_involved": one_of(rng, {"none": 0.68, "medial": 0.13, "lateral": 0.16, "both": 0.03}),
        "distraction_mm": distraction,
        "snap_back": int(np.clip(round((distraction - 5) / 2 + rng.normal(0, 0.7)), 0, 4)),
    }


def standing(row: Row, age: float, surgeon: str, operated_on: date, truth: Truth) -> dict[str, float]:
    """The covariates that choose a cover and shape a result, each centred and in steps of about one spread."""
    middle = truth.opened + (truth.last_operation - truth.opened) / 2
    return {
        "width": (row["defect_width_mm"] / row["lid_width_mm"] - 0.65) / 0.2,
        "height": (row["defect_height_mm"] - 9) / 3,
        "distraction": (row["distraction_mm"] - 7) / 2,
        "canthus": float(row["canthus_involved"] != "none"),
        "deep": float(row["defect_depth"] == "full thickness"),
        "age": (age - 72) / 10,
        "year": (operated_on - middle).days / 365.25,
        "second surgeon": float(surgeon == "TV"),
    }


def covers(rng: np.random.Generator, place: dict[str, float], truth: Truth) -> tuple[str, str]:
    """Cover as planned, and as done."""
    choice = truth.choice
    log_odds = choice.baseline + sum(weight * place[name] for name, weight in choice.weights.items())
    planned = "advancement" if rng.uniform() < 1 / (1 + np.exp(-log_odds)) else "graft"
    turned = choice.advancement_becomes_graft if planned == "advancement" else choice.graft_becomes_advancement
    done = planned
    if rng.uniform() < turned:
        done = "graft" if planned == "advancement" else "advancement"
    other, elsewhere = one_of(rng, ELSEWHERE), rng.uniform() < choice.elsewhere
    return (other, other) if elsewhere else (planned, done)


def tumour(rng: np.random.Generator) -> Row:
    """What was cut out."""
    diagnosis = one_of(rng, DIAGNOSES)
    basal = diagnosis == "basal cell carcinoma"
    return {
        "diagnosis": diagnosis,
        "bcc_subtype": one_of(rng, SUBTYPES) if basal and rng.uniform() < 0.93 else None,
        "recurrent_tumour": "yes" if rng.uniform() < 0.14 else "no",
        "clinical_margin_mm": half(rng.normal(3.5, 0.7) if basal else rng.normal(5, 0.7), 2, 8),
        "margin_control": one_of(
            rng, {"paraffin before repair": 0.36, "frozen section": 0.3, "none": 0.24, "staged": 0.1}
        ),
    }


def histology(rng: np.random.Generator, truth: Truth) -> Row:
    """Method of excision and what the pathologist could say of the margin."""
    law = truth.tumour
    method = one_of(rng, dict(law.methods))
    unreadable = law.not_assessable.get(method, 0.0)
    margin = one_of(
        rng,
        {
            "not assessable": unreadable,
            "close": law.close,
            "involved": law.involved,
            "clear": 1 - unreadable - law.close - law.involved,
        },
    )
    lateral = {"clear": half(rng.gamma(4, 0.7), 1, 7), "close": 0.5, "involved": 0.0}.get(margin)
    deep = {"clear": half(rng.gamma(3, 0.7), 1, 6), "close": half(rng.gamma(3, 0.5), 0.5, 4), "involved": 0.5}
    return {
        "excision_method": method,
        "histology_margin": margin,
        "histology_lateral_mm": lateral,
        "histology_deep_mm": deep.get(margin),
        **pathologist(rng, method, margin),
        **again(rng, margin),
    }


def pathologist(rng: np.random.Generator, method: str, margin: str) -> Row:
    """The reason for a margin that could not be read, or barely."""
    burnt = 0.75 if method in {"cutting diathermy", "radiofrequency", "laser"} else 0.1
    reason = one_of(
        rng,
        {
            "thermal artefact": burnt,
            "fragmented": (1 - burnt) * 0.45,
            "orientation lost": (1 - burnt) * 0.4,
            "other": (1 - burnt) * 0.15,
        },
    )
    given = {"not assessable": 0.92, "close": 0.15}.get(margin, 0.0)
    return {"histology_reason": reason if rng.uniform() < given else None}


def again(rng: np.random.Generator, margin: str) -> Row:
    """Whether more was taken, and whether any tumour was in it."""
    re_excised = rng.uniform() < {"involved": 0.7, "close": 0.2, "not assessable": 0.15}.get(margin, 0.01)
    residual = rng.uniform() < {"involved": 0.45, "not assessable": 0.2}.get(margin, 0.1)
    return {
        "re_excised": "yes" if re_excised else "no",
        "residual_tumour": ("yes" if residual else "no") if re_excised else None,
    }


def repair(rng: np.random.Generator, row: Row, cover: str) -> Row:
    """The flap and its cover."""
    return {
        "flap_width_mm": half(row["defect_width_mm"] - rng.uniform(0, 3), 7, 32),
        "tarsus_left_mm": half(rng.normal(4.4, 0.4), 4, 6),
        "graft_donor": one_of(rng, DONORS) if cover == "graft" else None,
        "margin_shortfall_mm": half(rng.normal(1.0 if cover == "advancement" else 0.4, 0.5), -0.5, 2),
    }


def division(rng: np.random.Generator, row: Row, dehisced_on: date | None, truth: Truth) -> Row:
    """When the pedicle was to be divided, when it was, and why sooner."""
    law, operated_on = truth.division, row["operated_on"]
    first, last = law.grafted if row["cover"] == "graft" else law.advanced
    planned = operated_on + timedelta(days=int(rng.integers(first, last + 1)))
    reason, divided = None, planned
    only_eye, wish = row["fellow_logmar"] >= 1, rng.uniform() < law.wish
    if only_eye or wish:
        divided = operated_on + timedelta(days=int(rng.integers(8, 13)))
        reason = "only-seeing eye" if only_eye else "patient's wish"
    elif dehisced_on and rng.uniform() < 0.7:
        divided, reason = dehisced_on + timedelta(days=int(rng.integers(2, 7))), "dehiscence"
    elif rng.uniform() < 0.25:
        divided = planned + timedelta(days=int(rng.integers(-2, 3)))
    if rng.uniform() < law.never:
        return {"division_planned_on": planned, "divided_on": None, "division_early_reason": None}
    return {"division_planned_on": planned, "divided_on": divided, "division_early_reason": reason}


def days_left(who: Person, truth: Truth) -> int:
    """Days after the first operation in which the other lid could be operated on."""
    return (min(truth.last_operation, who.last_day or truth.last_operation) - who.first_operation).days


def second_day(rng: np.random.Generator, who: Person, truth: Truth) -> date:
    """The day on which the other lid was operated on."""
    room = min(days_left(who, truth) - 170, 1100)
    return weekday(who.first_operation + timedelta(days=75 + int(rng.uniform() * room)))


def have_both(everybody: list[Person], truth: Truth) -> set[str]:
    """The patients whose other lid is done too, among those with time left for it."""
    time_for_it = [who.row["patient_id"] for who in everybody if days_left(who, truth) > 200]
    return set(sorted(time_for_it)[: truth.both_lids])


def temper(seed: int, number: int, who: Person, truth: Truth) -> dict[str, float]:
    """What is the lid's own, mixed with what the person's two lids share."""
    rng, alike = stream(seed, 4, number), truth.lids_alike
    return {
        name: float(np.sqrt(alike) * shared + np.sqrt(1 - alike) * rng.normal()) for name, shared in who.frailty.items()
    }


def vision(rng: np.random.Generator) -> float:
    """Vision of the other eye; about one in thirty hardly sees with it."""
    if rng.uniform() < 0.03:
        return float(rng.choice([1.0, 1.3, 2.3]))
    return round(float(np.clip(rng.gamma(1.6, 0.12) - 0.1, -0.1, 0.9)), 1)


def lid(seed: int, number: int, who: Person, operated_on: date, truth: Truth) -> Lid:
    """One reconstruction, from a stream of chance of its own."""
    rng = stream(seed, 2, number)
    surgeon = one_of(rng, SURGEONS)
    row = defect(rng, who.age) | {"fellow_logmar": vision(rng)}
    place = standing(row, who.age, surgeon, operated_on, truth)
    planned, done = covers(rng, place, truth)
    dehisced_on = operated_on + timedelta(days=int(rng.integers(1, 12)))
    dehisced = dehisced_on if rng.uniform() < truth.division.dehiscence else None
    row |= {
        "patient_id": who.row["patient_id"],
        "surgeon": surgeon,
        "site": one_of(rng, SITES),
        "operated_on": operated_on,
        "cover_planned": planned,
        "cover": done,
    }
    row |= tumour(rng) | histology(rng, truth) | repair(rng, row, done) | division(rng, row, dehisced, truth)
    return Lid(
        row=row,
        person=who,
        number=number,
        standing=place,
        temper=temper(seed, number, who, truth),
        fellow={"lower": half(rng.normal(5.2, 0.6), 3.5, 7), "upper": half(rng.normal(3.5, 0.7), 1.5, 5.5)},
        dehisced_on=dehisced,
        seen_until=who.last_day - timedelta(days=1) if who.last_day else truth.closing,
    )


def lids(seed: int, everybody: list[Person], truth: Truth) -> list[Lid]:
    """Every reconstruction in order of operation, named by its patient and its side."""
    made: list[Lid] = []
    both = have_both(everybody, truth)
    for index, who in enumerate(everybody):
        rng = stream(seed, 3, index)
        sides = ["right", "left"] if rng.uniform() < 0.5 else ["left", "right"]
        days = [who.first_operation]
        if who.row["patient_id"] in both:
            days.append(second_day(rng, who, truth))
        for side, day in zip(sides, days, strict=False):
            one = lid(seed, len(made), who, day, truth)
            one.row.update(side=side, case_id=f"{who.row['patient_id']}-{side[0].upper()}")
            made.append(one)
    return sorted(made, key=lambda one: (one.row["operated_on"], one.row["case_id"]))
