"""Registers that would fool a hasty reader, and what is true of each.

One function a hazard. Each returns the four sheets as rows, as the invented clinic's generator makes them, and says
in its docstring what is true. Every truth is the same quiet one with a single part replaced: nobody dies, nobody
stays away, nothing is blank, and the cover changes nothing. All else stays noisy as in life, so a reading must still
stand up to a dozen measures at five windows. Nobody in them is real.
"""

from dataclasses import replace
from datetime import timedelta

from demo.clinic.lids import Lid, lids
from demo.clinic.people import Row, people, stream
from demo.clinic.truth import COURSES, Choice, Course, Division, FollowUp, Mortality, Truth, Tumour
from demo.generate import Register, rows_of, tidy

FAITHFUL = (0.98, 0.98, 0.98, 0.98, 0.98)
"""Nearly everybody comes, up to one year after division."""
FAITHFUL_FOR_YEARS = FAITHFUL + (0.98,) * 4

SEED_OF_AGREEING_LIDS = 20
SEED_OF_NONE_OF_EIGHTEEN = 2
"""Chosen because their draw shows the hazard: one draw in six does for the first, one in five for the second."""


def indifferent(course: Course) -> Course:
    """The course if neither cover, defect nor assessor mattered, and if it drove nobody back."""
    return replace(course, graft=0.0, fade_graft=0.0, by={}, kindness=0.0, felt=False)


INDIFFERENT = {name: indifferent(course) for name, course in COURSES.items()}
QUIET = Truth(
    patients=170,
    both_lids=0,
    courses=INDIFFERENT,
    follow_up=FollowUp(attendance={"grafted": FAITHFUL, "advanced": FAITHFUL}, scatter=0.05),
)
SELECTS = Choice(weights={"distraction": 0.9, "width": -0.9, "height": -0.5})
"""Lax lids with small defects are advanced."""
RECURS = Tumour(close=0, involved=0, five_year={"clear": 0.3})
"""Recurrence common enough to be counted in tens of cases; the cover plays no part."""


def with_course(name: str, **changes: object) -> dict[str, Course]:
    """The indifferent courses with one of them changed."""
    return INDIFFERENT | {name: replace(INDIFFERENT[name], **changes)}  # type: ignore[arg-type]


def chosen(seed: int, truth: Truth, *, grafted: int, advanced: int) -> list[Lid]:
    """So many lids of each cohort, in order of operation, picked by their codes, which say nothing."""
    made = sorted(lids(seed, people(seed, truth), truth), key=lambda lid: str(lid.row["case_id"]))
    cohorts = {"grafted": grafted, "advanced": advanced}
    picked = [lid for name, number in cohorts.items() for lid in [one for one in made if one.cohort == name][:number]]
    return sorted(picked, key=lambda lid: (lid.row["operated_on"], lid.row["case_id"]))


def register(seed: int, truth: Truth, *, each: int) -> Register:
    """A register of two cohorts of one size."""
    return tidy(rows_of(seed, chosen(seed, truth, grafted=each, advanced=each), truth))


def effect_by_confounding_alone() -> Register:
    """Retraction: the cover changes nothing, yet grafts look far worse.

    Wide and tall defects in tight lids retract, and those were grafted. 60 and 60.
    """
    by = {"width": 0.6, "height": 0.4, "distraction": -0.6}
    return register(1, replace(QUIET, courses=with_course("retraction", base=0.3, by=by), choice=SELECTS), each=60)


def effect_hidden_by_confounding() -> Register:
    """Retraction: grafts truly retract 0.75 mm more, yet the two covers look alike.

    The lids that retract least were the ones grafted. 60 and 60.
    """
    by = {"width": 0.7, "height": 0.4, "distraction": -0.7}
    kind_to_grafts = Choice(weights={name: -weight for name, weight in SELECTS.weights.items()})
    return register(
        1,
        replace(QUIET, courses=with_course("retraction", base=0.2, graft=0.75, by=by), choice=kind_to_grafts),
        each=60,
    )


def a_real_effect() -> Register:
    """Oedema at six months: about 75 % with a graft, 10 % with advanced skin, and nothing confounds it. 40 and 40."""
    return register(1, replace(QUIET, courses=with_course("oedema", base=0.1, graft=1.3, fade=0.0)), each=40)


