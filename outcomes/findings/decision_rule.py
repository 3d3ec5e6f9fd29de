"""The rule by which a difference gets its verdict.

With fewer lids than the protocol's minimum in a cohort, or without an interval, it is too few to say. Otherwise the interval
of the adjusted difference (the crude one where nothing was recorded to adjust for) decides: where it excludes none, one cover
is better if the correction for many comparisons leaves it so, and may be better if not; where it includes none and lies
within what matters, there is no difference that matters; else the series cannot tell. Three things withhold a difference: the
covers do not overlap; the shares measured differ and the difference does not survive that; masked assessors of the same lids saw
less. Everything else is said beside the verdict and changes nothing of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import Literal

from outcomes.findings.results import Note, Reason, Verdict
from outcomes.statistics.effective_shares import EffectiveShare
from outcomes.statistics.power import could_find, could_find_share
from outcomes.statistics.result import TestedEstimate
from outcomes.statistics.unseen import anchored, measured_factor, widened

Doubt = Literal["unseen", "masked"]
HAIR = 1e-9


@dataclass(frozen=True)
class Evidence:
    """All that a verdict follows from.

    `judged` is None where the covers do not overlap. `fewest` is the lids measured in the smaller cohort, `measured` the
    shares measured of the lids due, `spread` the standard deviation of the outcome, `important` the difference that matters.
    `masked_saw_less` tells that masked assessors of the same lids saw a difference nearer to none; `shares` are, where the outcome
    is a share, that of both cohorts together with the lids that each is worth.
    """

    judged: TestedEstimate | None
    fewest: int
    too_few: int
    more_is_worse: bool
    measured: tuple[float, float] | None = None
    points: float = 10.0
    spread: float = 0.0
    important: float | None = None
    masked_saw_less: bool = False
    shares: tuple[EffectiveShare, EffectiveShare] | None = None

    @property
    def measured_apart(self) -> bool:
        """Tell whether the shares measured differ by more than the protocol allows."""
        return self.measured is not None and 100 * abs(self.measured[0] - self.measured[1]) > self.points + HAIR

    @property
    def estimable(self) -> bool:
        """Tell whether there are lids enough, and an interval."""
        return self.fewest >= self.too_few and self.judged is not None and isfinite(self.judged.low)

    @property
    def p(self) -> float | None:
        """The p value that enters the correction for many comparisons; None where nothing can be said."""
        return self.judged.p if self.estimable and self.judged is not None else None


@dataclass(frozen=True)
class Ruling:
    """The verdict, what withheld a better one, and what must be said beside it."""

    verdict: Verdict
    withheld: Reason = ""
    notes: tuple[Note, ...] = ()


def rule(evidence: Evidence, *, stands: bool) -> Ruling:
    """Give the verdict; `stands` tells that the correction for many comparisons leaves the difference."""
    if evidence.fewest < evidence.too_few:
        return Ruling("too few to say", notes=(Note("few_lids", evidence.too_few),))
    if evidence.judged is None:
        return Ruling("cannot tell", "no_overlap", (Note("no_overlap"),))
    if not evidence.estimable:
        return Ruling("too few to say", notes=(Note("no_interval"),))
    if not evidence.judged.excludes_none:
        return _without_difference(evidence, evidence.judged)
    withheld = withheld_by(evidence, evidence.judged)
    if withheld:
        return Ruling("cannot tell", withheld, (Note(withheld),))
    advanced_is_better = (evidence.judged.estimate < evidence.judged.none) == evidence.more_is_worse
    within = _within(evidence.judged, evidence.important)
    return Ruling(_BETTER[stands, advanced_is_better], notes=(Note("within_important"),) if within else ())


_BETTER: dict[tuple[bool, bool], Verdict] = {
    (True, True): "better with advanced",
    (True, False): "better with graft",
    (False, True): "may be better with advanced",
    (False, False): "may be better with graft",
}


def withheld_by(evidence: Evidence, judged: TestedEstimate) -> Doubt | None:
    """What withholds a difference that excludes none, if anything does."""
    if evidence.measured_apart and evidence.measured is not None:
        drawn = anchored(judged, evidence.measured)
        if not drawn.excludes_none:
            return "unseen"
    return "masked" if evidence.masked_saw_less else None


def _without_difference(evidence: Evidence, judged: TestedEstimate) -> Ruling:
    if evidence.important is None:
        return Ruling("cannot tell", notes=(Note("no_important_difference"),))
    wide = judged
    if evidence.measured_apart and evidence.measured is not None:
        wide = widened(judged, evidence.measured, standard_deviation=evidence.spread)
    if not _within(wide, evidence.important):
        return Ruling("cannot tell")
    if evidence.masked_saw_less:
        return Ruling("cannot tell", "masked", (Note("masked"),))
    return Ruling("no difference that matters")


def _within(estimate: TestedEstimate, important: float | None) -> bool:
    return important is not None and -important < estimate.low and estimate.high < important


def findable_difference(evidence: Evidence, power: float) -> float | None:
    """The smallest true difference that such series would have shown as often as `power`, None where nothing can be said."""
    if not evidence.estimable or evidence.judged is None:
        return None
    factor = measured_factor(evidence.measured) if evidence.measured_apart and evidence.measured else 1.0
    judged = evidence.judged
    if evidence.shares is not None:
        of_shares = could_find_share(
            evidence.shares,
            degrees_of_freedom=judged.degrees_of_freedom,
            factor=factor,
            power=power,
            confidence_level=judged.confidence_level,
        )
        return of_shares if isfinite(of_shares) else None
    found = could_find(
        judged.standard_error,
        judged.degrees_of_freedom,
        factor=factor,
        power=power,
        confidence_level=judged.confidence_level,
    )
    return found if isfinite(found) else None
