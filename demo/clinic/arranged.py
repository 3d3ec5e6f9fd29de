"""Cases arranged by hand, so that every kind of course is in the demonstration register."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from demo.clinic.lids import Lid, lid
from demo.clinic.people import Person, Row, codes, person
from demo.clinic.truth import Truth

LATE_OPERATIONS = ((date(2026, 6, 8), date(2026, 7, 13)), (date(2026, 6, 19), date(2026, 7, 10)))
"""Operated on shortly before the closing date; division is planned for after it."""


@dataclass
class Arrangements:
    """The lids as arranged, and which of them tell which story."""

    lids: list[Lid]
    cases: dict[str, list[str]] = field(default_factory=dict)

    def choose(self, story: str, fits: Callable[[Lid], bool], number: int = 1) -> list[Lid]:
        """The next lids that fit and tell no other story yet; each story looks from further on in the years."""
        busy = {case for cases in self.cases.values() for case in cases}
        start = len(self.cases) * 23 % len(self.lids)
        from_there = self.lids[start:] + self.lids[:start]
        chosen = [one for one in from_there if one.row["case_id"] not in busy and fits(one)][:number]
        self.cases[story] = [one.row["case_id"] for one in chosen]
        return chosen


def alone(one: Lid) -> bool:
    """A plain case: divided as planned, in one of the two cohorts, its patient still followed."""
    return bool(
        one.cohort
        and one.row["divided_on"]
        and not one.row["division_early_reason"]
        and not one.dehisced_on
        and one.person.last_day is None
    )


def never_divided(arrangements: Arrangements) -> None:
    """One declined, one healed after dehiscence, one died waiting."""
    undivided: Row = {"divided_on": None, "division_early_reason": None}
    for one in arrangements.choose("never divided: declined", lambda one: alone(one) and one.cohort == "advanced"):
        one.row.update(undivided)
    for one in arrangements.choose("never divided: healed after dehiscence", lambda one: one.dehisced_on is not None):
        one.row.update(undivided)
    for one in arrangements.choose(
        "never divided: died before",
        lambda one: (
            alone(one)
            and one.person.age > 80
            and one.row["operated_on"] == one.person.first_operation
            and not twin(arrangements.lids, one)
        ),
    ):
        day = one.row["operated_on"] + timedelta(days=16)
        one.row.update(undivided)
        arrangements.lids[arrangements.lids.index(one)] = replace(
            one, person=replace(one.person, died_on=day, died_unheard=False), seen_until=day - timedelta(days=1)
        )


def twin(lids: list[Lid], one: Lid) -> bool:
    """Whether the person's other lid was rebuilt too."""
    return sum(other.person is one.person for other in lids) > 1


def still_planned(seed: int, arrangements: Arrangements, truth: Truth) -> None:
    """Two divisions planned for after the closing date, and one overdue since the spring before it."""
    for one in reversed(arrangements.lids):
        if alone(one):
            one.row.update({"divided_on": None, "division_planned_on": date(2026, 5, 18)})
            arrangements.cases["division overdue at closing"] = [one.row["case_id"]]
            break
    waiting = codes(seed, truth.patients + len(LATE_OPERATIONS))[truth.patients :]
    arrangements.cases["division planned after closing"] = []
    for index, (code, (operated, planned)) in enumerate(zip(waiting, LATE_OPERATIONS, strict=True)):
        who = replace(
            person(seed, truth.patients + index, code, truth), first_operation=operated, died_on=None, left_on=None
        )
        who.row["birth_year"] = operated.year - round(who.age)
        one = lid(seed, len(arrangements.lids), who, operated, truth)
        one.row.update(
            side="left",
            case_id=f"{code}-L",
            divided_on=None,
            division_planned_on=planned,
            division_early_reason=None,
            cover_planned=("advancement", "graft")[index],
            cover=("advancement", "graft")[index],
            graft_donor=(None, "postauricular")[index],
        )
        arrangements.lids.append(replace(one, dehisced_on=None))
        arrangements.cases["division planned after closing"].append(one.row["case_id"])


def queries(arrangements: Arrangements) -> None:
    """Rows that are valid but unusual, for the register to ask about."""
    for one in arrangements.choose("defect wider than lid", lambda one: alone(one) and one.standing["width"] > 1.2):
        one.row.update({"defect_width_mm": one.row["lid_width_mm"] + 2})
    for one in arrangements.choose("little tarsus left", alone, 2):
        one.row.update({"tarsus_left_mm": 3.0})
    for one in arrangements.choose("divided late", lambda one: alone(one) and one.cohort == "grafted"):
        one.row.update({"divided_on": one.row["operated_on"] + timedelta(days=49)})


def not_cancer(arrangements: Arrangements) -> None:
    """One benign lesion, and one malignant one of another kind."""
    for one in arrangements.choose("benign", alone):
        one.row.update(
            {
                "diagnosis": "benign",
                "bcc_subtype": None,
                "histology_margin": None,
                "histology_reason": None,
                "histology_lateral_mm": None,
                "histology_deep_mm": None,
                "re_excised": "no",
                "residual_tumour": None,
                "recurrent_tumour": "no",
            }
        )
    for one in arrangements.choose("other malignant", alone):
        one.row.update({"diagnosis": "other malignant", "bcc_subtype": None})


def arranged(seed: int, lids: list[Lid], truth: Truth) -> Arrangements:
    """The lids with the arrangements told by hand; `lids` itself is left as it was but for its rows."""
    arrangements = Arrangements(list(lids))
    never_divided(arrangements)
    queries(arrangements)
    not_cancer(arrangements)
    still_planned(seed, arrangements, truth)
    return arrangements


def people_of(lids: list[Lid]) -> list[Person]:
    """Everybody who has a lid here, once, in order of first operation."""
    return list({one.row["patient_id"]: one.person for one in lids}.values())


def fellow_cannot_serve(lids: list[Lid], reviews: list[Row], arrangements: Arrangements) -> None:
    """Second lids of four patients: the fellow was rebuilt too, so it stays blank and retraction is entered."""
    seconds = [one.row["case_id"] for one in lids if one.row["operated_on"] != one.person.first_operation][:4]
    arrangements.cases["retraction entered"] = seconds
    for row in reviews:
        both = row.get("margin_position_mm") is not None and row.get("fellow_margin_position_mm") is not None
        if row["case_id"] in seconds and both:
            row["retraction_mm"] = row["margin_position_mm"] - row["fellow_margin_position_mm"]
            row["fellow_margin_position_mm"] = None


def sudden_jump(reviews: list[Row], arrangements: Arrangements) -> None:
    """One margin position written 5 mm too far down, between two steady ones."""
    runs: dict[str, list[Row]] = {}
    for row in reviews:
        if row["mode"] == "clinic" and row.get("margin_position_mm") is not None:
            runs.setdefault(row["case_id"], []).append(row)
    arranged = {case for cases in arrangements.cases.values() for case in cases}
    case, rows = next((case, rows) for case, rows in runs.items() if case not in arranged and len(rows) > 5)
    rows[3]["margin_position_mm"] += 5
    arrangements.cases["sudden jump"] = [case]
