"""True values of the measures of a lid on a given day, without measurement error."""

from datetime import date, timedelta
from math import exp

from demo.clinic.lids import Lid
from demo.clinic.truth import Course, Truth

DAYS_IN_A_MONTH = 365.25 / 12
MENDS = 1.5
"""What a revision takes off its measure, in the measure's own units."""


def months_on(lid: Lid, course: Course, day: date) -> float:
    """Months since day 0 of the clock that the measure truly follows."""
    start = lid.row["divided_on"] if course.clock == "division" else lid.row["operated_on"]
    return float((day - start).days / DAYS_IN_A_MONTH)


def stands_at(lid: Lid, name: str, day: date, truth: Truth) -> float:
    """The true value of one measure of a divided lid on a day, unrounded."""
    course, grafted = truth.courses[name], lid.cohort == "grafted"
    fade = (course.fade + course.fade_graft * grafted) * exp(-months_on(lid, course, day) / course.fade_months)
    defect = sum(weight * lid.standing[covariate] for covariate, weight in course.by.items())
    mended = MENDS if name in lid.mended and day >= lid.mended[name] else 0.0
    return course.base + course.graft * grafted + defect + course.case_sd * lid.temper[name] + fade - mended


def rounded(value: float, course: Course, step: float | None = None) -> float:
    """The value as the scale can say it: mm and percent to the nearest step, grades by the last line crossed."""
    step = step or course.step
    on_a_grid = round(value / step) * step if course.step != 1 else float(int(value // 1))
    return float(min(max(on_a_grid, course.low), course.high))


def poor_results(lid: Lid, day: date, truth: Truth) -> list[str]:
    """The measures that are truly poor on a day and trouble the patient."""
    return [
        name
        for name, course in truth.courses.items()
        if course.felt and rounded(stands_at(lid, name, day, truth), course) >= course.poor
    ]


def after_division(lid: Lid, days: int) -> date:
    """So many days after the pedicle was divided."""
    divided_on: date = lid.row["divided_on"]
    return divided_on + timedelta(days=days)
