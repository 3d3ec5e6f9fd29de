"""Reviews: attendance, assessor, recorded values and blanks."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from demo.clinic.course import after_division, poor_results, rounded, stands_at
from demo.clinic.lids import Lid, half
from demo.clinic.people import Row, one_of, stream, weekday
from demo.clinic.truth import FIRST_WINDOWS, Truth

CHIEF, MASKED_GRADER = "KO", "MG"
OTHERS = {"TV": 0.6, "NS": 0.4}
PHOTOGRAPHED_AT = (91, 365)
NOT_ON_A_PHOTOGRAPH = ("lagophthalmos_mm", "corneal_staining", "watering", "entropion")
NOT_BY_TELEPHONE = ("retraction", "upper_lid_retraction")
YES_NO = ("entropion", "trichiasis")


@dataclass(frozen=True)
class Visit:
    """One coming together of a lid and an assessor."""

    day: date
    mode: str
    assessor: str
    nominal: int = 0

    @property
    def masked(self) -> bool:
        """Whether the cover was hidden from the assessor."""
        return self.assessor == MASKED_GRADER


def comes(rng: np.random.Generator, lid: Lid, day: date, usual: float, truth: Truth) -> bool:
    """Whether the patient comes: trouble brings them back, comfort keeps them away."""
    pull = truth.follow_up.pull[lid.cohort or "grafted"]
    log_odds = np.log(usual / (1 - usual)) + pull * len(poor_results(lid, day, truth))
    return bool(rng.uniform() < 1 / (1 + np.exp(-log_odds)))


def scheduled(rng: np.random.Generator, lid: Lid, assessor: str, truth: Truth) -> list[Visit]:
    """The reviews of the schedule that took place, near their days, and the further ones that trouble asked for."""
    law, made = truth.follow_up, []
    for nominal, usual in zip(FIRST_WINDOWS, law.attendance[lid.cohort or "grafted"], strict=False):
        late = int(rng.normal(0.2, 1) * (law.scatter * nominal + 1 * (law.scatter > 0)))
        day = weekday(after_division(lid, max(nominal + late, 1)))
        mode = "clinic"
        if nominal > 100 and rng.uniform() < law.remote:
            mode = one_of(rng, {"telephone": 0.6, "letter": 0.4})
        came, gives_up = comes(rng, lid, day, usual, truth), rng.uniform() < law.gives_up
        again = rng.uniform() < law.extra * len(poor_results(lid, day, truth))
        further = weekday(day + timedelta(days=int(rng.integers(9, 26))))
        if came and day <= lid.seen_until:
            made.append(Visit(day, mode, assessor, nominal))
            if again and further <= lid.seen_until:
                made.append(Visit(further, "clinic", assessor))
        elif gives_up:
            break
    return made


def photographs(rng: np.random.Generator, visits: list[Visit], lid: Lid, truth: Truth) -> list[Visit]:
    """The photographs that a masked grader graded later, dated when they were taken."""
    taken = []
    for visit in visits:
        day = visit.day + timedelta(days=int(rng.choice([0, 0, 0, 0, 3, 5])))
        wanted = visit.nominal in PHOTOGRAPHED_AT and visit.mode == "clinic" and day <= lid.seen_until
        if rng.uniform() < truth.follow_up.photographed and wanted:
            taken.append(Visit(day, "photograph", MASKED_GRADER))
    return taken


def graded(rng: np.random.Generator, lid: Lid, visit: Visit, truth: Truth) -> dict[str, float]:
    """What this assessor sees of each measure: the truth, a little unsteadiness, and the chief's kindness."""
    seen = {}
    kind = visit.assessor == CHIEF and lid.cohort == "advanced"
    whole = visit.assessor == "TV" and rng.uniform() < 0.5
    for name, course in truth.courses.items():
        value = stands_at(lid, name, visit.day, truth) + rng.normal() * course.visit_sd - course.kindness * kind
        seen[name] = rounded(value, course, step=1.0 if whole and course.step == 0.5 else None)
    return seen


def satisfaction(rng: np.random.Generator, seen: dict[str, float]) -> int:
    """The patient's own answer, which follows what is seen and felt."""
    weights = {
        "oedema": 0.5,
        "colour_mismatch": 0.4,
        "contour_mismatch": 0.4,
        "retraction": 0.6,
        "watering": 0.35,
        "notch_mm": 0.4,
    }
    felt = sum(weight * max(seen.get(name, 0.0), 0.0) for name, weight in weights.items())
    return int(np.clip(round(9.4 - felt + rng.normal(0, 0.8)), 0, 10))


def margins(rng: np.random.Generator, lid: Lid, seen: dict[str, float]) -> Row:
    """Retraction written as it is measured: both margins from the light reflex, and the sclera that shows."""
    fellow = lid.fellow["lower"] + float(rng.choice([-0.5, 0, 0, 0, 0.5]))
    above = lid.fellow["upper"] + float(rng.choice([-0.5, 0, 0, 0, 0.5]))
    row: Row = {}
    if "retraction" in seen:
        position = half(fellow + seen["retraction"], 0, 15)
        row = {
            "margin_position_mm": position,
            "fellow_margin_position_mm": fellow,
            "scleral_show_mm": half(position - 5.6 + rng.normal(0, 0.2), 0, 8),
        }
    if "upper_lid_retraction" in seen:
        row |= {
            "upper_margin_position_mm": half(above + seen["upper_lid_retraction"], -2, 8),
            "fellow_upper_margin_position_mm": half(above, -2, 8),
        }
    return row


