"""What lids that were not measured would do to a difference, in the few ways that can be put as one number."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from outcomes.statistics.result import TestedEstimate
from outcomes.statistics.validation import check_finite

ROUNDING = 1e-9


@dataclass(frozen=True)
class TippingShare:
    """How many of the unseen lids of the better cohort would have to be poor for the difference to be gone.

    `poor` is None where not even all of them would do; `seen_share` is the share poor among the seen, to be told
    beside it.
    """

    poor: int | None
    unseen: int
    seen_share: float

    @property
    def share(self) -> float:
        """The share of the unseen that would have to be poor; nan where not even all of them would do."""
        return math.nan if self.poor is None or self.unseen == 0 else self.poor / self.unseen


def tipping_share(estimate: TestedEstimate, *, seen: int, unseen: int, seen_share: float) -> TippingShare:
    """Return the smallest number of poor among the unseen of the better cohort that brings the interval to none.

    `estimate` is the difference of the shares poor; `seen`, `unseen` and `seen_share` are of the cohort that has fewer
    poor. The share seen is mixed with that of the unseen, and the half-width is kept.

    Source: Liublinska V, Rubin DB. Stat Med 2014;33:4170-4185.

    >>> found = tipping_share(TestedEstimate(-0.3, -0.5, -0.1, 0.004, 0.1, 80, 0.95), seen=40, unseen=10, seen_share=0.2)
    >>> found.poor, found.share
    (7, 0.7)
    """
    _check_counts(seen, unseen)
    check_finite("seen_share", seen_share, least=0, most=1)
    distance = _distance(estimate)
    if math.isnan(distance):
        return TippingShare(None, unseen, seen_share)
    poor = math.ceil(unseen * seen_share + distance * (seen + unseen) - ROUNDING)
    return TippingShare(max(poor, 0) if poor <= unseen else None, unseen, seen_share)


def tipping_shift(estimate: TestedEstimate, *, seen: int, unseen: int) -> float:
    """Return by how much worse the unseen of the better cohort would have to be on average than the seen of it.

    In the unit of the difference of means; infinite where nobody of that cohort is unseen, nan where there are no
    limits. The half-width is kept.

    Source: as `tipping_share`.

    >>> tipping_shift(TestedEstimate(-1.0, -1.5, -0.5, 0.001, 0.25, 80, 0.95), seen=40, unseen=10)
    2.5
    """
    return shift_of_unseen(_distance(estimate), seen=seen, unseen=unseen)


def shift_of_unseen(bias: float, *, seen: int, unseen: int) -> float:
    """Return by how much the unseen of a cohort would have to differ on average from its seen to move its mean by `bias`.

    Infinite where nobody is unseen, nan for a bias of nan.

    >>> shift_of_unseen(0.5, seen=40, unseen=10)
    2.5
    """
    _check_counts(seen, unseen)
    return bias * (seen + unseen) / unseen if unseen else math.inf + bias


def margin_bias(estimate: TestedEstimate, margin: float) -> float:
    """Return by how much the difference would have to be off for its nearer limit to reach `margin`, either way.

    0 where a limit lies there or beyond; nan without limits. The half-width is kept. The same tipping point that
    `tipping_share` gives for none, for the difference that matters.

    >>> round(margin_bias(TestedEstimate(0.1, -0.2, 0.4, 0.5, 0.15, 80, 0.95), 0.5), 3)
    0.1
    """
    check_finite("margin", margin, least=0)
    low, high = estimate.low - estimate.none, estimate.high - estimate.none
    return max(min(margin - high, margin + low), 0.0 * low)


def measured_factor(measured: tuple[float, float]) -> float:
    """Return the smaller share measured over the larger; nan where nobody was measured in either cohort.

    >>> measured_factor((0.9, 0.72))
    0.8
    """
    check_finite("measured", measured, least=0, most=1)
    return min(measured) / max(measured) if max(measured) > 0 else math.nan


def anchored(estimate: TestedEstimate, measured: tuple[float, float]) -> TestedEstimate:
    """Return the estimate drawn towards none as if the surplus unseen of one cohort differed in nothing; no p.

    Its distance from none is multiplied by the smaller share measured over the larger, and the distances of the limits
    from it are kept: what was not measured adds no certainty.

    Source: in the spirit of Carpenter JR, Roger JH, Kenward MG. J Biopharm Stat 2013;23:1352-1371, and Cro S,
    Carpenter JR, Kenward MG. J R Stat Soc A 2019;182:623-645 (both from memory); the factor is this project's own
    choice.

    >>> found = anchored(TestedEstimate(-0.5, -0.9, -0.1, 0.01, 0.2, 80, 0.95), (0.9, 0.72))
    >>> round(found.estimate, 3), round(found.low, 3), round(found.high, 3), found.excludes_none
    (-0.4, -0.8, 0.0, False)
    """
    shift = (1 - measured_factor(measured)) * (estimate.estimate - estimate.none)
    return _moved(estimate, -shift, -shift, -shift)


def widened(estimate: TestedEstimate, measured: tuple[float, float], *, standard_deviation: float) -> TestedEstimate:
    """Return the interval on which "no difference that matters" is judged where the shares measured differ; no p.

    Both ends move out by the gap of the shares over the larger, times half a standard deviation of the outcome.

    This project's own choice.

    >>> found = widened(TestedEstimate(0.0, -0.3, 0.3, 1.0, 0.15, 80, 0.95), (0.9, 0.72), standard_deviation=1.0)
    >>> round(found.low, 3), round(found.high, 3)
    (-0.4, 0.4)
    """
    check_finite("standard_deviation", standard_deviation, least=0)
    wider = (1 - measured_factor(measured)) * standard_deviation / 2
    return _moved(estimate, 0.0, -wider, wider)


def _moved(estimate: TestedEstimate, middle: float, low: float, high: float) -> TestedEstimate:
    return replace(
        estimate,
        estimate=estimate.estimate + middle,
        low=estimate.low + low,
        high=estimate.high + high,
        p=math.nan,
    )


def _distance(estimate: TestedEstimate) -> float:
    """How far the nearer limit is from none; 0 where the interval holds it."""
    return max(estimate.low - estimate.none, estimate.none - estimate.high, 0.0 * estimate.low)


def _check_counts(seen: int, unseen: int) -> None:
    check_finite("seen", seen, least=0)
    check_finite("unseen", unseen, least=0)
