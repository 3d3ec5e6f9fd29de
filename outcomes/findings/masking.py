"""The difference seen by masked assessors beside that seen by unmasked ones in the same lids."""

from __future__ import annotations

from outcomes.findings.arrays import Lids
from outcomes.findings.checks import Question
from outcomes.findings.estimates import judged_estimate
from outcomes.findings.sample import sample_of


def masked_saw_less(question: Question, unmasked: Lids) -> bool:
    """Tell whether, in lids graded by both in the window, the masked interval excludes the unmasked difference towards none."""
    if question.masked is None:
        return False
    both = question.masked.seen & unmasked.seen
    sample = sample_of(question.lids, both, question.covariates)
    if sample.fewest < sample.rules.too_few_lids:
        return False
    open_eyed, masked = (
        judged_estimate(question.values(lids)[both], sample, question.scale) for lids in (unmasked, question.masked)
    )
    if open_eyed is None or masked is None:
        return False
    if open_eyed.estimate < open_eyed.none:
        return masked.low > open_eyed.estimate
    return masked.high < open_eyed.estimate
