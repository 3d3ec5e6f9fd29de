"""What the lids that were due and not measured could change of a difference."""

from __future__ import annotations

from dataclasses import replace
from math import inf, isfinite

from outcomes.findings.arrays import Lids, Numbers
from outcomes.findings.estimable import estimable
from outcomes.findings.estimates import bounded
from outcomes.findings.results import Bounded, Range, Share, Unseen, Values, exact
from outcomes.statistics.result import TestedEstimate
from outcomes.statistics.unseen import anchored, margin_bias, shift_of_unseen, tipping_share, tipping_shift


def unseen_of_shares(
    sides: tuple[Share, Share], judged: TestedEstimate | None, shares: tuple[float, float] | None
) -> Unseen:
    """For a share with a poor result: the tipping point in lids of the cohort with fewer poor, and the bounds."""
    grafted, advanced = sides
    worst = _worst_shares(grafted, advanced)
    if judged is None or not judged.excludes_none:
        return Unseen(worst, _anchored(judged, shares))
    better = advanced if judged.estimate < 0 else grafted
    point = tipping_share(judged, seen=exact(better.n), unseen=better.missing or 0, seen_share=better.proportion or 0.0)
    return Unseen(worst, _anchored(judged, shares), point.poor, estimable(point.share), better.proportion)


def _worst_shares(grafted: Share, advanced: Share) -> Range:
    """Every missing lid poor in one cohort and none in the other, both ways round."""
    if grafted.due == 0 or advanced.due == 0:
        return Range(None, None)
    (grafted_least, grafted_most), (advanced_least, advanced_most) = (
        (exact(side.events) / side.due, (exact(side.events) + side.due - exact(side.n)) / side.due)
        for side in (grafted, advanced)
    )
    return Range(advanced_least - grafted_most, advanced_most - grafted_least)


def unseen_of_means(
    lids: Lids, judged: TestedEstimate | None, *, scale: tuple[float, float], worse: str, sides: tuple[Values, Values]
) -> Unseen:
    """For a mean: by how much worse the unseen of the better cohort would have to be, and the bounds on the scale."""
    worst, drawn = _worst_means(lids, lids.value, scale), _anchored(judged, lids.measured_shares)
    if judged is None or not judged.excludes_none:
        return Unseen(worst, drawn)
    advanced_is_better = (judged.estimate < 0) == (worse == "higher")
    better = sides[1] if advanced_is_better else sides[0]
    shift = tipping_shift(judged, seen=exact(better.n), unseen=better.missing or 0)
    return Unseen(worst, drawn, tipping_shift=estimable(shift))


def unseen_of_wins(judged: TestedEstimate | None, shares: tuple[float, float] | None) -> Unseen:
    """For the win probability: what it is if the surplus unseen differed in nothing."""
    return Unseen(None, _anchored(judged, shares))


def with_margin(
    unseen: Unseen,
    judged: TestedEstimate | None,
    important: float | None,
    *,
    more_is_worse: bool,
    sides: tuple[Share | Values, Share | Values],
) -> Unseen:
    """The same, and of an interval that includes none and lies within what matters what would bring it there."""
    if judged is None or important is None or judged.excludes_none:
        return unseen
    bias = margin_bias(judged, important)
    if not bias > 0:
        return unseen
    nearer_above = judged.high - judged.none >= judged.none - judged.low
    advanced_is_worse = nearer_above == more_is_worse
    cohort, side = ("advanced", sides[1]) if advanced_is_worse else ("grafted", sides[0])
    shift = shift_of_unseen(bias, seen=exact(side.n), unseen=side.missing or 0)
    possible = shift if isinstance(side, Values) or shift <= 1 - (side.proportion or 0.0) else inf
    return replace(unseen, margin_bias=bias, margin_cohort=cohort, margin_shift=estimable(possible))


def _worst_means(lids: Lids, value: Numbers, scale: tuple[float, float]) -> Range:
    ends = [
        _mean_difference(lids, value, grafted, advanced)
        for grafted, advanced in ((scale[1], scale[0]), (scale[0], scale[1]))
    ]
    return Range(*(estimable(end) for end in ends))


def _mean_difference(lids: Lids, value: Numbers, grafted: float, advanced: float) -> float:
    """The difference of means with every missing lid at these values; infinite ones only where a lid is missing."""
    means = []
    for side, ending in ((lids.second, advanced), (~lids.second, grafted)):
        seen, missing = value[lids.seen & side], int((lids.missing & side).sum())
        if seen.size + missing == 0:
            return float("nan")
        means.append((float(seen.sum()) + (missing * ending if missing else 0.0)) / (seen.size + missing))
    return means[0] - means[1]


def _anchored(judged: TestedEstimate | None, shares: tuple[float, float] | None) -> Bounded | None:
    if judged is None or shares is None or not isfinite(judged.low) or shares[0] == shares[1] or not all(shares):
        return None
    return bounded(anchored(judged, shares))
