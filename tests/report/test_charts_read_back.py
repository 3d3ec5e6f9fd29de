"""Every chart of the page shows the numbers of its findings: read from the drawing, by its words and by its places."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date

import pytest

from outcomes.findings.results import CurvePoint, LidCourse
from outcomes.protocol import COHORTS, default_protocol
from outcomes.report.charts.balance import balance_figures
from outcomes.report.charts.checks import checks_figures
from outcomes.report.charts.courses import courses_figures, pairs_figures
from outcomes.report.charts.curves import curves_figures
from outcomes.report.charts.differences import differences_figures
from outcomes.report.charts.drawing import picture, specified
from outcomes.report.charts.follow_up import followed_figures, seen_figures
from outcomes.report.charts.grades import grades_figures
from outcomes.report.charts.individual_values import lids_figures
from outcomes.report.charts.learning import learning_figures
from outcomes.report.charts.overview import overview_figures
from outcomes.report.charts.theme import SCREEN
from outcomes.report.charts.windows import windows_figures
from tests.report.chart_numbers import (
    FILL,
    compare_balance,
    compare_checks,
    compare_curves,
    compare_differences,
    compare_overview,
    compare_windows,
    near,
    without_repeats,
)
from tests.report.drawn import marks, of_kind
from tests.report.invented import invented_comparison

PROTOCOL = default_protocol()
WHOLE = invented_comparison()
DAYS_A_MONTH = 365.25 / 12
SINCE_DIVISION = [each for each in WHOLE.findings if each.clock == "division"]


def read(figure):
    """The marks of a figure as drawn for the page."""
    return marks(picture(figure, SCREEN).inline)


def main(outcome="main"):
    names = {measure.id for measure in PROTOCOL.main_measures}
    return [
        each
        for each in SINCE_DIVISION
        if each.measure in names and each.window == PROTOCOL.primary_window and outcome == each.outcome
    ]


def test_differences():
    held = [each for each in main() if each.contrast.estimate is not None]
    assert any(each.adjusted for each in held)
    compare_differences(read(differences_figures(WHOLE, PROTOCOL)[0]), held, PROTOCOL)


def test_a_difference_that_was_not_adjusted_has_no_weighted_point():
    findings = tuple(replace(each, adjusted=None) for each in WHOLE.findings)
    bare = replace(WHOLE, findings=findings)
    found = read(differences_figures(bare, PROTOCOL)[0])
    assert {mark.said["way"] for mark in of_kind(found, "point", "way")} == {"crude"}


def test_balance():
    compare_balance(read(balance_figures(WHOLE, PROTOCOL)[0]), WHOLE.balance, bound=PROTOCOL.rules.imbalance_smd)


def test_every_lid():
    found = read(lids_figures(WHOLE, PROTOCOL)[0])
    panels = Counter(mark.plot for mark in of_kind(found, "point", "cohort"))
    held = [each for each in main() if not each.is_share]
    assert len(panels) == len(held)
    for plot, finding in zip(sorted(panels), held, strict=True):
        points = [mark for mark in of_kind(found, "point", "cohort") if mark.plot == plot]
        middles = [mark for mark in of_kind(found, "tick", "median") if mark.plot == plot]
        boxes = [mark for mark in of_kind(found, "bar", "q1") if mark.plot == plot]
        for cohort, middle, box in zip(COHORTS, middles, boxes, strict=True):
            side = getattr(finding, cohort)
            values = [value for value, _ in side.counts]
            drawn = Counter(
                min(values, key=lambda value, mark=mark: abs(value - mark.number("y")))
                for mark in points
                if mark.said["cohort"] == cohort
            )
            assert drawn == dict(side.counts)
            assert middle.number("median") == near(side.median)
            assert (box.number("q1"), box.number("q3")) == (near(side.q1), near(side.q3))
            assert {mark.fill for mark in points if mark.said["cohort"] == cohort} == {FILL[cohort]}


@pytest.mark.parametrize(
    "place,outcome,is_main", [(0, "poor", True), (1, "poor", False), (2, "value", True), (3, "value", False)]
)
def test_windows(place, outcome, is_main):
    measures = {
        measure.id
        for measure in PROTOCOL.measures
        if measure.main is is_main and (outcome == "poor" or PROTOCOL.value_field(measure).kind != "yes_no")
    }
    held = [
        each
        for each in SINCE_DIVISION
        if each.measure in measures
        and each.outcome != "value"
        and each.is_share == (outcome == "poor")
        and each.grafted.n + each.advanced.n
    ]
    compare_windows(read(windows_figures(WHOLE, PROTOCOL)[place]), held, PROTOCOL)


def test_grades():
    figures = {figure.id: figure for figure in grades_figures(WHOLE, PROTOCOL)}
    graded = [measure for measure in PROTOCOL.measures if PROTOCOL.value_field(measure).levels]
    assert len(figures) == len(graded)
    for measure in graded:
        found = read(figures[f"grades-{measure.id.replace('_', '-')}"])
        held = [
            each
            for each in SINCE_DIVISION
            if (each.measure, each.outcome) == (measure.id, "main") and each.grafted.n + each.advanced.n
        ]
        for cohort in COHORTS:
            columns = {}
            for mark in of_kind(found, "bar", "grade"):
                if mark.panel == cohort.capitalize():
                    columns.setdefault(round(mark.points[0][0]), []).append(mark)
            sides = [getattr(each, cohort) for each in held]
            for side, place in zip([side for side in sides if side.n], sorted(columns), strict=True):
                compare_stack(sorted(columns[place], key=lambda mark: mark.low), side)
            numbers = [mark for mark in of_kind(found, "text mark") if mark.panel == cohort.capitalize()]
            counts = sorted((mark for mark in numbers if mark.text.isdigit()), key=lambda mark: mark.points[0][0])
            assert [int(mark.text) for mark in counts] == [side.n for side in sides]


def compare_stack(bars, side):
    """Bars from the bottom to the top, one a grade, as high as its share of the lids; each begins where the one before ends."""
    assert [(mark.high - mark.low) * side.n for mark in bars] == near([number for _, number in side.counts])
    assert [mark.low for mark in bars] == near([0, *(mark.high for mark in bars[:-1])])


def test_overview():
    decided = {"better with advanced", "better with graft", "may be better with advanced", "may be better with graft"}
    names = {measure.id for measure in PROTOCOL.main_measures}
    held = [
        each
        for each in SINCE_DIVISION
        if each.family == "planned"
        and (each.measure in names or each.verdict in decided)
        and each.judged.low is not None
        and each.important_difference
    ]
    assert any(each.verdict in decided for each in held)
    compare_overview(read(overview_figures(WHOLE, PROTOCOL)[0]), held, PROTOCOL)


def test_checks():
    held = [each for each in main() if each.checks]
    assert held
    compare_checks(read(checks_figures(WHOLE, PROTOCOL)[0]), held, PROTOCOL)


COURSES = (
    LidCourse(
        "G001", "grafted", "margin_position", date(2024, 1, 1), (7, 42, 183), (5.0, 5.5, 6.0), (4.5, None, 5.0), 100
    ),
    LidCourse("A001", "advanced", "margin_position", date(2024, 2, 1), (8, 190), (4.0, 4.5), (4.0, 4.0)),
)


def test_courses_hold_every_value_of_every_lid_and_mark_the_revised():
    (figure,) = courses_figures(replace(WHOLE, courses=COURSES), PROTOCOL)
    rows = [row for each in specified(figure, SCREEN)["datasets"].values() for row in each]
    values = {(row["case"], row["day"], row["value"]) for row in rows if "value" in row}
    assert values == {
        (each.case, day, value) for each in COURSES for day, value in zip(each.days, each.values, strict=True)
    }
    assert {row["case"] for row in rows if row.get("revised")} == {"G001"}
    assert figure.single_lids


def test_a_lid_stands_beside_its_fellow_lid_of_the_review_nearest_to_the_main_one():
    (figure,) = pairs_figures(replace(WHOLE, courses=COURSES), PROTOCOL)
    rows = [row for each in specified(figure, SCREEN)["datasets"].values() for row in each if "case" in row]
    assert {(row["case"], row["day"], row["operated"], row["fellow"]) for row in rows} == {
        ("G001", 183, 6.0, 5.0),
        ("A001", 190, 4.5, 4.0),
    }


def test_lines_and_points_shifted_apart_stay_within_their_axes():
    alike = tuple(
        LidCourse(f"G{number:03}", "grafted", "margin_position", date(2024, 1, 1), (7, 183), (5.5, 5.5), (5.5, 5.5))
        for number in range(30)
    )
    held = replace(WHOLE, courses=alike)
    for figure in (*courses_figures(held, PROTOCOL), *pairs_figures(held, PROTOCOL)):
        spec = specified(figure, SCREEN)
        low, high = spec["concat"][0]["layer"][0]["encoding"]["y"]["scale"]["domain"]
        placed = [row["y"] for rows in spec["datasets"].values() for row in rows if "case" in row]
        assert low < min(placed) < max(placed) < high, figure.id


def with_lids(finding, lids, **counts):
    """The finding as if so many lids of each cohort had been measured."""
    return replace(finding, **{cohort: replace(getattr(finding, cohort), n=lids, **counts) for cohort in COHORTS})


def test_counts_of_a_large_register_stand_in_thousands_where_long_numbers_have_no_room():
    large = replace(WHOLE, findings=tuple(with_lids(each, 585_203) for each in WHOLE.findings))
    for figure in (*windows_figures(large, PROTOCOL), *grades_figures(large, PROTOCOL)):
        rows = [row for rows in specified(figure, SCREEN)["datasets"].values() for row in rows]
        assert {row.get("written", row.get("n")) for row in rows if "address" in row} == {"585"}, figure.id
        assert "in thousands" in figure.caption[0][0]
    for figure in (*windows_figures(WHOLE, PROTOCOL), *grades_figures(WHOLE, PROTOCOL)):
        assert "in thousands" not in figure.caption[0][0]


def test_lines_of_points_about_the_least_and_the_greatest_value_stay_within_their_axis():
    held = [with_lids(each, 2_000, counts=((0.0, 1_000), (1.0, 1_000))) for each in main() if not each.is_share]
    (figure,) = lids_figures(replace(WHOLE, findings=tuple(held)), PROTOCOL)
    spec = specified(figure, SCREEN)
    for panel in spec["concat"]:
        dots = next(layer for layer in panel["layer"] if layer["mark"]["type"] == "point")
        low, high = dots["encoding"]["y"]["scale"]["domain"]
        placed = [row["y"] for row in spec["datasets"][dots["data"]["name"]]]
        line = 0.52 * (high - low) / 11.5
        assert low + line / 2 < min(placed) < max(placed) < high - line / 2


def test_a_curve_of_no_event_begins_at_the_foot_of_its_axis():
    curve = replace(next(each for each in WHOLE.curves if not each.upper), points=(CurvePoint(0.0, 0.0, None, None),))
    (figure,) = curves_figures(replace(WHOLE, curves=(curve,)), PROTOCOL)
    lines = specified(figure, SCREEN)["vconcat"][0]["layer"][1]
    assert lines["encoding"]["y"]["scale"]["domain"] == [0, 0.05]


def test_nothing_of_single_lids_is_drawn_without_courses():
    assert courses_figures(WHOLE, PROTOCOL) == pairs_figures(WHOLE, PROTOCOL) == ()


@pytest.mark.parametrize("place", range(len(PROTOCOL.timed)), ids=[timed.id for timed in PROTOCOL.timed])
def test_curves(place):
    curves = [each for each in WHOLE.curves if each.event == PROTOCOL.timed[place].id]
    assert len(curves) == 2
    only = replace(WHOLE, curves=tuple(curves))
    compare_curves(read(curves_figures(only, PROTOCOL)[0]), curves)


def test_learning():
    """Each course as a line and its interval as a band, in the panel of its measure."""
    found = read(learning_figures(WHOLE, PROTOCOL)[0])
    for measure in PROTOCOL.main_measures:
        of_panel = [mark for mark in found if mark.panel.startswith(f"{measure.label} (")]
        lines = {
            mark.said["cohort"]: without_repeats(mark.vertices()) for mark in of_kind(of_panel, "line mark", "cohort")
        }
        bands = {
            mark.said["cohort"]: without_repeats(mark.vertices()) for mark in of_kind(of_panel, "area mark", "cohort")
        }
        assert lines.keys() == bands.keys() == set(COHORTS)
        for course in (each for each in WHOLE.learning if each.measure == measure.id):
            assert lines[course.cohort] == [(near(at.case), near(at.estimate)) for at in course.points]
            corners = bands[course.cohort]
            sides = corners[: len(course.points)], corners[len(course.points) :][::-1]
            low, high = sorted(sides, key=lambda side: side[0][1])
            assert low == [(near(at.case), near(at.low)) for at in course.points]
            assert high == [(near(at.case), near(at.high)) for at in course.points]


def test_nothing_is_drawn_of_the_order_of_cases_without_courses():
    assert learning_figures(replace(WHOLE, learning=()), PROTOCOL) == ()


def test_seen():
    found = read(seen_figures(WHOLE, PROTOCOL)[0])
    states = {"seen": "seen", "due, not seen": "missing", "not yet due": "not_due", "not applicable": "not_applicable"}
    labels = {window.label: window.id for window in PROTOCOL.windows}
    drawn = {
        (labels[mark.said["window"]], mark.said["cohort"], states[mark.said["state"]]): mark.right - mark.left
        for mark in of_kind(found, "bar", "state")
    }
    assert drawn == near(
        {
            (each.window, each.cohort, state): getattr(each, state)
            for each in WHOLE.followed_by_window
            for state in states.values()
        }
    )


def test_followed():
    found = read(followed_figures(WHOLE, PROTOCOL)[0])
    drawn = {}
    for mark in found:
        if "case" in mark.said:
            drawn.setdefault((mark.said["case"], kind_of(mark)), []).append(mark)
    for each in WHOLE.followed:
        events = [*each.events, *([each.ended] if each.ended else [])]
        last = max([0, each.divided or 0, *each.reviews, *(day for _, day in events)])
        expected = {
            "could": [max(last, each.due_until)],
            "last": [last],
            "tick": [] if each.divided is None else [each.divided],
            "circle": list(each.reviews),
        }
        for kind, days in expected.items():
            assert [end_of(mark) for mark in drawn.pop((each.case, kind), [])] == near(days), (each.case, kind)
        for kind in dict(events):
            days = sorted(day for other, day in events if other == kind)
            assert sorted(end_of(mark) for mark in drawn.pop((each.case, kind))) == near(days), (each.case, kind)
    assert drawn == {}


def end_of(mark):
    """The day at the end of a line that begins with the operation, or at the middle of any other mark."""
    if mark.kind != "rule mark":
        return mark.centre * DAYS_A_MONTH
    assert mark.left == near(0)
    return mark.right * DAYS_A_MONTH


def kind_of(mark):
    if mark.kind == "rule mark":
        return "could" if "could" in mark.said else "last"
    return mark.said.get("kind", mark.kind)