def trouble_returns() -> Register:
    """Retraction: three in ten of both cohorts are poor, but of the advanced hardly any come back who are not.

    Everybody with a graft was called back. With advanced skin one in eight of the comfortable came, and nearly all of
    the troubled. 50 and 50.
    """
    law = replace(
        QUIET.follow_up,
        attendance={"grafted": FAITHFUL, "advanced": (0.98, 0.15, 0.12, 0.12, 0.12)},
        pull={"grafted": 0.0, "advanced": 4.0},
    )
    courses = with_course("retraction", base=0.4, case_sd=0.6, felt=True)
    return register(1, replace(QUIET, courses=courses, follow_up=law), each=50)


def newer_cohort() -> Register:
    """Recurrence: 30 % by five years whatever the cover, but the advanced are newer and fewer have recurred so far.

    45 and 45, reviewed faithfully until the closing date.
    """
    law = replace(QUIET.follow_up, attendance={"grafted": FAITHFUL_FOR_YEARS, "advanced": FAITHFUL_FOR_YEARS})
    return register(2, replace(QUIET, choice=Choice(weights={"year": 2.0}), tumour=RECURS, follow_up=law), each=45)


def competing_death() -> Register:
    """Recurrence: the same hazard in the living, but grafts went to the old, many of whom die before it.

    One minus the Kaplan-Meier estimate overstates how many with a graft will ever recur. 50 and 50.
    """
    law = replace(QUIET.follow_up, attendance={"grafted": FAITHFUL_FOR_YEARS, "advanced": FAITHFUL_FOR_YEARS})
    deadly = Mortality(yearly_at_72=0.12, doubling_years=6)
    return register(
        1, replace(QUIET, choice=Choice(weights={"age": -1.5}), mortality=deadly, tumour=RECURS, follow_up=law), each=50
    )


def different_review_intervals() -> Register:
    """Onset of retraction: the same in both, but the advanced are looked at only at six weeks and a year.

    Retraction comes on over the first half year. By the day on which it was first seen, it seems to come later with
    advanced skin. 45 and 45.
    """
    law = replace(QUIET.follow_up, attendance={"grafted": FAITHFUL, "advanced": (0.02, 0.98, 0.02, 0.02, 0.98)})
    courses = with_course("retraction", base=0.6, fade=-1.4, fade_months=3.0)
    return register(1, replace(QUIET, courses=courses, follow_up=law), each=45)


def different_days_of_division() -> Register:
    """Oedema three months after division: it fades by the days since the *operation*, alike in both.

    Grafts are divided at two weeks and advanced skin at six, so that by the clock of division grafts seem to swell
    more, and by the clock of the operation less or alike. 45 and 45.
    """
    courses = with_course("oedema", clock="operation", fade=11.0, fade_months=1.5, case_sd=0.3)
    days = Division(grafted=(14, 16), advanced=(40, 42))
    return register(1, replace(QUIET, courses=courses, division=days), each=45)


def two_lids_one_patient() -> Register:
    """Retraction: no effect, and thirty lids a cohort that are really fifteen people, whose two lids agree.

    Both lids of a person got the same cover. Counted as independent lids the difference seems settled; counted as
    people it does not. 30 and 30 lids.
    """
    truth = replace(
        QUIET,
        patients=90,
        both_lids=80,
        lids_alike=0.98,
        choice=Choice(weights={"age": 60.0}),
        courses=with_course("retraction", base=0.45, case_sd=0.7, visit_sd=0.1),
    )
    made = lids(SEED_OF_AGREEING_LIDS, people(SEED_OF_AGREEING_LIDS, truth), truth)
    pairs: dict[str, list[Lid]] = {}
    for lid in made:
        pairs.setdefault(str(lid.row["patient_id"]), []).append(lid)
    both = [pair for pair in pairs.values() if len(pair) == 2 and pair[0].cohort == pair[1].cohort]
    taken = [
        lid
        for cohort in ("grafted", "advanced")
        for pair in [pair for pair in both if pair[0].cohort == cohort][:15]
        for lid in pair
    ]
    return tidy(rows_of(SEED_OF_AGREEING_LIDS, taken, truth))


def none_of_eighteen() -> Register:
    """Ectropion at six months: none of 18 advanced, where the true share is 8 % in both cohorts. 18 and 18."""
    truth = replace(QUIET, courses=with_course("ectropion", base=0.0, case_sd=0.68, visit_sd=0.2))
    return register(SEED_OF_NONE_OF_EIGHTEEN, truth, each=18)


