"""Counts that point at nobody.

A count is safe when it is none, or at least the protocol's threshold. A part of a whole is safe when what is left of the
whole is safe too, because who knows both knows the difference.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

from outcomes.findings.results import BalanceLine, Count, FlowStep
from outcomes.findings.small_count import SmallCount

OTHER_LEVELS = "other levels, taken together"
QUARTERS = 4


def safe(count: float, threshold: int) -> bool:
    """Tell whether a count points at nobody."""
    return count == 0 or count >= threshold


def safe_part(part: float, whole: float, threshold: int) -> bool:
    """Tell whether neither a part nor the rest of its whole points at anybody."""
    return safe(part, threshold) and safe(whole - part, threshold)


def public_count(part: int, whole: int, threshold: int) -> Count:
    """The part where it is safe; else that it, or the rest of the whole, is under the threshold."""
    if safe_part(part, whole, threshold):
        return part
    return SmallCount(threshold, all_but=safe(part, threshold))


def safe_events(events: int, n: int, threshold: int) -> bool:
    """Tell whether those with an event, and those without, point at nobody; not all have it, or everybody's result were told."""
    return safe_part(events, n, threshold) and not 0 < events == n


def public_events(events: int, n: int, threshold: int) -> Count:
    """The events where they are safe; else that they, or those without, are under the threshold."""
    return events if safe_events(events, n, threshold) else SmallCount(threshold, all_but=safe(events, threshold))


def safe_middle(n: int, threshold: int) -> bool:
    """Tell whether a middle value has so many lids on either side of it that it cannot tell how many lie there."""
    return n == 0 or n >= 2 * threshold


def safe_quartiles(n: int, threshold: int) -> bool:
    """Tell whether every quarter holds so many lids that a quartile cannot tell how many lie beyond it.

    A quartile between two values says exactly how many lids lie above it; from four times the threshold on, that is as
    many as the threshold or more.
    """
    return n == 0 or n >= QUARTERS * threshold


def public_flow(flow: Sequence[FlowStep], cases: tuple[int, int], threshold: int) -> tuple[FlowStep, ...]:
    """The steps whose difference from every step that is kept is none, or safe; without why lids left."""
    kept = [FlowStep("cases", *cases)]
    shown = []
    for step in flow:
        if all(_safe_difference(step, other, threshold) for other in kept):
            kept.append(step)
            shown.append(FlowStep(step.id, step.grafted, step.advanced, (), step.label, step.window))
    return tuple(shown)


def _safe_difference(step: FlowStep, other: FlowStep, threshold: int) -> bool:
    pairs = ((step.grafted, other.grafted), (step.advanced, other.advanced))
    return all(safe(one, threshold) and safe(abs(one - another), threshold) for one, another in pairs)


def public_balance(lines: Sequence[BalanceLine], cases: tuple[int, int], threshold: int) -> tuple[BalanceLine, ...]:
    """The baseline table without lines that point at anybody; levels with few lids are put together."""
    shown: list[BalanceLine] = []
    for _, group in groupby(lines, key=lambda line: line.field):
        of_field = list(group)
        if not _safe_known(of_field[0], cases, threshold):
            continue
        shown.extend(_levels_together(of_field, threshold) if len(of_field) > 1 else _alone(of_field[0], threshold))
    return tuple(shown)


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
