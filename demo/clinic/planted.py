"""The planted effects in numbers.

The true share of poor results is worked out, not drawn: it is the normal chance that a lid's value
crosses the line, averaged over lids, each covered in both ways in turn. It is before any revision and
as a masked assessor would grade.
"""

from datetime import timedelta
from math import exp, sqrt
from statistics import NormalDist, mean
from typing import Any

from demo.clinic.course import months_on
from demo.clinic.lids import Lid
from demo.clinic.people import Row
from demo.clinic.truth import Course, Truth

MEASURES = {"notch_mm": "notching", "lash_loss_percent": "lash_loss", "lagophthalmos_mm": "lagophthalmos"}
"""Where a measure's name differs from its field."""
WINDOWS = {"three_months": 91, "six_months": 183, "one_year": 365}


def chance_poor(lid: Lid, course: Course, months: float, *, grafted: bool) -> float:
    """The chance that this lid is written down as poor, had it been covered this way."""
    line = course.poor - (course.step / 2 if course.step != 1 else 0)
    fade = (course.fade + course.fade_graft * grafted) * exp(-months / course.fade_months)
    middle = (
        course.base
        + course.graft * grafted
        + fade
        + sum(weight * lid.standing[name] for name, weight in course.by.items())
    )
    return 1 - NormalDist(middle, sqrt(course.case_sd**2 + course.visit_sd**2)).cdf(line)


def true_shares(lids: list[Lid], course: Course, days: int) -> dict[str, float]:
    """Share poor if all had been grafted and if all had been advanced, and as the covers were really chosen."""
    compared = [lid for lid in lids if lid.cohort and lid.row["divided_on"]]

    def chance(lid: Lid, *, grafted: bool) -> float:
        day = lid.row["divided_on"] + timedelta(days=days)
        return chance_poor(lid, course, months_on(lid, course, day), grafted=grafted)

    both = {
        "grafted": mean(chance(lid, grafted=True) for lid in compared),
        "advanced": mean(chance(lid, grafted=False) for lid in compared),
    }
    chosen = {
        cohort: mean(chance(lid, grafted=cohort == "grafted") for lid in compared if lid.cohort == cohort)
        for cohort in both
    }
    return {
        name: round(share, 3)
        for name, share in (
            both
            | {
                "difference": both["advanced"] - both["grafted"],
                "crude_difference": chosen["advanced"] - chosen["grafted"],
            }
        ).items()
    }


def counts(register: dict[str, list[Row]]) -> dict[str, Any]:
    """What the workbook holds, counted from its rows."""
    cases, events = register["reconstructions"], register["events"]
    kinds = sorted({row["kind"] for row in events})
    owners = [row["patient_id"] for row in cases]
    return {
        **{sheet: len(rows) for sheet, rows in register.items()},
        "patients_with_both_lids": len(owners) - len(set(owners)),
        "grafted": sum(row["cover"] == "graft" for row in cases),
        "advanced": sum(row["cover"] == "advancement" for row in cases),
        "planned_one_way_done_another": sum(row["cover"] != row["cover_planned"] for row in cases),
        "never_or_not_yet_divided": sum(row["divided_on"] is None for row in cases),
        "divided_early": sum(row["division_early_reason"] is not None for row in cases),
        "masked_reviews": sum(row["masked"] == "yes" for row in register["reviews"]),
        "recurrence_suspected_at_a_review": sum(row["recurrence"] == "suspected" for row in register["reviews"]),
        "events_by_kind": {kind: sum(row["kind"] == kind for row in events) for kind in kinds},
    }


def planted(
    truth: Truth, lids: list[Lid], register: dict[str, list[Row]], arranged: dict[str, list[str]]
) -> dict[str, Any]:
    """Everything planted, ready to be written as JSON."""
    return {
        "notice": "Everything is invented.",
        "closing_date": truth.closing.isoformat(),
        "counts": counts(register),
        "poor_shares": {
            MEASURES.get(name, name): {window: true_shares(lids, course, days) for window, days in WINDOWS.items()}
            for name, course in truth.courses.items()
        },
        "kindness_of_the_unmasked_chief_to_advanced_skin": {
            MEASURES.get(name, name): course.kindness for name, course in truth.courses.items() if course.kindness
        },
        "cover_log_odds_of_advancement": dict(truth.choice.weights),
        "division_days": {"grafted": list(truth.division.grafted), "advanced": list(truth.division.advanced)},
        "not_assessable_by_method": dict(truth.tumour.not_assessable),
        "recurrence_by_five_years_by_margin": dict(truth.tumour.five_year),
        "deaths_yearly_at_72": truth.mortality.yearly_at_72,
        "deaths_heard_of": truth.mortality.reported,
        "arranged": arranged,
    }