def blanks() -> Register:
    """Notching: half of both cohorts is poor, but of the advanced six in ten notches were never written down.

    Read as zero, the blanks would halve the notching of advanced skin and more. 40 and 40.
    """
    made = register(1, replace(QUIET, courses=with_course("notch_mm", base=0.75)), each=40)
    advanced = {row["case_id"] for row in made["reconstructions"] if row["cover"] == "advancement"}
    rng = stream(1, 9)
    for row in made["reviews"]:
        if row["case_id"] in advanced and rng.uniform() < 0.6:
            row["notch_mm"] = None
    return made


def suspected_recurrences() -> Register:
    """Recurrence: ten grafted lids were suspected at their last review and none was confirmed; two of each cohort were.

    A suspicion is no recurrence. 40 and 40.
    """
    made = register(1, QUIET, each=40)
    by_case: dict[str, list[Row]] = {}
    for row in made["reviews"]:
        by_case.setdefault(row["case_id"], []).append(row)
    cases = made["reconstructions"]
    grafted = [row["case_id"] for row in cases if row["cover"] == "graft"]
    advanced = [row["case_id"] for row in cases if row["cover"] == "advancement"]
    for case in grafted[2:12]:
        by_case[case][-1]["recurrence"] = "suspected"
    for case in grafted[:2] + advanced[:2]:
        last = by_case[case][-1]
        last["recurrence"] = "confirmed"
        made["events"].append({"case_id": case, "happened_on": last["reviewed_on"], "kind": "recurrence"})
    return tidy(made)


def learning_over_the_years() -> Register:
    """Retraction: it falls with every year of practice, whatever the cover, and advancing came late. 60 and 60."""
    return register(
        1,
        replace(
            QUIET,
            courses=with_course("retraction", base=0.5, by={"year": -0.35}),
            choice=Choice(weights={"year": 0.55}),
        ),
        each=60,
    )


def only_the_unmasked_assessor_sees_it() -> Register:
    """Oedema at three months and a year: 60 % in both, by the masked grader; the unmasked chief sees 5 % when advanced.

    Every photograph at three months and one year was graded by the masked grader as well. 40 and 40.
    """
    law = replace(QUIET.follow_up, photographed=1.0)
    courses = with_course("oedema", base=1.2, fade=0.0, kindness=1.2)
    return register(1, replace(QUIET, courses=courses, follow_up=law), each=40)


def planned_one_way_done_another() -> Register:
    """Retraction: no effect of the cover. Of the lids planned for advancing, the worst were grafted on the table.

    What the surgeon saw there is in no column. As done, grafts look worse; as planned, the two are alike.
    45 planned each way.
    """
    truth = replace(QUIET, courses=with_course("retraction", base=0.35, case_sd=0.7))
    made = chosen(1, truth, grafted=45, advanced=45)
    to_advance = [lid for lid in made if lid.row["cover_planned"] == "advancement"]
    for lid in sorted(to_advance, key=lambda lid: lid.temper["retraction"])[-18:]:
        lid.row.update(cover="graft", graft_donor="upper lid", divided_on=lid.row["operated_on"] + timedelta(days=21))
    return tidy(rows_of(1, made, truth))


def never_divided() -> Register:
    """Retraction: alike in both, but a third of the advanced pedicles were never divided, so no lid measure is due.

    They are not missing reviews, and they are not good results. 39 and 39.
    """
    made = chosen(1, QUIET, grafted=39, advanced=39)
    for lid in [lid for lid in made if lid.cohort == "advanced"][::3]:
        lid.row.update(divided_on=None, division_early_reason=None)
    return tidy(rows_of(1, made, QUIET))


def nothing_at_150_a_cover() -> Register:
    """Every measure: the cover changes nothing, and it was chosen by the defect. 150 and 150."""
    return register(1, replace(QUIET, patients=420, choice=SELECTS), each=150)


def swelling_at_three_months_only() -> Register:
    """Oedema: grafts swell by a grade and more at three months, and by next to nothing from six months on. 70 and 70."""
    courses = with_course("oedema", base=0.1, graft=0.0, fade=0.0, fade_graft=12.0, fade_months=1.0)
    return register(1, replace(QUIET, courses=courses), each=70)


HAZARDS = (
    effect_by_confounding_alone,
    effect_hidden_by_confounding,
    a_real_effect,
    trouble_returns,
    newer_cohort,
    competing_death,
    different_review_intervals,
    different_days_of_division,
    two_lids_one_patient,
    none_of_eighteen,
    blanks,
    suspected_recurrences,
    learning_over_the_years,
    only_the_unmasked_assessor_sees_it,
    planned_one_way_done_another,
    never_divided,
    nothing_at_150_a_cover,
    swelling_at_three_months_only,
)
