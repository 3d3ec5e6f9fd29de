"""The rule by which a difference gets its reading."""

from __future__ import annotations

from dataclasses import dataclass

from outcomes.findings.estimable import excludes_none
from outcomes.findings.results import Adjusted, Contrast, Range, Reading

REVERSIBLE = "the lids that were not measured could reverse it"
BETTER: tuple[Reading, Reading] = ("better with advanced", "better with graft")


@dataclass(frozen=True)
class Evidence:
    """All that a reading rests on.

    `fewest` is the lids seen in the smaller cohort. `more_is_worse` tells which way is bad for the patient, `reviewed_apart` that the
    share reviewed differs between the covers, `no_overlap` that the covers were never a choice, `masking_tells` that
    masked assessors saw another difference in this measure.
    """

    contrast: Contrast
    adjusted: Adjusted | None
    if_missing: Range
    fewest: int
    too_few: int
    more_is_worse: bool
    reviewed_apart: bool
    no_overlap: bool
    as_planned: Contrast | None = None
    masking_tells: bool = False
    alpha: float = 0.05


def read(evidence: Evidence) -> tuple[Reading, tuple[str, ...]]:
    """Give the reading of one difference, and why it is no stronger.

    The rule. With fewer lids than the protocol's minimum in either cohort it is too few to say: the minimum is a choice,
    not a theorem, for four lids that all went one way could reach 5 %, and would persuade nobody. Otherwise the difference
    reads as better with one cover only when every one of these holds, each against the same direction:

    1. the 95 % interval that respects lids of one patient excludes no difference;
    2. the permutation p value, corrected by Holm for how many comparisons were made, is at most 5 %;
    3. the overlap-weighted contrast excludes no difference in the same direction, wherever a model of the cover can be
       estimated; where the covers do not overlap nothing can be told apart from the choice of cover, and this fails;
    4. where the share of lids reviewed differs between the covers by more than the protocol allows, the whole range of what
       the missing lids could have been lies on the same side;
    5. where covers were changed at operation, the contrast by the cover that was planned excludes no difference in the same
       direction: what made the surgeon change may also make the result;
    6. masked assessors, where there were any, did not see another difference in this measure.

    Everything else is no clear difference, which says that the series cannot tell, not that the covers are alike. The rule is an
    intersection: under no true difference each part alone holds the error at 5 % for the family, so all of them together
    cannot err more often (intersection-union principle, Berger RL, Technometrics 1982;24:295-300; citation from memory).
    """
    if evidence.fewest < evidence.too_few or evidence.contrast.estimate is None:
        return "too few to say", (
            f"fewer than {evidence.too_few} lids in a cohort",
        ) if evidence.fewest < evidence.too_few else ()
    sign = _sign(evidence.contrast.low, evidence.contrast.high)
    reasons = _doubts(evidence, sign)
    if sign == 0 or reasons:
        return "no clear difference", reasons
    caveat = _could_reverse(evidence.if_missing, sign)
    return BETTER[0] if (sign < 0) == evidence.more_is_worse else BETTER[1], caveat


def _could_reverse(if_missing: Range, sign: int) -> tuple[str, ...]:
    """What must be said beside a difference that is read although the lids that were not measured could reverse it."""
    known = if_missing.low is not None and if_missing.high is not None
    return (REVERSIBLE,) if known and _sign(if_missing.low, if_missing.high) != sign else ()


def _doubts(evidence: Evidence, sign: int) -> tuple[str, ...]:
    """Why the difference may not be believed, in the order of the rule."""
    adjusted = _sign(evidence.adjusted.low, evidence.adjusted.high) if evidence.adjusted is not None else 0
    if sign == 0:
        hidden = (
            ("after adjustment the interval leaves out no difference: the choice of cover may be hiding one",)
            if adjusted
            else ()
        )
        return ("the interval includes no difference", *hidden)
    doubts = []
    if evidence.contrast.p_adjusted is None or evidence.contrast.p_adjusted > evidence.alpha:
        doubts.append("the correction for many comparisons leaves it within chance")
    if evidence.no_overlap:
        doubts.append("the covers do not overlap, so the choice of cover cannot be told from its result")
    elif evidence.adjusted is not None and adjusted != sign:
        doubts.append("it does not survive the adjustment for how the covers were chosen")
    if evidence.reviewed_apart and _sign(evidence.if_missing.low, evidence.if_missing.high) != sign:
        doubts.append(REVERSIBLE)
    if evidence.as_planned is not None and _sign(evidence.as_planned.low, evidence.as_planned.high) != sign:
        doubts.append("by the cover that was planned it is not there")
    if evidence.masking_tells:
        doubts.append("assessors who did not know the cover saw another difference")
    return tuple(doubts)


def _sign(low: float | None, high: float | None) -> int:
    if not excludes_none(low, high):
        return 0
    return 1 if low is not None and low > 0 else -1
