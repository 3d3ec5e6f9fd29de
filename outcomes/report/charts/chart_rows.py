"""The rows that charts draw: intervals, shares, curves, and the words beside them."""

from __future__ import annotations

import math
from typing import Any, Literal

import altair as alt

from outcomes.findings.results import Curve, CurvePoint, Finding, Share, TimedShare, Values
from outcomes.protocol import Measure, Protocol
from outcomes.report.finding_index import ShownOutcome

Rows = list[dict[str, Any]]
CONTRASTS = ["crude", "adjusted for the choice of cover"]
MOST_STEPS = 400
ROOM = 0.03
"""The room left at each end of a scale of differences, as a share of it: no line ends at the very edge."""


def reach(findings: list[Finding], by: int) -> alt.Scale:
    """The scale that holds every difference and its limits, and zero, in units of 1/`by`."""
    parts = [part for each in findings for part in (each.contrast, each.adjusted) if part is not None]
    ends = [by * end for part in parts for end in (part.low, part.high, part.estimate) if end is not None]
    least, greatest = min([0.0, *ends]), max([0.0, *ends])
    room = ROOM * (greatest - least)
    return alt.Scale(domain=[least - room, greatest + room] if room else [-1, 1], nice=False)


def difference_rows(findings: list[Finding], labels: list[str], by: int) -> Rows:
    """A row for each finding and each way of estimating: the difference and its limits, or itself where it has none."""
    rows = []
    for finding, label in zip(findings, labels, strict=True):
        for way, part in zip(CONTRASTS, (finding.contrast, finding.adjusted), strict=True):
            if part is not None and part.estimate is not None:
                low, high = (part.estimate if end is None else end for end in (part.low, part.high))
                rows.append(
                    {"measure": label, "way": way, "estimate": by * part.estimate, "low": by * low, "high": by * high}
                )
    return rows


Centre = Literal["mean", "median"]


def middle(side: Share | Values | TimedShare, centre: Centre = "mean") -> dict[str, float]:
    """The share with its interval, or the mean or median with the quartiles; nothing where it is not told or nobody was seen."""
    if isinstance(side, Share):
        at, low, high = side.proportion, side.low, side.high
    elif isinstance(side, Values):
        at, low, high = getattr(side, centre), side.q1, side.q3
    else:
        at, low, high = side.estimate, side.low, side.high
    if at is None:
        return {}
    return {"middle": at, "low": at if low is None else low, "high": at if high is None else high}


def panel_heading(measure: Measure, shown: ShownOutcome, protocol: Protocol) -> str:
    """What a panel of one measure shows: the poor result, or the value with its unit."""
    if shown == "poor":
        words = protocol.poor_words(measure)
        return measure.label if words == "yes" else f"{measure.label}: {words}"
    unit = protocol.value_field(measure).unit
    return f"{measure.label} ({unit})" if unit else measure.label


def drawn_steps(points: tuple[CurvePoint, ...]) -> tuple[CurvePoint, ...]:
    """The points of a curve that are drawn: all of up to 400; of more, the first and the last in each 400th of the time."""
    if len(points) <= MOST_STEPS:
        return points
    part = points[-1].months / MOST_STEPS
    last_of_part = {math.ceil(each.months / part): each for each in points}
    return tuple(last_of_part.values())


def curve_band(curve: Curve) -> Rows:
    """The interval around a curve; of a curve with two edges, what lies between them wherever either of them steps."""
    lower, upper = drawn_steps(curve.points), drawn_steps(curve.upper)
    if not upper:
        return [
            {"cohort": curve.cohort, "months": each.months, "low": each.low, "high": each.high}
            for each in lower
            if each.low is not None and each.high is not None
        ]
    months = sorted({point.months for point in (*lower, *upper)})
    return [
        {"cohort": curve.cohort, "months": month, "low": _at(lower, month), "high": _at(upper, month)}
        for month in months
    ]


def _at(points: tuple[CurvePoint, ...], month: float) -> float:
    before = [point.estimate for point in points if point.months <= month]
    return before[-1] if before else 0.0


def curve_lines(curve: Curve) -> Rows:
    """The points drawn of both edges of a curve, each with its interval."""
    return [
        {
            "cohort": curve.cohort,
            "edge": f"{curve.cohort} {edge}",
            "months": each.months,
            "estimate": each.estimate,
            "low": each.low,
            "high": each.high,
        }
        for edge, points in (("lower", curve.points), ("upper", curve.upper))
        for each in drawn_steps(points)
    ]
