"""How large a difference has to be for numbers like these to show it."""

from __future__ import annotations

import math

from scipy import special

from outcomes.statistics.crossing import crossing
from outcomes.statistics.difference import square_and_add
from outcomes.statistics.effective_shares import EffectiveShare
from outcomes.statistics.proportion import normal_quantile
from outcomes.statistics.validation import check_confidence_level, check_finite

CLOSE = 1e-9


def two_proportion_power(
    first_n: float, second_n: float, first: float, second: float, *, confidence_level: float = 0.95
) -> float:
    """Return the chance that the two-sided test of two proportions comes out significant on the side of the truth.

    The numbers are lids a cohort (effective ones may be fractional), the proportions the true ones, from 0 to 1. With
    equal proportions it is half the error rate. nan with an empty cohort, or where both proportions are 0 or both 1.
    An approximation by the normal curve: rough below some 15 lids, and for rates near 0 or 1.

    Source: Fleiss JL. Statistical Methods for Rates and Proportions, 2nd ed. 1981, chapter 3 (from memory), without
    continuity correction.

    >>> round(two_proportion_power(50, 50, 0.50, 0.75), 3)
    0.74
    """
    check_finite("first_n", first_n, least=0)
    check_finite("second_n", second_n, least=0)
    check_finite("first", first, least=0, most=1)
    check_finite("second", second, least=0, most=1)
    if first_n == 0 or second_n == 0:
        return math.nan
    pooled = (first_n * first + second_n * second) / (first_n + second_n)
    if not 0 < pooled < 1:
        return math.nan
    null_error = math.sqrt(pooled * (1 - pooled) * (1 / first_n + 1 / second_n))
    true_error = math.sqrt(first * (1 - first) / first_n + second * (1 - second) / second_n)
    beyond = abs(second - first) - normal_quantile(confidence_level) * null_error
    if true_error == 0:
        return float(beyond > 0)
    return float(special.ndtr(beyond / true_error))


def detectable_difference(
    first_n: float, second_n: float, baseline: float, *, power: float = 0.8, confidence_level: float = 0.95
) -> float:
    """Return the least rise above `baseline` that cohorts of these sizes would show with this power.

    `baseline` is the share in the first cohort, from 0 to 1; the answer is a difference of shares. Cohorts of tens
    show only large differences: that none was seen says little about smaller ones. nan where not even a rise to 1
    would be shown.

    Source: as `two_proportion_power`, solved for the second proportion.

    >>> round(detectable_difference(25, 25, 0.10), 2)
    0.35
    """
    check_finite("power", power, least=0, most=1)
    if not two_proportion_power(first_n, second_n, baseline, 1.0, confidence_level=confidence_level) >= power:
        return math.nan
    low, high = baseline, 1.0
    while high - low > CLOSE:
        middle = (low + high) / 2
        enough = two_proportion_power(first_n, second_n, baseline, middle, confidence_level=confidence_level) >= power
        low, high = (low, middle) if enough else (middle, high)
    return high - baseline


def could_find(
    standard_error: float,
    degrees_of_freedom: float,
    *,
    factor: float = 1.0,
    power: float = 0.8,
    confidence_level: float = 0.95,
) -> float:
    """Return the smallest true difference whose interval would exclude none in a share `power` of such series.

    In the unit of the standard error, which is itself an estimate with so many degrees of freedom (infinite: it is known),
    both the one given and that of each such series: to take it as known promises too much. `factor`, from 0 to 1, is what
    the estimate is multiplied by before it is judged, its half-width kept (see `unseen.anchored`): the smaller it is, the
    more must be there. nan without a standard error; infinite for a factor of 0, and where hardly anything is known of the
    standard error.

    Source: (t(1 - alpha/2) + z(power)) times the standard error where that is known, Bloom HS. Eval Rev 1995;19:547-556
    (from memory); for one that is estimated, the root of the same condition with the mean 1 - 1/(4 df) and the variance
    1/(2 df) of an estimated standard error: this project's own expansion, checked by integration and by simulation.

    >>> round(could_find(0.21, 118), 4), round(could_find(0.21, 118, factor=0.8), 4), round(could_find(0.21, 12), 4)
    (0.5974, 0.7033, 0.6892)
    """
    check_confidence_level(confidence_level)
    check_finite("factor", factor, least=0, most=1)
    check_finite("power", power, least=0.5, most=1)
    if not (standard_error > 0 and degrees_of_freedom > 0):
        return math.nan
    if factor == 0:
        return math.inf
    reach = float(special.stdtrit(degrees_of_freedom, 0.5 + confidence_level / 2)) / factor
    return _standard_errors(reach, float(special.ndtri(power)), degrees_of_freedom) * standard_error


