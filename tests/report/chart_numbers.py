"""Compare what a chart shows with the finding that it is drawn from. The same for the charts of the page and of the pack."""

from __future__ import annotations

import itertools

import pytest

from outcomes.findings.results import Share
from outcomes.protocol import COHORTS
from tests.report.drawn import of_kind

CRUDE, ADJUSTED = "crude", "adjusted for the choice of cover"
FILL = {"grafted": "#173f6b", "advanced": "#ffffff"}
INK, PAPER = "#222222", "#ffffff"


def near(value):
    """As near as a drawing is: its places are rounded to a thousandth of a point."""
    return pytest.approx(value, abs=2e-4, rel=2e-4)


def of_cohorts(held):
    return [(cohort, getattr(held, cohort)) for cohort in COHORTS]


def between(estimate, low, high):
    """An estimate without limits is drawn as a line of no length."""
    return (estimate if low is None else low, estimate if high is None else high)


def middle(side, *, medians):
    if isinstance(side, Share):
        return side.proportion, *between(side.proportion, side.low, side.high)
    at = side.median if medians else side.mean
    return at, *between(at, side.q1, side.q3)


def without_means(findings):
    """The measures of which some mean is not told: all their points are medians, never one beside the other."""
    return {
        each.measure
        for each in findings
        for _, side in of_cohorts(each)
        if not isinstance(side, Share) and side.n and side.mean is None
    }


def compare_differences(found, findings, protocol):
    """Crude as crude and adjusted as adjusted, each with its own limits and an end at each."""
    parts = {CRUDE: "contrast", ADJUSTED: "adjusted"}
    held = [(each, 100 if each.is_share else 1) for each in findings]
    points = {(mark.said["measure"], mark.said["way"]): mark for mark in of_kind(found, "point", "way")}
    lines = {(mark.said["measure"], mark.said["way"]): mark for mark in of_kind(found, "rule mark", "way")}
    drawn = 0
    for finding, by in held:
        name = label_of(finding, protocol)
        for way, part in parts.items():
            contrast = getattr(finding, part)
            if contrast is None or contrast.estimate is None:
                assert (name, way) not in points
                continue
            low, high = between(contrast.estimate, contrast.low, contrast.high)
            point, line = points[name, way], lines[name, way]
            assert (point.left, point.number("estimate")) == (
                near(by * contrast.estimate),
                near(by * contrast.estimate),
            )
            assert (line.left, line.right) == (near(by * low), near(by * high))
            assert (line.first(), line.number("high")) == (near(by * low), near(by * high))
            assert point.fill == (INK if way == CRUDE else PAPER)
            assert point.points[0][1] == line.points[0][1]
            drawn += 1
    assert len(points) == len(lines) == drawn > 0
    assert len(of_kind(found, "tick", "way")) == 2 * drawn
    assert len({mark.points[0][1] for mark in points.values()}) > 1


def label_of(finding, protocol):
    measure = protocol.measure(finding.measure)
    words = protocol.poor_words(measure) if finding.is_share else "yes"
    return measure.label if words == "yes" else f"{measure.label}: {words}"


def compare_balance(found, lines, bound):
    """Before weighting open, after weighting filled; dotted lines at the bound on both sides."""
    drawn = {(mark.said["label"], mark.said["way"]): mark for mark in of_kind(found, "point", "label", "way")}
    expected = {}
    for line in lines:
        label = line.label if line.level in {"", "yes"} else f"{line.label}: {line.level}"
        for way, smd in (("before weighting", line.smd), ("after weighting", line.smd_adjusted)):
            if line.smd is not None and not line.consequence and smd is not None:
                expected[label, way] = smd
    assert {key: mark.left for key, mark in drawn.items()} == near(expected)
    assert {key: mark.first() for key, mark in drawn.items()} == near(expected)
    assert all(mark.fill == (PAPER if way == "before weighting" else INK) for (_, way), mark in drawn.items())
    assert sorted(mark.left for mark in of_kind(found, "rule mark", "at")) == near([-bound, 0, bound])
    assert expected


def compare_windows(found, findings, protocol):
    """Each cohort's result at each review, under the heading of its measure, with the number of lids beneath."""
    order = [window.id for window in protocol.windows]
    expected, medians = {}, without_means(findings)
    for finding in findings:
        for cohort, side in of_cohorts(finding):
            point = middle(side, medians=finding.measure in medians)
            if point[0] is not None:
                key = protocol.measure(finding.measure).label, order.index(finding.window), cohort
                expected[key] = point
    assert expected
    points, lines = (
        {key_of(mark, protocol): mark for mark in of_kind(found, kind, "x")} for kind in ("point", "rule mark")
    )
    assert points.keys() == lines.keys() == expected.keys()
    for key, (at, low, high) in expected.items():
        assert points[key].low == near(at), key
        assert points[key].panel.endswith(", median") == (key[0] in {protocol.measure(each).label for each in medians})
        assert (lines[key].low, lines[key].high) == (near(low), near(high)), key
        assert lines[key].number("high") == near(high), key
        assert points[key].said["cohort"] == key[2]
        assert points[key].fill == FILL[key[2]]
    numbers = sorted(mark.text.strip() for mark in of_kind(found, "text mark") if mark.text.strip().isdigit())
    assert numbers == sorted(str(side.n) for each in findings for _, side in of_cohorts(each))


def key_of(mark, protocol):
    """The measure by the heading of the panel, the review by the whole number nearest, the cohort by the side of it."""
    labels = [measure.label for measure in protocol.measures if mark.panel.startswith(measure.label)]
    x = mark.number("x")
    return max(labels, key=len), round(x), "grafted" if x < round(x) else "advanced"


