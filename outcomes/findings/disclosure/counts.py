"""Which counts may leave the clinic, so that none of them points at a person?

A count is safe when it is none, or at least the protocol's threshold. A part of a whole is safe when what is left of the
whole is safe too, because who knows both knows the difference.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

from outcomes.findings.results import BalanceLine, Finding, FlowStep, Share, TimedFinding, Values

OTHER_LEVELS = "other levels, taken together"
QUARTERS = 4


def safe(count: float, threshold: int) -> bool:
    """Tell whether a count points at nobody."""
    return count == 0 or count >= threshold


def safe_part(part: float, whole: float, threshold: int) -> bool:
    """Tell whether neither a part nor the rest of its whole points at anybody."""
    return safe(part, threshold) and safe(whole - part, threshold)


def safe_seen(finding: Finding, cases: tuple[int, int], threshold: int) -> bool:
    """Tell whether the lids seen, and those not seen, of both cohorts point at nobody."""
    sides = zip((finding.grafted, finding.advanced), cases, strict=True)
    return all(safe_part(side.n, whole, threshold) for side, whole in sides)


def safe_events(finding: Finding, threshold: int) -> bool:
    """Tell whether the lids with a poor result, and those without, point at nobody; a value has no such counts."""
    sides = [side for side in (finding.grafted, finding.advanced) if isinstance(side, Share)]
    return all(safe_part(side.events, side.n, threshold) for side in sides)


def safe_middle(side: Share | Values, threshold: int) -> bool:
    """Tell whether a middle value has so many lids on either side of it that it cannot tell how many lie there."""
    return side.n == 0 or side.n >= 2 * threshold


def safe_quartiles(side: Values, threshold: int) -> bool:
    """Tell whether every quarter holds so many lids that a quartile cannot tell how many lie beyond it.

    A quartile between two values says exactly how many lids lie above it; from four times the threshold on, that is as
    many as the threshold or more.
    """
    return side.n == 0 or side.n >= QUARTERS * threshold


def public_moments(timed: Sequence[TimedFinding], cases: tuple[int, int], threshold: int) -> tuple[TimedFinding, ...]:
    """The moments of one event between which nobody can be counted out: every step up is none, or safe, in both cohorts."""
    kept: list[TimedFinding] = []
    before = (0, 0)
    for finding in timed:
        sides = (finding.grafted, finding.advanced)
        now = (sides[0].events, sides[1].events)
        out = zip(sides, cases, strict=True)
        if not all(
            safe_part(each.n, whole, threshold) and safe_part(each.events, each.n, threshold) for each, whole in out
        ):
            continue
        if all(safe(later - earlier, threshold) for later, earlier in zip(now, before, strict=True)):
            kept.append(finding)
            before = now
    return tuple(kept)


def public_flow(flow: Sequence[FlowStep], cases: tuple[int, int], threshold: int) -> tuple[FlowStep, ...]:
    """The steps whose difference from every step that is kept is none, or safe; why lids left is not told."""
    kept = [FlowStep("cases", *cases)]
    told = []
    for step in flow:
        if all(_safe_difference(step, other, threshold) for other in kept):
            kept.append(step)
            told.append(replace(step, lost=()))
    return tuple(told)


def _safe_difference(step: FlowStep, other: FlowStep, threshold: int) -> bool:
    pairs = ((step.grafted, other.grafted), (step.advanced, other.advanced))
    return all(safe(one, threshold) and safe(abs(one - another), threshold) for one, another in pairs)


def public_balance(lines: Sequence[BalanceLine], cases: tuple[int, int], threshold: int) -> tuple[BalanceLine, ...]:
    """The baseline table without lines that point at anybody; levels with few lids are taken together."""
    told: list[BalanceLine] = []
    for _, group in groupby(lines, key=lambda line: line.field):
        of_field = list(group)
        if not _safe_known(of_field[0], cases, threshold):
            continue
        told.extend(_levels_together(of_field, threshold) if len(of_field) > 1 else _alone(of_field[0], threshold))
    return tuple(told)


def _safe_known(line: BalanceLine, cases: tuple[int, int], threshold: int) -> bool:
    both = zip((line.grafted_known, line.advanced_known), cases, strict=True)
    return all(safe_part(known, whole, threshold) for known, whole in both)


def _alone(line: BalanceLine, threshold: int) -> list[BalanceLine]:
    """A number stays; of a yes or no, both the yes and the no must be safe."""
    if not line.level:
        return [line]
    counts = ((line.grafted, line.grafted_known), (line.advanced, line.advanced_known))
    return [line] if all(safe_part(count or 0, known, threshold) for count, known in counts) else []


def _levels_together(lines: list[BalanceLine], threshold: int) -> list[BalanceLine]:
    """Levels that point at somebody are put together with the next smallest, until their sums do not."""
    by_size = sorted(lines, key=_smaller)
    few = [line for line in by_size if not _safe_level(line, threshold)]
    others = [line for line in by_size if line not in few]
    while few and others and (len(few) == 1 or not _safe_level(_sum(few), threshold)):
        few.append(others.pop(0))
    if not few:
        return lines
    if not others:
        return []
    return [*(line for line in lines if line in others), _sum(few)]


def _smaller(line: BalanceLine) -> float:
    return (line.grafted or 0) + (line.advanced or 0)


def _safe_level(line: BalanceLine, threshold: int) -> bool:
    return safe(line.grafted or 0, threshold) and safe(line.advanced or 0, threshold)


def _sum(lines: list[BalanceLine]) -> BalanceLine:
    return replace(
        lines[0],
        level=OTHER_LEVELS,
        grafted=sum(line.grafted or 0 for line in lines),
        advanced=sum(line.advanced or 0 for line in lines),
        smd=None,
        smd_adjusted=None,
        note="levels with few lids are taken together",
    )
