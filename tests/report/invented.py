"""An invented comparison in its frozen form, for the report to show. No number in it is anybody's."""

import random
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from statistics import mean, median, quantiles, stdev

from outcomes.cohort import Choice, Loss
from outcomes.findings.results import (
    Adjusted,
    Adjustment,
    BalanceLine,
    Bounded,
    CalendarTrend,
    Caution,
    Check,
    Comparison,
    Contrast,
    Curve,
    CurvePoint,
    Fact,
    Finding,
    FlowStep,
    Followed,
    Group,
    LearningCourse,
    LearningPoint,
    LeftOut,
    Mean,
    Note,
    Range,
    Share,
    Stamp,
    SurgeonDifference,
    TimedFinding,
    TimedShare,
    Unseen,
    Values,
    WindowFollowed,
)
from outcomes.protocol import default_protocol

PROTOCOL = default_protocol()
LIDS = {"grafted": 18, "advanced": 22}
SEEN = {
    "one_week": (17, 20),
    "six_weeks": (16, 19),
    "three_months": (16, 20),
    "six_months": (14, 18),
    "one_year": (11, 13),
    "two_years": (7, 6),
    "three_years": (3, 2),
    "four_years": (0, 0),
    "five_years": (0, 0),
}


@cache
def invented_comparison() -> Comparison:
    """A whole comparison with something of everything that a report must be able to show."""
    dice = random.Random(20260630)
    return Comparison(
        stamp=Stamp(
            40,
            "3f9ac2" * 10,
            "spring lock",
            date(2026, 6, 30),
            "lid-outcomes 0.1.0",
            PROTOCOL.name,
            PROTOCOL.fingerprint,
            (Choice("sites", ("NORTH",)),),
        ),
        grafted=Group(18, 18, 18, 14.2, 11.8, 20.4, 0.82, (("AB", 80), ("CD", 5)), 12, 85),
        advanced=Group(22, 21, 20, 11.9, 9.6, None, 0.71, (("AB", 95), ("CD", 3)), 0, 98),
        flow=(
            FlowStep("reconstructed", 23, 30),
            FlowStep("operated_from", 18, 24, (Loss("filtered", 11),), "2023-01-01"),
            FlowStep("divided", 18, 22, (Loss("undivided", 2),)),
            FlowStep("reviewed", 14, 18, (Loss("missing", 4), Loss("not_due", 4)), "six months", "six_months"),
        ),
        balance=tuple(_balance_lines()),
        adjustment=Adjustment(
            True,
            ("Defect width as share of the lid", "Distraction (laxity)", "Surgeon"),
            (LeftOut("Defect height", "too_few_lids"), LeftOut("Age at operation", "not_recorded")),
            2,
            11.2,
            12.9,
        ),
        findings=_on_both_clocks(tuple(_findings(dice))),
        timing=tuple(_timing()),
        curves=tuple(_curves(dice)),
        means=(
            Mean("recurrence", 36.0, 34.8, 35.2, Bounded(0.4, -1.2, 2.0)),
            Mean("oedema_settled", None, None, None, Bounded(None, None, None), (Note("not_followed_for_mean"),)),
        ),
        followed=tuple(_followed(dice)),
        followed_by_window=tuple(
            WindowFollowed(
                window,
                cohort,
                seen[number],
                (LIDS[cohort] - seen[number]) // 2,
                LIDS[cohort] - seen[number] - (LIDS[cohort] - seen[number]) // 2,
                0,
            )
            for window, seen in SEEN.items()
            for number, cohort in enumerate(LIDS)
        ),
        warnings=(
            Caution("clustered", (Fact("clustered", numbers=(40, 39)),)),
            Caution("follow_up_differs", (Fact("reviewed_apart", ("notching",), (0.78, 0.92)),)),
            Caution("masking_matters", (Fact("masked_saw_less", ("oedema of the cover at six months <masked>",)),)),
        ),
        queries=("case 7: distraction over 15 mm",),
        learning=tuple(
            LearningCourse(measure.id, PROTOCOL.primary_window, cohort, n, tuple(_smoothed(dice, n)))
            for measure in PROTOCOL.main_measures
            for cohort, n in zip(LIDS, SEEN["six_months"], strict=True)
        ),
        surgeons=tuple(
            SurgeonDifference(measure.id, surgeon, 7, 8, -0.31, -0.74, 0.12)
            for measure in PROTOCOL.main_measures[:2]
            for surgeon in ("AB", "CD")
        ),
        calendar=tuple(CalendarTrend(measure.id, 0.041, -0.152, 0.234, 0.68) for measure in PROTOCOL.main_measures[1:]),
    )