def answered(rng: np.random.Generator, seen: dict[str, float], visit: Visit) -> Row:
    """What can be had by telephone or letter: how the eye waters, and how content the patient is."""
    return (
        {"watering": seen.get("watering"), "satisfaction": satisfaction(rng, seen)}
        if visit.mode == "telephone"
        else {"satisfaction": satisfaction(rng, seen)}
    )


def examined(rng: np.random.Generator, lid: Lid, seen: dict[str, float], visit: Visit) -> Row:
    """What can be had by looking, in the clinic or on a photograph."""
    photograph = visit.mode == "photograph"
    row: Row = margins(rng, lid, seen)
    for name, value in seen.items():
        if name in NOT_BY_TELEPHONE or (photograph and name in NOT_ON_A_PHOTOGRAPH):
            continue
        row[name] = ("yes" if value else "no") if name in YES_NO else value
    return row if photograph else row | {"satisfaction": satisfaction(rng, seen)}


def written(rng: np.random.Generator, lid: Lid, visit: Visit, truth: Truth) -> Row:
    """One row of the reviews sheet, with what was not written down left blank."""
    seen = graded(rng, lid, visit, truth)
    remote = visit.mode in {"telephone", "letter"}
    row = answered(rng, seen, visit) if remote else examined(rng, lid, seen, visit)
    law = truth.follow_up
    kept = {name: None if rng.uniform() < law.blank else value for name, value in row.items()}
    if rng.uniform() < law.fellow_blank:
        kept |= {"fellow_margin_position_mm": None} if "fellow_margin_position_mm" in kept else {}
    head = {
        "case_id": lid.row["case_id"],
        "reviewed_on": visit.day,
        "assessor": visit.assessor,
        "masked": "yes" if visit.masked else "no",
        "mode": visit.mode,
    }
    return head | kept


def tumour_visits(rng: np.random.Generator, lid: Lid, confirmed_on: date) -> dict[date, str]:
    """The days on which a recurrence was suspected and confirmed."""
    suspected = confirmed_on - timedelta(days=int(rng.integers(14, 36)))
    early = rng.uniform() < 0.7 and suspected > lid.row["divided_on"]
    return ({suspected: "suspected"} if early else {}) | {confirmed_on: "confirmed"}


def tumour_words(
    rng: np.random.Generator, visits: list[Visit], known: dict[date, str], truth: Truth
) -> dict[date, str]:
    """What each clinic or telephone review says of the tumour; nothing after a confirmed recurrence."""
    confirmed_on = next((day for day, word in known.items() if word == "confirmed"), None)
    words: dict[date, str] = {}
    for visit in visits:
        in_vain = visit.mode == "clinic" and rng.uniform() < truth.tumour.suspected_in_vain
        if confirmed_on is None or visit.day < confirmed_on:
            words[visit.day] = "suspected" if in_vain else "none"
    return words | known


def never_divided(seed: int, lid: Lid) -> list[Row]:
    """A lid whose pedicle was never divided is still watched for tumour, and for nothing else."""
    rng = stream(seed, 6, lid.number)
    days = [weekday(lid.row["operated_on"] + timedelta(days=int(nominal + rng.normal(0, 8)))) for nominal in (120, 390)]
    return [
        {
            "case_id": lid.row["case_id"],
            "reviewed_on": day,
            "assessor": CHIEF,
            "masked": "no",
            "mode": "clinic",
            "recurrence": "none",
        }
        for day in days
        if day <= lid.seen_until
    ]


def examinations(seed: int, lid: Lid, recurred_on: date | None, truth: Truth) -> list[Row]:
    """All reviews of one lid in order of time."""
    if lid.row["divided_on"] is None:
        return never_divided(seed, lid)
    rng = stream(seed, 6, lid.number)
    assessor = one_of(rng, OTHERS) if rng.uniform() < truth.follow_up.others_grade else CHIEF
    visits = scheduled(rng, lid, assessor, truth)
    known = tumour_visits(rng, lid, recurred_on) if recurred_on else {}
    visits = [visit for visit in visits if visit.day not in known] + [Visit(day, "clinic", assessor) for day in known]
    visits = sorted({visit.day: visit for visit in visits}.values(), key=lambda visit: visit.day)
    words = tumour_words(rng, visits, known, truth)
    rows = [written(rng, lid, visit, truth) | {"recurrence": words.get(visit.day)} for visit in visits]
    photographed = [written(rng, lid, visit, truth) for visit in photographs(rng, visits, lid, truth)]
    return sorted(rows + photographed, key=lambda row: (row["reviewed_on"], row["assessor"]))
