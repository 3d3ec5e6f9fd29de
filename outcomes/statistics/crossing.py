"""The place where a function of one number is 0, between two places where its signs differ."""

from __future__ import annotations

from collections.abc import Callable

MOST_STEPS = 200
LEAST = 1e-300


def crossing(function: Callable[[float], float], low: float, high: float, *, within: float = 1e-13) -> float:
    """Return the place where a continuous function is 0, to so near; ValueError where the signs at both ends are the same.

    Each step goes to where a parabola turned on its side, through the last three places, is 0, if they lie so that it can be
    trusted, and half-way otherwise.

    Source: Chandrupatla TR. Adv Eng Softw 1997;28:145-149 (from memory).

    >>> round(crossing(lambda x: x * x - 2, 0.0, 2.0), 12)
    1.414213562373
    """
    near, far = (high, function(high)), (low, function(low))
    if near[1] * far[1] > 0:
        raise ValueError(f"the signs at {low:g} and {high:g} are the same")
    share = 0.5
    for _ in range(MOST_STEPS):
        best, gap = min(near, far, key=lambda end: abs(end[1])), abs(far[0] - near[0])
        if best[1] == 0 or gap <= within + LEAST:
            break
        least = within / (2 * gap)
        place = near[0] + min(1 - least, max(least, share)) * (far[0] - near[0])
        there = place, function(place)
        third = near
        if (there[1] > 0) != (near[1] > 0):
            third, far = far, near
        near = there
        share = _turned_parabola(near, far, third)
    return best[0]


def _turned_parabola(near: tuple[float, float], far: tuple[float, float], third: tuple[float, float]) -> float:
    """How far from the near end towards the far one the parabola is 0, or one half where it cannot be trusted."""
    (x1, f1), (x2, f2), (x3, f3) = near, far, third
    if f3 in {f1, f2}:
        return 0.5
    across, up = (x1 - x2) / (x3 - x2), (f1 - f2) / (f3 - f2)
    if up * up >= across or (1 - up) ** 2 >= 1 - across:
        return 0.5
    return f1 / (f2 - f1) * f3 / (f2 - f3) + (x3 - x1) / (x2 - x1) * f1 / (f3 - f1) * f2 / (f3 - f2)