def empty_comparison() -> Comparison:
    """Two cohorts of nobody, with no finding of any kind."""
    nobody = Group(0, 0, 0, None, None, None, None)
    return replace(
        invented_comparison(),
        grafted=nobody,
        advanced=nobody,
        flow=(FlowStep("reconstructed", 0, 0),),
        balance=(),
        adjustment=Adjustment(False, (), (), 0, None, None, "one_cohort_empty"),
        findings=(),
        timing=(),
        curves=(),
        means=(),
        followed=(),
        followed_by_window=(),
        warnings=(),
        queries=(),
        learning=(),
        surgeons=(),
        calendar=(),
    )


def one_sided_comparison() -> Comparison:
    """A comparison whose grafted cohort is empty: every difference is absent, with its reason."""
    whole = invented_comparison()
    nobody = Contrast("difference of means", None, None, None)
    return replace(
        whole,
        grafted=Group(0, 0, 0, None, None, None, None),
        findings=tuple(
            replace(
                each,
                grafted=_nobody(each.grafted),
                contrast=nobody,
                adjusted=None,
                unseen=Unseen(),
                verdict=None if each.verdict is None else "too few to say",
                could_find=None,
                checks=(),
                notes=(Note("not_recorded", label="grafted"),),
            )
            for each in whole.findings
            if each.measure in {measure.id for measure in PROTOCOL.main_measures}
        ),
        adjustment=Adjustment(False, (), (), 0, None, None, "one_cohort_empty"),
        balance=tuple(
            replace(line, grafted=None, grafted_spread=None, grafted_known=0, smd=None, smd_adjusted=None)
            for line in whole.balance
        ),
        followed=tuple(each for each in whole.followed if each.cohort == "advanced"),
        curves=tuple(each for each in whole.curves if each.cohort == "advanced")[:1],
        timing=tuple(
            replace(each, grafted=TimedShare(0, 0, None, None, None), contrast=nobody) for each in whole.timing
        ),
        means=(),
        learning=tuple(each for each in whole.learning if each.cohort == "advanced"),
        surgeons=(),
        calendar=(),
    )


def _nobody(held):
    if isinstance(held, Share):
        return Share(0, 0, 0, 0, 0, 0, None, None, None)
    return Values(0, 0, 0, 0, 0, None, None, None, None, None, ())


def _balance_lines():
    numbers = [
        ("defect_share", "Defect width as share of the lid", "", 0.61, 0.44, 0.15, 0.12, -1.24, -0.11),
        ("distraction", "Distraction (laxity)", "mm", 5.9, 8.4, 1.9, 2.4, 1.15, 0.08),
        ("age", "Age at operation", "years", 71.2, 74.8, 9.6, 8.1, 0.41, 0.22),
    ]
    for field, label, unit, grafted, advanced, sd_g, sd_a, smd, after in numbers:
        yield BalanceLine(
            field, label, "", unit, grafted, advanced, sd_g, sd_a, 18, 21, 0, 1, smd, after, adjusted_for=field != "age"
        )
    for level, grafted, advanced, smd in (
        ("basal cell carcinoma", 14, 18, 0.09),
        ("=squamous cell carcinoma", 4, 4, -0.1),
    ):
        yield BalanceLine(
            "diagnosis",
            "Diagnosis",
            level,
            "",
            grafted,
            advanced,
            None,
            None,
            18,
            22,
            0,
            0,
            smd,
            None,
            adjusted_for=False,
        )
    for level, grafted, advanced, smd in (("AB", 12, 15, 0.03), ("CD", 6, 7, -0.03)):
        counts = (grafted, advanced, None, None, 18, 22, 0, 0)
        yield BalanceLine("surgeon", "Surgeon", level, "", *counts, smd, None, adjusted_for=True)
    yield BalanceLine(
        "days_to_division",
        "Days from operation to division",
        "",
        "days",
        22.0,
        36.0,
        4.0,
        5.0,
        18,
        22,
        0,
        0,
        3.1,
        None,
        adjusted_for=False,
        consequence=True,
    )


