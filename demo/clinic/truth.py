"""True parameters of an invented register, before examination, gaps and loss to follow-up.

Every number that a later reading could be judged by stands here once. A planted hazard is this
truth with one part replaced.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

Cohort = Literal["grafted", "advanced"]

FIRST_WINDOWS = (7, 42, 91, 183, 365, 730, 1096, 1461, 1826)
"""Nominal review days after division, as in the default schedule."""


def nothing() -> dict[str, float]:
    """No dependence on anything."""
    return {}


@dataclass(frozen=True)
class Choice:
    """How the cover is chosen: log odds of advancement at the mean defect, and per step of each covariate."""

    baseline: float = 0.0
    weights: Mapping[str, float] = field(default_factory=nothing)
    elsewhere: float = 0.0
    """Share covered in none of the two ways compared."""
    advancement_becomes_graft: float = 0.0
    graft_becomes_advancement: float = 0.0


@dataclass(frozen=True)
class Course:
    """One measure's true course, on the measure's own scale before rounding.

    At `months` the mean is base + graft (grafted only) + the sum of by x covariate
    + (fade + fade_graft if grafted) x exp(-months / fade_months).
    """

    base: float
    step: float = 1.0
    low: float = 0.0
    high: float = 3.0
    poor: float = 1.0
    graft: float = 0.0
    by: Mapping[str, float] = field(default_factory=nothing)
    case_sd: float = 0.5
    visit_sd: float = 0.25
    fade: float = 0.0
    fade_graft: float = 0.0
    fade_months: float = 4.0
    clock: Literal["division", "operation"] = "division"
    kindness: float = 0.0
    """What the unmasked chief takes off when the cover is advanced skin."""
    revision: str = ""
    """The revision that mends it, where there is one."""
    felt: bool = True
    """A poor result troubles the patient, so it can bring them back."""


@dataclass(frozen=True)
class Division:
    """When the pedicle is divided, in days after the reconstruction."""

    grafted: tuple[int, int] = (18, 24)
    advanced: tuple[int, int] = (28, 42)
    dehiscence: float = 0.0
    never: float = 0.0
    wish: float = 0.0
    """Share divided early because the patient wished it."""


@dataclass(frozen=True)
class FollowUp:
    """Who comes back, how regularly, and what is written down."""

    attendance: Mapping[Cohort, tuple[float, ...]]
    """Share of those without trouble who come, at each nominal review; no further reviews are offered."""
    pull: Mapping[Cohort, float] = field(default_factory=lambda: {"grafted": 0.0, "advanced": 0.0})
    """Log odds of coming added by each poor result that is truly there."""
    gives_up: float = 0.0
    """After a missed review, the share that never comes again."""
    scatter: float = 0.0
    """Spread of the review date, as a share of the nominal day."""
    extra: float = 0.0
    """Chance of one more review inside the window, for each poor result."""
    remote: float = 0.0
    """Share of later reviews by telephone or letter."""
    photographed: float = 0.0
    """Share of reviews at three months and one year whose photograph a masked grader graded too."""
    blank: float = 0.0
    """Chance that any one measure of a review is not written down."""
    fellow_blank: float = 0.0
    others_grade: float = 0.0
    """Share of cases followed by an assessor other than the chief."""


@dataclass(frozen=True)
class Mortality:
    """Deaths and departures."""

    yearly_at_72: float = 0.0
    doubling_years: float = 8.0
    reported: float = 1.0
    """Share of deaths that the clinic hears of."""
    moves_yearly: float = 0.0
    withdraws_yearly: float = 0.0


@dataclass(frozen=True)
class Tumour:
    """Histology by method of excision, and recurrence by margin status; the cover plays no part in either."""

    methods: Mapping[str, float] = field(default_factory=lambda: {"scalpel": 1.0})
    not_assessable: Mapping[str, float] = field(default_factory=nothing)
    close: float = 0.08
    involved: float = 0.05
    five_year: Mapping[str, float] = field(default_factory=nothing)
    suspected_in_vain: float = 0.0


@dataclass(frozen=True)
class Complications:
    """Shares of cases with each dated complication, and of poor results that are revised."""

    shares: Mapping[str, float] = field(default_factory=nothing)
    cover_failure: Mapping[Cohort, float] = field(default_factory=lambda: {"grafted": 0.0, "advanced": 0.0})
    revised_when_poor: float = 0.0


@dataclass(frozen=True)
class Truth:
    """A whole invented register."""

    patients: int
    both_lids: int
    courses: Mapping[str, Course]
    follow_up: FollowUp
    choice: Choice = Choice()
    division: Division = Division()
    mortality: Mortality = Mortality()
    tumour: Tumour = Tumour()
    complications: Complications = Complications()
    lids_alike: float = 0.6
    """Correlation of the two lids of one person beyond what their defects explain."""
    opened: date = date(2017, 1, 9)
    last_operation: date = date(2025, 12, 19)
    closing: date = date(2026, 6, 30)
    mean_age: float = 72.0


COURSES: dict[str, Course] = {
    "retraction": Course(
        0.1,
        step=0.5,
        low=-2,
        high=6,
        by={"width": 0.42, "height": 0.35, "distraction": -0.32, "year": -0.03},
        case_sd=0.5,
        revision="retraction repair",
    ),
    "notch_mm": Course(0.1, step=0.5, high=5, graft=0.12, by={"width": 0.1}, case_sd=0.6, revision="notch repair"),
    "lash_loss_percent": Course(65, step=5, high=100, poor=50, by={"width": 20}, case_sd=5, visit_sd=3, felt=False),
    "oedema": Course(0.0, fade=1.3, fade_graft=1.5, fade_months=5, case_sd=0.6, kindness=0.2),
    "ectropion": Course(-0.1, by={"distraction": 0.3, "canthus": 0.3}, case_sd=0.65, revision="ectropion repair"),
    "entropion": Course(-1.0, high=1, case_sd=0.9),
    "trichiasis": Course(-0.55, high=1, case_sd=0.9, revision="lash removal"),
    "margin_redness": Course(0.7, poor=2, fade=1.6, fade_months=4, case_sd=0.55, kindness=0.1),
    "lagophthalmos_mm": Course(-0.4, step=0.5, high=6, by={"width": 0.15, "height": 0.1}, case_sd=0.6),
    "corneal_staining": Course(0.7, high=5, poor=2, fade=0.7, fade_months=3, case_sd=0.7, visit_sd=0.4),
    "watering": Course(0.6, high=5, poor=2, by={"canthus": 0.5}, case_sd=0.9, visit_sd=0.5),
    "colour_mismatch": Course(0.85, poor=2, graft=0.6, case_sd=0.6, kindness=0.15),
    "contour_mismatch": Course(
        0.85, poor=2, graft=0.5, by={"height": 0.1}, case_sd=0.6, kindness=0.15, revision="debulking"
    ),
    "upper_lid_retraction": Course(0.05, step=0.5, low=-3, high=4, case_sd=0.3, visit_sd=0.2),
}

ATTENDANCE = (0.93, 0.90, 0.86, 0.80, 0.76, 0.66, 0.60, 0.55, 0.50)

THE_CLINIC = Truth(
    patients=144,
    both_lids=14,
    courses=COURSES,
    choice=Choice(
        baseline=0.85,
        weights={
            "distraction": 0.9,
            "width": -0.7,
            "height": -0.7,
            "canthus": -0.6,
            "deep": -0.5,
            "year": 0.16,
            "second surgeon": 0.5,
        },
        elsewhere=0.06,
        advancement_becomes_graft=0.10,
        graft_becomes_advancement=0.03,
    ),
    division=Division(dehiscence=0.055, wish=0.015),
    follow_up=FollowUp(
        attendance={"grafted": ATTENDANCE, "advanced": ATTENDANCE},
        pull={"grafted": 0.45, "advanced": 0.45},
        gives_up=0.30,
        scatter=0.10,
        extra=0.07,
        remote=0.10,
        photographed=0.45,
        blank=0.05,
        fellow_blank=0.06,
        others_grade=0.18,
    ),
    mortality=Mortality(yearly_at_72=0.028, reported=0.85, moves_yearly=0.008, withdraws_yearly=0.005),
    tumour=Tumour(
        methods={"scalpel": 0.60, "cutting diathermy": 0.26, "radiofrequency": 0.09, "laser": 0.03, "other": 0.02},
        not_assessable={
            "scalpel": 0.04,
            "cutting diathermy": 0.26,
            "radiofrequency": 0.12,
            "laser": 0.15,
            "other": 0.05,
        },
        five_year={"clear": 0.04, "close": 0.08, "not assessable": 0.12, "involved": 0.25},
        suspected_in_vain=0.008,
    ),
    complications=Complications(
        shares={"infection": 0.03, "haematoma": 0.025, "granuloma": 0.045},
        cover_failure={"grafted": 0.06, "advanced": 0.03},
        revised_when_poor=0.22,
    ),
)
