"""How strong would something unrecorded have to be to explain a difference away?"""

from __future__ import annotations

import math

from outcomes.statistics.result import Interval

COMMON_OUTCOME_FACTOR = 0.91


def e_value(risk_ratio: float) -> float:
    """Return the risk ratio that a hidden cause would need with both the cover and the outcome to make `risk_ratio`.

    `risk_ratio` is above 0; one below 1 is turned over first. 1 means that nothing needs explaining; 0 or infinity
    (no events on one side) gives infinity. The scale is that of risk ratios: not of odds ratios.

    Source: VanderWeele TJ, Ding P. Ann Intern Med 2017;167:268-274, whose example 3.9 gives 7.26.

    >>> round(e_value(3.9), 2)
    7.26
    """
    if math.isnan(risk_ratio):
        return math.nan
    if risk_ratio <= 0 or math.isinf(risk_ratio):
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

    Source: exp(0.91 d), VanderWeele TJ, Ding P. Ann Intern Med 2017;167:268-274.

    >>> round(e_value(risk_ratio_of_shift(0.5)), 2)
    2.53
    """
    return math.exp(COMMON_OUTCOME_FACTOR * standardised_shift)
