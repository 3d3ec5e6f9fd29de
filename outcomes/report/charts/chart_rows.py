"""Which rows does a chart draw, at whatever size? What the charts of the report and the figures of a pack have in common."""

from __future__ import annotations

from typing import Any

import altair as alt

from outcomes.findings.results import Curve, CurvePoint, Finding, Share, Values
from outcomes.protocol import Measure, Protocol
from outcomes.report.finding_index import Shown

Rows = list[dict[str, Any]]
CONTRASTS = ["crude", "weighted for the choice of cover"]
ROOM = 0.03
"""The room left at each end of a scale of differences, as a share of it: no bar or line ends at the very edge."""


def reach(findings: list[Finding], by: int) -> alt.Scale:
    """The scale that holds every difference, its limits and what the missing could make of it, in units of 1/`by`."""
    parts = [
        part for each in findings for part in (each.contrast, each.adjusted, each.unseen.worst_case) if part is not None
    ]
    ends = [by * end for part in parts for end in (part.low, part.high) if end is not None]
    estimates = [by * each.contrast.estimate for each in findings if each.contrast.estimate is not None]
    least, greatest = min([0.0, *ends, *estimates]), max([0.0, *ends, *estimates])
    room = ROOM * (greatest - least)
    return alt.Scale(domain=[least - room, greatest + room] if room else [-1, 1], nice=False)


def missing_bars(findings: list[Finding], labels: list[str], by: int) -> Rows:
    """A bar for each finding: between which ends the missing lids alone could put the difference."""
    return [
        {"measure": label, "low": by * worst.low, "high": by * worst.high}
        for each, label in zip(findings, labels, strict=True)
        if (worst := each.unseen.worst_case) and worst.low is not None and worst.high is not None
    ]


def difference_lines(findings: list[Finding], labels: list[str], by: int) -> Rows:
    """A line for each finding and each way: the difference and its limits, or itself where it has none."""
    held = []
    for finding, label in zip(findings, labels, strict=True):
        for way, part in zip(CONTRASTS, (finding.contrast, finding.adjusted), strict=True):
            if part is not None and part.estimate is not None:
                low, high = (part.estimate if end is None else end for end in (part.low, part.high))
                held.append(
                    {"measure": label, "way": way, "estimate": by * part.estimate, "low": by * low, "high": by * high}
                )
    return held


def middle(held: Share | Values) -> dict[str, float]:
    """The share with its interval, or the median with the quartiles; nothing where nobody was seen."""
    values = (
        (held.proportion, held.low, held.high)
        if isinstance(held, Share)
        else (getattr(held, held.centre), held.q1, held.q3)
    )
    at, low, high = values
    if at is None:
        return {}
    return {"middle": at, "low": at if low is None else low, "high": at if high is None else high}


def panel_heading(measure: Measure, outcome: Shown, protocol: Protocol) -> str:
    """What a panel of one measure shows: the poor result, or the value with its unit."""
    if outcome == "poor":
        words = protocol.poor_words(measure)
        return measure.label if words == "yes" else f"{measure.label}: {words}"
    unit = protocol.value_field(measure).unit
    return f"{measure.label} ({unit})" if unit else measure.label


def curve_band(curve: Curve) -> Rows:
    """The interval around a curve; of a curve with two edges, what lies between them wherever either of them steps."""
    if not curve.upper:
        return [
            {"cohort": curve.cohort, "months": each.months, "low": each.low, "high": each.high}
            for each in curve.points
            if each.low is not None and each.high is not None
        ]
    months = sorted({point.months for point in (*curve.points, *curve.upper)})
    return [
        {"cohort": curve.cohort, "months": month, "low": _at(curve.points, month), "high": _at(curve.upper, month)}
        for month in months
    ]


def _at(points: tuple[CurvePoint, ...], month: float) -> float:
    before = [point.estimate for point in points if point.months <= month]
    return before[-1] if before else 0.0


def curve_lines(curve: Curve) -> Rows:
    """The points of both edges of a curve."""
    return [
        {"cohort": curve.cohort, "edge": f"{curve.cohort} {edge}", "months": each.months, "estimate": each.estimate}
        for edge, points in (("lower", curve.points), ("upper", curve.upper))
        for each in points
    ]