def _findings(dice):
    for measure in PROTOCOL.measures:
        field = PROTOCOL.value_field(measure)
        for window, seen in SEEN.items():
            held = {
                cohort: [_value(dice, field, cohort) for _ in range(n)] for cohort, n in zip(LIDS, seen, strict=True)
            }
            if field.kind == "yes_no":
                yield _poor(measure, window, "main", held, dice)
                continue
            yield _told_as_value(measure, window, held, dice)
            if PROTOCOL.judges(measure, PROTOCOL.window(window)):
                yield _poor(measure, window, "poor", held, dice)


def _on_both_clocks(findings):
    """Beside the findings since division a few since operation, which have addresses of their own."""
    others = (
        replace(each, clock="operation", family="exploratory", verdict=None) for each in findings if each.is_planned
    )
    return (*findings, *others)


def _value(dice, field, cohort):
    if field.kind == "yes_no":
        return float(dice.random() < 0.1)
    low, high = field.limits
    if field.levels:
        return float(min(high, max(low, round(dice.expovariate(1.2 if cohort == "grafted" else 1.6)))))
    if field.unit == "%":
        return float(min(100, 5 * round(dice.gauss(9, 3))))
    return min(high, max(low, round(2 * dice.gauss(0.9 if cohort == "grafted" else 0.5, 0.7)) / 2 + 0.0))


def _bad(measure, value):
    return value >= measure.poor.bound if measure.poor.at_least is not None else value <= measure.poor.bound


def _poor(measure, window, outcome, held, dice):
    shares = {cohort: _share(cohort, [_bad(measure, value) for value in values]) for cohort, values in held.items()}
    few = min(len(values) for values in held.values()) < 5
    both = all(held.values())
    gap = shares["advanced"].proportion - shares["grafted"].proportion if both else None
    return _finding(measure, window, outcome, shares, gap, 0.22, few, dice)


def _share(cohort, bad):
    n, events = len(bad), sum(bad)
    missing = (LIDS[cohort] - n) // 2
    share = events / n if n else None
    return Share(
        n,
        missing,
        LIDS[cohort] - n - missing,
        0,
        n,
        events,
        share,
        share and max(0, share - 0.15),
        None if share is None else min(1, share + 0.2),
    )


def _told_as_value(measure, window, held, dice):
    told = {}
    for cohort, values in held.items():
        q1, _, q3 = quantiles(values, method="inclusive") if len(values) > 1 else (None, None, None)
        counts = tuple(sorted((value, values.count(value)) for value in set(values)))
        missing = (LIDS[cohort] - len(values)) // 2
        told[cohort] = Values(
            len(values),
            missing,
            LIDS[cohort] - len(values) - missing,
            0,
            len(values),
            mean(values) if values else None,
            stdev(values) if len(values) > 1 else None,
            median(values) if values else None,
            q1,
            q3,
            counts,
        )
    few = min(len(values) for values in held.values()) < 5
    gap = told["advanced"].mean - told["grafted"].mean if all(held.values()) else None
    width = 12.0 if PROTOCOL.value_field(measure).unit == "%" else 0.6
    return _finding(measure, window, "main", told, gap, width, few, dice)


