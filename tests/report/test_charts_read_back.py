"""Every chart of the page shows the numbers of its findings: read from the drawing, by its words and by its places."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from outcomes.protocol import COHORTS, default_protocol
from outcomes.report.charts.balance import balance_picture
from outcomes.report.charts.curves import curves_pictures
from outcomes.report.charts.differences import differences_picture
from outcomes.report.charts.follow_up import followed_picture, seen_picture
from outcomes.report.charts.grades import grades_pictures
from outcomes.report.charts.individual_values import lids_picture
from outcomes.report.charts.windows import windows_pictures
from tests.report.chart_numbers import (
    FILL,
    compare_balance,
    compare_curves,
    compare_differences,
    compare_windows,
    near,
)
from tests.report.drawn import marks, of_kind
from tests.report.invented import invented_comparison

pytestmark = pytest.mark.quick

PROTOCOL = default_protocol()
WHOLE = invented_comparison()
DAYS_A_MONTH = 365.25 / 12
SINCE_DIVISION = [each for each in WHOLE.findings if each.clock == "division"]


def main(outcome=None):
    names = {measure.id for measure in PROTOCOL.main_measures}
    return [
        each
        for each in SINCE_DIVISION
        if each.measure in names and each.window == PROTOCOL.primary_window and outcome in {None, each.outcome}
    ]


def test_differences():
    held = [each for each in main() if each.contrast.estimate is not None]
    assert any(each.adjusted for each in held)
    compare_differences(marks(differences_picture(WHOLE, PROTOCOL).inline), held, PROTOCOL)


def test_a_difference_that_was_not_adjusted_has_no_weighted_point():
    findings = tuple(replace(each, adjusted=None) for each in WHOLE.findings)
    bare = replace(WHOLE, findings=findings)
    found = marks(differences_picture(bare, PROTOCOL).inline)
    assert {mark.said["way"] for mark in of_kind(found, "point", "way")} == {"crude"}


def test_balance():
    compare_balance(marks(balance_picture(WHOLE, PROTOCOL).inline), WHOLE.balance, bound=PROTOCOL.rules.imbalance_smd)


def test_every_lid():
    found = marks(lids_picture(WHOLE, PROTOCOL).inline)
    panels = Counter(mark.plot for mark in of_kind(found, "point", "cohort"))
    held = main("value")
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
        if each.measure in measures and each.outcome == outcome and each.grafted.n + each.advanced.n
    ]
    compare_windows(marks(windows_pictures(WHOLE, PROTOCOL)[place].inline), held, PROTOCOL)


def test_grades():
    pictures = {picture.id: picture for picture in grades_pictures(WHOLE, PROTOCOL)}
    graded = [measure for measure in PROTOCOL.measures if PROTOCOL.value_field(measure).levels]
    assert len(pictures) == len(graded)
    for measure in graded:
        found = marks(pictures[f"grades-{measure.id.replace('_', '-')}"].inline)
        held = [
            getattr(each, cohort)
            for each in SINCE_DIVISION
            if (each.measure, each.outcome) == (measure.id, "value") and each.grafted.n + each.advanced.n
            for cohort in COHORTS
        ]
        rows = {}
        for mark in of_kind(found, "bar", "level"):
            rows.setdefault(mark.number("y"), []).append(mark)
        words = [mark.text for mark in of_kind(found, "text mark", "words")]
        assert [word.rpartition("(n ")[2] for word in words] == [f"{side.n})" for side in held]
        for side, height in zip([side for side in held if side.n], sorted(rows), strict=True):
            compare_stack(sorted(rows[height], key=lambda mark: mark.left), side)


def compare_stack(bars, side):
    """Bars from left to right, one a grade, as wide as its share of the lids; each begins where the one before ends."""
    assert [(mark.number("level"), (mark.right - mark.left) * side.n) for mark in bars] == [
        (level, near(number)) for level, number in side.counts
    ]
    assert [mark.left for mark in bars] == near([0, *(mark.right for mark in bars[:-1])])


@pytest.mark.parametrize("place", range(len(PROTOCOL.timed)), ids=[timed.id for timed in PROTOCOL.timed])
def test_curves(place):
    curves = [each for each in WHOLE.curves if each.event == PROTOCOL.timed[place].id]
    assert len(curves) == 2
    only = replace(WHOLE, curves=tuple(curves))
    compare_curves(marks(curves_pictures(only, PROTOCOL)[0].inline), curves)


def test_seen():
    found = marks(seen_picture(WHOLE, PROTOCOL).inline)
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
    found = marks(followed_picture(WHOLE, PROTOCOL).inline)
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
