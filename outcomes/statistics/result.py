"""What an estimate looks like: its interval, and its test where it has one."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from scipy import special


@dataclass(frozen=True)
class Interval:
    """An estimate with its confidence limits, in the unit of whatever was estimated.

    A part that cannot be estimated is `math.nan`; an end without a bound is infinite. The limits need not lie at the
    same distance from the estimate, and an estimate may sit on one of them (0 of 20 has its lower limit at 0). `confidence_level` is nan
    where whoever made the interval did not say.

    >>> Interval(estimate=0.1, low=0.03, high=0.3).high
    0.3
    """

    estimate: float
    low: float
    high: float
    confidence_level: float = field(default=math.nan, repr=False, compare=False)


@dataclass(frozen=True)
class TestedEstimate:
    """An estimate with its limits, and the p value of the same statistic: p is small exactly where they exclude `none`.

    `none` is the value that stands for no difference: 0 for a difference, 0.5 for a win probability. `standard_error`
    is in the unit of the estimate, on which the limits need not be symmetric; `degrees_of_freedom` are those of the t
    distribution behind limits and p. What cannot be estimated is nan, and all of it is nan together, but for the
    estimate.

    >>> TestedEstimate(1.0, 0.2, 1.8, 0.02, 0.4, 40.0, 0.95).excludes_none
    True
    """

    __test__ = False  # the name is no test of pytest's

    estimate: float
    low: float
    high: float
    p: float
    standard_error: float
    degrees_of_freedom: float
    confidence_level: float
    none: float = 0.0

    @property
    def interval(self) -> Interval:
        """The estimate and its limits alone."""
        return Interval(self.estimate, self.low, self.high, self.confidence_level)

    @property
    def excludes_none(self) -> bool:
        """Tell whether both limits lie on the same side of no difference; False where there are no limits."""
        return self.low > self.none or self.high < self.none

    def within(self, margin: float) -> bool:
        """Tell whether the whole interval lies no further than `margin` from no difference."""
        return self.none - margin <= self.low and self.high <= self.none + margin


def not_estimable(confidence_level: float, *, estimate: float = math.nan, none: float = 0.0) -> TestedEstimate:
    """Return an estimate, if there is one, of which nothing more can be said.

    >>> not_estimable(0.95, estimate=1.5).p
    nan
    """
    return TestedEstimate(estimate, math.nan, math.nan, math.nan, math.nan, math.nan, confidence_level, none)


def student_estimate(
    estimate: float, standard_error: float, degrees_of_freedom: float, *, confidence_level: float
) -> TestedEstimate:
    """Return a difference with limits and p from Student's t; not estimable without error or degrees of freedom.

    >>> round(student_estimate(1.0, 0.5, 20.0, confidence_level=0.95).low, 3)
    -0.043
    """
    if not (standard_error > 0 and degrees_of_freedom > 0):
        return not_estimable(confidence_level, estimate=estimate)
    reach = standard_error * float(special.stdtrit(degrees_of_freedom, 0.5 + confidence_level / 2))
    p = 2 * float(special.stdtr(degrees_of_freedom, -abs(estimate) / standard_error))
    return TestedEstimate(
        estimate, estimate - reach, estimate + reach, p, standard_error, degrees_of_freedom, confidence_level
    )