def stepped(points):
    """The corners of steps that hold each value until the next."""
    corners = [points[0]]
    for (_, before), (at, value) in itertools.pairwise(points):
        corners += [(at, before), (at, value)]
    return corners


def value_at(points, months):
    return [point.estimate for point in points if point.months <= months][-1]


def edges_of(curve):
    """The lower and the upper edge of the band around a curve, as points."""
    if not curve.upper:
        known = [point for point in curve.points if point.low is not None and point.high is not None]
        return [(each.months, each.low) for each in known], [(each.months, each.high) for each in known]
    months = sorted({point.months for point in (*curve.points, *curve.upper)})
    return [[(month, value_at(points, month)) for month in months] for points in (curve.points, curve.upper)]


def compare_curves(found, curves):
    """Each edge of a curve as a line, the interval around it as a band with a lower and an upper edge, and who is at risk."""
    lines = {mark.said["edge"]: mark for mark in of_kind(found, "line mark", "edge")}
    bands = {mark.said["cohort"]: mark for mark in of_kind(found, "area mark", "cohort")}
    expected = {
        f"{curve.cohort} {edge}": points
        for curve in curves
        for edge, points in (("lower", curve.points), ("upper", curve.upper))
        if points
    }
    assert lines.keys() == expected.keys()
    for edge, points in expected.items():
        assert same_corners(lines[edge].vertices(), stepped([(each.months, each.estimate) for each in points])), edge
    for curve in curves:
        low, high = edges_of(curve)
        corners = bands[curve.cohort].vertices()
        half = len(corners) // 2
        sides = [corners[:half], corners[half:][::-1]]
        assert same_corners(min(sides, key=total), stepped(low)), curve.cohort
        assert same_corners(max(sides, key=total), stepped(high)), curve.cohort
    compare_at_risk(found, curves)


def total(corners):
    return sum(value for _, value in corners)


def same_corners(drawn, expected):
    """The same corners in order; a step of nothing may be drawn or not."""
    return [(near(x), near(y)) for x, y in without_repeats(expected)] == without_repeats(drawn)


def without_repeats(corners):
    kept = []
    for each in corners:
        if not kept or abs(each[0] - kept[-1][0]) > 1e-3 or abs(each[1] - kept[-1][1]) > 2e-5:
            kept.append(each)
    return kept


def compare_at_risk(found, curves):
    """The lids still at risk, in one line a cohort, from left to right."""
    texts = [mark for mark in of_kind(found, "text mark") if mark.text.strip().isdigit()]
    rows = {}
    for mark in sorted(texts, key=lambda mark: mark.points[0]):
        rows.setdefault(mark.points[0][1], []).append(int(mark.text))
    expected = [[number for _, number in curve.at_risk] for curve in curves]
    assert [rows[height] for height in sorted(rows)] == expected


def compare_timing(found, findings, protocol):
    """The share of each cohort by each moment, in the panel of its event, with its interval."""
    for timed in protocol.timed:
        mine = [each for each in findings if each.event == timed.id]
        expected = {
            (each.at_months, cohort): (side.estimate, *between(side.estimate, side.low, side.high))
            for each in mine
            for cohort, side in of_cohorts(each)
            if side.estimate is not None
        }
        points, lines = (
            {moment(mark, mine): mark for mark in of_kind(found, kind) if mark.panel == timed.label and mark.points}
            for kind in ("point", "rule mark")
        )
        assert points.keys() == lines.keys() == expected.keys()
        for key, (at, low, high) in expected.items():
            assert points[key].low == near(at), (timed.id, key)
            assert (lines[key].low, lines[key].high) == (near(low), near(high)), (timed.id, key)
            assert points[key].said["cohort"] == key[1]


def moment(mark, findings):
    nearest = min((each.at_months for each in findings), key=lambda at: abs(at - mark.left))
    return nearest, "grafted" if mark.left < nearest else "advanced"


def compare_overview(found, findings, protocol):
    """The judged difference of each measure with its limits, in multiples of what matters; advanced skin's side is on the left."""
    points = {mark.said["measure"].split(", ")[0]: mark for mark in of_kind(found, "point", "measure")}
    lines = {mark.said["measure"].split(", ")[0]: mark for mark in of_kind(found, "rule mark", "measure")}
    assert len(points) == len(lines) == len(findings) > 0
    for finding in findings:
        measure = protocol.measure(finding.measure)
        judged = finding.adjusted or finding.contrast
        way = (1 if finding.is_share or measure.worse == "higher" else -1) / finding.important_difference
        name = label_of(finding, protocol)
        assert points[name].centre == near(way * judged.estimate)
        ends = sorted((way * judged.low, way * judged.high))
        assert [lines[name].left, lines[name].right] == near(ends)
        decided = finding.verdict.startswith(("better", "may be better"))
        assert points[name].fill == (INK if decided else PAPER)


def compare_checks(found, findings, protocol):
    """Each check of each measure with its limits, in the panel of the measure, the main analysis first."""
    for finding in findings:
        label = protocol.measure(finding.measure).label
        lines = [mark for mark in of_kind(found, "rule mark", "check") if mark.panel.startswith(f"{label}(")]
        judged = finding.adjusted or finding.contrast
        told = [judged, *(each for each in finding.checks if each.low is not None)]
        assert sorted((mark.left, mark.right) for mark in lines) == [
            (near(low), near(high)) for low, high in sorted((each.low, each.high) for each in told)
        ]
        points = [mark for mark in of_kind(found, "point", "check") if mark.panel.startswith(f"{label}(")]
        assert sorted(mark.centre for mark in points) == near(sorted(each.estimate for each in told))