def _finding(measure, window, outcome, told, gap, width, few, dice):
    planned = outcome == "main" and window == PROTOCOL.primary_window
    share = isinstance(told["grafted"], Share)
    kind = "difference of proportions" if share else "difference of means"
    p = None if gap is None else round(dice.uniform(0.0002, 1), 4)
    adjusted = None
    if gap is not None and not few:
        ends = (0.7 * gap, 0.7 * gap - 1.2 * width, 0.7 * gap + 1.1 * width)
        method = "augmented overlap weights" if share else "linear model"
        sizes = (11.2, 12.9) if share else (None, None)
        adjusted = Adjusted(kind, method, *ends, p, min(1, 6 * p) if planned else None, *sizes, 2.4, 1.0)
    verdict = None
    if outcome == "main":
        verdict = "better with advanced" if measure.id == "notching" and planned else "cannot tell"
        verdict = "too few to say" if few else verdict
    return Finding(
        measure.id,
        window,
        outcome,
        "division",
        told["grafted"],
        told["advanced"],
        Contrast(
            kind,
            gap,
            None if gap is None else gap - width,
            None if gap is None else gap + width,
            p,
            p,
            monte_carlo_error=0.003,
        ),
        adjusted,
        verdict=verdict,
        family="exploratory" if outcome != "main" else "planned" if planned else "further",
        important_difference=measure.important_margin if outcome == "main" else None,
        could_find=None if few or outcome != "main" else 0.37,
        unseen=Unseen(Range(None, None) if gap is None else Range(gap - 1.7 * width, gap + 1.8 * width)),
        checks=(Check("operation_clock", gap * 1.1, gap - width, gap + width),) if planned and gap is not None else (),
        notes=(Note("few_lids", 5),) if few else (),
    )


def _timing():
    for timed in PROTOCOL.timed:
        for months in timed.months:
            late = months > 36
            yield TimedFinding(
                timed.id,
                "Turnbull" if timed.origin == "reviews" else "Aalen-Johansen",
                timed.clock,
                months,
                TimedShare(18, 2, None if late else 0.12, None if late else 0.03, None if late else 0.4, at_risk=11),
                TimedShare(22, 1, None if late else 0.05, None if late else 0.01, None if late else 0.3, at_risk=13),
                Contrast(
                    "difference of cumulative incidence",
                    None if late else -0.07,
                    None if late else -0.3,
                    None if late else 0.15,
                    None if late else 0.44,
                ),
                p_curve=Contrast("difference of cumulative incidence", None, None, None, 0.51),
                verdict="cannot tell" if months == timed.main_month else None,
                notes=(Note("few_followed", 5, "grafted"),) if late else (),
            )


def _curves(dice):
    for timed in PROTOCOL.timed:
        for cohort, n in LIDS.items():
            steps, share = [CurvePoint(0.0, 0.0, 0.0, 0.0)], 0.0
            for month in (2.1, 5.3, 8.8, 13.0, 20.4):
                share = min(1, share + dice.uniform(0.01, 0.15))
                steps.append(CurvePoint(month, share, max(0, share - 0.1), min(1, share + 0.15)))
            upper = (
                tuple(replace(step, estimate=min(1, step.estimate + 0.08)) for step in steps)
                if timed.origin == "reviews"
                else ()
            )
            risk = tuple((month, max(5, n - month // 3)) for month in range(0, 25, 6))
            yield Curve(timed.id, cohort, tuple(steps), risk, 24.0, upper)


def _smoothed(dice, lids):
    for place in range(1, lids + 1, 4):
        middle = dice.uniform(0.2, 1.1)
        yield LearningPoint(place, middle, middle - 0.2, middle + 0.3)


def _followed(dice):
    for cohort, lids in LIDS.items():
        for number in range(lids):
            divided = dice.choice((21, 22, 28)) if cohort == "grafted" else dice.choice((35, 36, 42))
            last = dice.randrange(60, 1100)
            reviews = tuple(sorted(divided + day for day in (7, 42, 91, 183, 365, 730) if divided + day <= last))
            events = (("revision", dice.randrange(divided, last)),) if number % 7 == 3 else ()
            ended = ("death", last) if number % 9 == 5 else None
            yield Followed(
                f"{cohort[0].upper()}{number:03}",
                cohort,
                divided if number != 2 else None,
                reviews,
                events,
                ended,
                last + dice.randrange(0, 300),
                date(2020, 1, 1) + timedelta(days=number),
            )