def could_find_share(
    shares: tuple[EffectiveShare, EffectiveShare],
    *,
    degrees_of_freedom: float,
    factor: float = 1.0,
    power: float = 0.8,
    confidence_level: float = 0.95,
) -> float:
    """Return the smallest true difference of two shares whose interval would exclude none in a share `power` of such series.

    The share of both cohorts together is taken to be that of one, and the other's to rise from there (to fall, beyond one
    half), in either cohort, whichever needs more: a share that rises from near 0 is known less well than the standard error
    of two rare shares says. Limits are those of `effective_share_difference`, the degrees of freedom those of the estimate;
    the standard error counts as estimated, and `factor` as there, as in `could_find`. Infinite where not even a share of 1
    would be found; nan without degrees of freedom.

    Source: as `could_find`, with the standard error at the difference that is to be found, as in Fleiss JL. Statistical
    Methods for Rates and Proportions, 2nd ed. 1981, chapter 3 (from memory).

    >>> rare = EffectiveShare(0.05, 40), EffectiveShare(0.05, 40)
    >>> round(could_find_share(rare, degrees_of_freedom=70), 3)
    0.237
    """
    check_confidence_level(confidence_level)
    check_finite("factor", factor, least=0, most=1)
    check_finite("power", power, least=0.5, most=1)
    if not degrees_of_freedom > 0:
        return math.nan
    sizes = [each.effective_n for each in shares]
    pooled = sum(each.share * each.effective_n for each in shares) / sum(sizes)
    deviate, beyond = (
        float(special.stdtrit(degrees_of_freedom, 0.5 + confidence_level / 2)),
        float(special.ndtri(power)),
    )

    def rise(steady_n: float, risen_n: float) -> float:
        steady = EffectiveShare(min(pooled, 1 - pooled), steady_n)

        def surplus(difference: float) -> float:
            risen = EffectiveShare(steady.share + difference, risen_n)
            interval = square_and_add(steady.limits(deviate), risen.limits(deviate))
            variance = sum(each.share * (1 - each.share) / each.effective_n for each in (steady, risen))
            noise = (difference**2 + (deviate / factor) ** 2 * variance) / (2 * degrees_of_freedom)
            return difference - (interval.estimate - interval.low) / factor - beyond * math.sqrt(variance + noise)

        most = 1 - steady.share
        return crossing(surplus, 0.0, most, within=CLOSE) if surplus(most) > 0 else math.inf

    return max(rise(*sizes), rise(*reversed(sizes))) if factor > 0 else math.inf


def _standard_errors(reach: float, beyond: float, degrees_of_freedom: float) -> float:
    """How many standard errors an estimate must lie from none, for mean m and variance v of an estimated standard error.

    The root c of (c - reach) m = beyond sqrt(1 + (c^2 + reach^2) v), the true standard error being 1.
    """
    mean, variance = 1 - 1 / (4 * degrees_of_freedom), 1 / (2 * degrees_of_freedom)
    square, noise = mean**2, beyond**2 * variance
    if square <= noise:
        return math.inf
    constant = (square - noise) * reach**2 - beyond**2
    return (square * reach + math.sqrt(square**2 * reach**2 - (square - noise) * constant)) / (square - noise)
