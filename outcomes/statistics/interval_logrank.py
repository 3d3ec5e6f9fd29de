"""The log-rank test of two groups for times known only to lie between two reviews."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from outcomes.statistics.permutation import PermutationTest, permute_patients
from outcomes.statistics.risk_sets import shared_out
from outcomes.statistics.turnbull import cell_ranges, check_intervals, turnbull
from outcomes.statistics.validation import check_labels, check_lengths, check_yes_no

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class IntervalLogRank:
    """The score of the second group: above 0 when it began earlier there than if both groups were alike.

    It is observed minus expected events, as far as the reviews tell. `variance` is that of the score when lids are
    exchanged one by one, and `z` the score in its units. `permutation` exchanges whole patients; `at_risk_p` shares the
    events out among those at risk; `p`, the larger of the two, is the one to say.
    """

    score: float
    variance: float
    z: float
    permutation: PermutationTest
    at_risk_p: float
    p: float


def interval_logrank(
    *, left: npt.ArrayLike, right: npt.ArrayLike, second: npt.ArrayLike, patient: npt.ArrayLike | None = None
) -> IntervalLogRank:
    """The log-rank test for times known only to lie between two reviews, with the larger of two p values.

    `left`, `right` as for Turnbull's estimate, one entry a lid; `second` true for the second group; `patient` which
    lids belong to one person. The covers are exchanged as `permute_patients` does. With an empty group everything is
    nan. ValueError as for Turnbull's estimate, for a `second` other than 0 and 1, and for a missing patient.

    Of the two published scores Sun's is used: with known times it is exactly the log-rank test's observed minus
    expected, ties included, so that the same question gets the same answer whichever way the time was seen.
    Finkelstein's belongs to a proportional hazards model that nobody claims here, and on the published data the two
    hardly differ (Z -2.67 and -2.68).

    Exchanging covers asks that both were reviewed alike. Where events are few and one group was followed for less long it
    rejected up to 15 % of registers without any difference in simulations. So the difference must also be rare given who was
    at risk, each event taken to come half-way between its two reviews and each other lid followed to its last one. Both
    together rejected in 5 % or less, and found a real difference nearly as often.

    Sun J. Stat Med 1996;15:1387-1395 (from memory); Fay MP, Shaw PA. J Stat Softw 2010;36(2).

    >>> test = interval_logrank(left=[0, 0, 3, 6, 6, 9], right=[3, 6, 6, 9, 12, 12], second=[1, 1, 1, 0, 0, 0])
    >>> round(test.score, 4), test.permutation.p
    (1.75, 0.1)
    """
    check_lengths(left=left, right=right, second=second, patient=patient)
    in_second = check_yes_no("second", second)
    who = check_labels("patient", patient, in_second.size)
    starts, ends = check_intervals(left, right)
    if in_second.all() or not in_second.any():
        empty = permute_patients(np.zeros(in_second.size), in_second, who)
        return IntervalLogRank(math.nan, math.nan, math.nan, empty, math.nan, math.nan)
    scores = sun_scores(left=starts, right=ends)
    permutation = permute_patients(scores, in_second, who)
    score = float(scores[in_second].sum())
    share = in_second.mean()
    spread = in_second.size * share * (1 - share) * ((scores - scores.mean()) ** 2).sum()
    variance = float(spread / (in_second.size - 1))
    z = (score - float(in_second.sum() * scores.mean())) / math.sqrt(variance) if variance > 0 else 0.0
    given = _among_those_at_risk(starts, ends, in_second)
    return IntervalLogRank(score, variance, z, permutation, given, max(permutation.p, given))


def _among_those_at_risk(left: FloatArray, right: FloatArray, in_second: npt.NDArray[np.bool_]) -> float:
    """The chance given the risk sets, with each event half-way between its reviews."""
    happened = np.isfinite(right)
    time = np.where(happened, (left + np.where(happened, right, 0.0)) / 2, left)
    still = [who.size - np.searchsorted(who, time[happened]) for who in (np.sort(time[in_second]), np.sort(time))]
    return shared_out(still[0] / still[1], float((happened & in_second).sum()))


def sun_scores(*, left: npt.ArrayLike, right: npt.ArrayLike) -> FloatArray:
    """Sun's score of each row: by how much more than expected it had the event, given everybody's reviews.

    The expectation is from Turnbull's estimate of all rows together. The scores add up to 0; one never seen to have it
    scores minus its expected events. Rows as for Turnbull's estimate, and so are the errors.

    Sun J. Stat Med 1996;15:1387-1395, as written by Fay MP, Shaw PA. J Stat Softw 2010;36(2), section 3.

    >>> [round(float(score), 4) for score in sun_scores(left=[1, 2, 3], right=[1, 2, float("inf")])]
    [0.6667, 0.1667, -0.8333]
    """
    starts, ends = check_intervals(left, right)
    if not starts.size:
        return np.zeros(0)
    estimate = turnbull(left=starts, right=ends)
    first, last = cell_ranges(estimate, left=starts, right=ends)
    mass = estimate.mass / estimate.mass.sum()
    after = np.append(np.cumsum(mass[::-1])[::-1], 0.0)
    expected = np.append(0.0, np.cumsum(mass / after[:-1]))
    held = after[first] - after[last]
    scores: FloatArray = (after[last] * expected[last] - after[first] * expected[first]) / held
    return scores
