"""E-values: how strong something unrecorded would have to be to explain a difference away."""

from __future__ import annotations

import math
from dataclasses import dataclass

from outcomes.statistics.result import Interval
from outcomes.statistics.validation import check_finite

FEWEST_EVENTS = 5
COMMON_OUTCOME_FACTOR = 0.91
LARGEST_EXPONENT = 700.0


@dataclass(frozen=True)
class EValues:
    """The E-value of an estimate and of its limit nearer to none; `reason` says, as an id, why there is neither."""

    estimate: float
    limit: float
    reason: str = ""


def e_values_of_shares(first_share: float, difference: Interval, *, fewest_events: int) -> EValues:
    """Return the E-values of a difference of two shares, as risk ratios with the first share held where it is.

    `fewest_events` is the smaller number of events of the two cohorts: with fewer than five the ratio of the shares
    says next to nothing, however it is weighted, and there are no E-values (`few_events`). Nor are there without limits
    (`no_limits`).

    Source: VanderWeele TJ, Ding P. Ann Intern Med 2017;167:268-274; the five events are this project's own choice.

    >>> found = e_values_of_shares(0.2, Interval(0.2, 0.1, 0.3), fewest_events=12)
    >>> round(found.estimate, 3), round(found.limit, 3)
    (3.414, 2.366)
    >>> e_values_of_shares(0.2, Interval(0.2, 0.1, 0.3), fewest_events=4).reason
    'few_events'
    """
    check_finite("first_share", first_share, least=0, most=1)
    if fewest_events < FEWEST_EVENTS or first_share == 0:
        return EValues(math.nan, math.nan, "few_events")
    ratios = (
        max(first_share + end, 0.0) / first_share for end in (difference.estimate, difference.low, difference.high)
    )
    return _e_values(Interval(*ratios))


def e_values_of_shift(difference: Interval, standard_deviation: float) -> EValues:
    """Return the E-values of a difference of means, by the risk ratios that stand for it in standard deviations.

    The standard deviation is that of the values within the cohorts; where it is 0 there are no E-values
    (`no_variation`), nor without limits (`no_limits`).

    Source: as `risk_ratio_of_shift`.

    >>> found = e_values_of_shift(Interval(-0.5, -0.9, -0.1), 1.0)
    >>> round(found.estimate, 2), round(found.limit, 2)
    (2.53, 1.42)
    """
    check_finite("standard_deviation", standard_deviation, least=0)
    if standard_deviation == 0:
        return EValues(math.nan, math.nan, "no_variation")
    ends = (difference.estimate, difference.low, difference.high)
    return _e_values(Interval(*(risk_ratio_of_shift(end / standard_deviation) for end in ends)))


def _e_values(risk_ratio: Interval) -> EValues:
    if math.isnan(risk_ratio.low) or math.isnan(risk_ratio.high):
        return EValues(math.nan, math.nan, "no_limits")
    return EValues(e_value(risk_ratio.estimate), e_value_limit(risk_ratio))


def e_value(risk_ratio: float) -> float:
    """Return the risk ratio that a hidden cause would need with both the cover and the outcome to make `risk_ratio`.

    `risk_ratio` is 0 or more; one below 1 is turned over first. 1 means that nothing needs explaining; 0 or infinity
    (no events on one side) gives infinity. The scale is that of risk ratios: not of odds ratios.

    Source: VanderWeele TJ, Ding P. Ann Intern Med 2017;167:268-274, whose example 3.9 gives 7.26.

    >>> round(e_value(3.9), 2)
    7.26
    """
    if math.isnan(risk_ratio):
        return math.nan
    if risk_ratio < 0:
        raise ValueError(f"risk_ratio is {risk_ratio:g}: must be 0 or more")
    if risk_ratio == 0 or math.isinf(risk_ratio):
        return math.inf
    away_from_one = max(risk_ratio, 1 / risk_ratio)
    return away_from_one + math.sqrt(away_from_one * (away_from_one - 1))


def e_value_limit(risk_ratio: Interval) -> float:
    """Return the E-value of the limit nearer to 1, or 1 where the interval holds 1: then nothing hidden is needed.

    Source: VanderWeele TJ, Ding P. Ann Intern Med 2017;167:268-274.

    >>> round(e_value_limit(Interval(3.9, 1.8, 8.7)), 2)
    3.0
    """
    if math.isnan(risk_ratio.low) or math.isnan(risk_ratio.high):
        return math.nan
    if risk_ratio.low <= 1 <= risk_ratio.high:
        return 1.0
    return e_value(risk_ratio.low if risk_ratio.low > 1 else risk_ratio.high)


def risk_ratio_of_shift(standardised_shift: float) -> float:
    """Return the risk ratio that stands for a shift of a measured value, given in standard deviations.

    An approximation for measured values: cut the scale anywhere in the middle, and the shift looks like this ratio.
    Infinite beyond what a number can hold.

    Source: exp(0.91 d), VanderWeele TJ, Ding P. Ann Intern Med 2017;167:268-274.

    >>> round(e_value(risk_ratio_of_shift(0.5)), 2)
    2.53
    """
    exponent = COMMON_OUTCOME_FACTOR * standardised_shift
    return math.inf if exponent > LARGEST_EXPONENT else math.exp(exponent)
