"""The words for the warnings of a comparison, and for those beside the local figures for a patient."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from outcomes.findings.results import Caution, CautionCode, Fact, FactId
from outcomes.report import formats

if TYPE_CHECKING:
    from outcomes.findings.counsel.results import CounselCaution, CounselCautionId

Words = Callable[[Fact], str]


def _listed(fact: Fact) -> str:
    return ", ".join(fact.labels)


WORDS: dict[FactId, Words] = {
    "no_lids": lambda _: "There is no lid of either cover, so that nothing can be compared.",
    "few_lids_seen": lambda fact: (
        f"Fewer than {fact.numbers[0]:g} lids of a cover were seen in the primary window for: {_listed(fact)}. Nothing can be said of "
        "these."
    ),
    "no_overlap": lambda _: (
        "The covers do not overlap: lids given one cover were hardly ever like lids given the other, so a difference in result "
        "cannot be told from the choice of cover. Adjusted figures are left out."
    ),
    "surgeon_is_cover": lambda _: (
        "Each surgeon did one cover only, so a difference between the covers cannot be told from one between the surgeons. Adjusted "
        "figures are left out."
    ),
    "cohorts_differed": lambda fact: (
        f"The cohorts differed before anything was compared; the largest differences first: {_listed(fact)}. Differences in result "
        "may be due to that, and adjustment may not remove it all."
    ),
    "reviewed_apart": lambda fact: (
        f"Of lids due for {_listed(fact)} in the primary window, {fact.numbers[0]:.0%} grafted and {fact.numbers[1]:.0%} advanced were "
        "measured, so that a difference must survive what those not measured could have been."
    ),
    "median_apart": lambda fact: (
        f"Median follow-up since division is {fact.numbers[0]:.0f} months grafted and {fact.numbers[1]:.0f} months advanced."
    ),
    "completeness_apart": lambda fact: (
        f"Follow-up was {fact.numbers[0]:.0%} complete grafted and {fact.numbers[1]:.0%} complete advanced (Clark's index)."
    ),
    "missing_could_reverse": lambda fact: (
        "If every lid that was due and not measured had the worst result with one cover and the best with the other, the difference "
        f"could vanish or reverse in: {_listed(fact)}."
    ),
    "clock_matters": lambda fact: (
        f"Counting from the operation instead of from division changes what is seen in: {_listed(fact)}. The covers are divided at "
        "different times, so the two clocks are not the same."
    ),
    "masked_saw_less": lambda fact: (
        f"Assessors who did not know the cover saw less in the same lids in: {_listed(fact)}. The masked gradings count for more."
    ),
    "single_assessor": lambda fact: (
        f"One person, who is not recorded as masked, made {fact.numbers[0]:.0%} of the reviews: what that person expects of a cover may "
        "have entered the grades, and how far another would agree is not known."
    ),
    "clustered": lambda fact: (
        f"{fact.numbers[0]:.0f} lids belong to {fact.numbers[1]:.0f} patients: lids of one patient are not independent, and every "
        "interval allows for it. A patient with a lid of each cover counts in both cohorts."
    ),
    "converted": lambda fact: (
        f"In {fact.numbers[0]:.0f} lids the cover was not the one planned; the cohorts go by what was done."
    ),
    "suppressed": lambda fact: (
        f"Made for the public: counts from 1 to {fact.numbers[0]:.0f}, and what would give them away, are not shown. What is not shown "
        "is not zero. How many lids were missing, and what they could have changed, is in the clinic's own report only."
    ),
}
IN_GENERAL: dict[CautionCode, str] = {
    "too_few": "Too few lids of a cover were seen in the primary window for some measures. Nothing can be said of these.",
    "imbalance": "The cohorts differed before anything was compared. Differences in result may be due to that, and adjustment may "
    "not remove it all.",
    "follow_up_differs": "The covers were not followed alike, so a difference may be due to who came back.",
    "masking_matters": "Assessors who did not know the cover saw less in the same lids in some measures. The masked gradings "
    "count for more.",
    "single_assessor": "One person, who is not recorded as masked, made most of the reviews: what that person expects of a cover may have "
    "entered the grades, and how far another would agree is not known.",
    "missing_could_reverse": "If every lid that was due and not measured had the worst result with one cover and the best with the "
    "other, the difference could vanish or reverse in some measures.",
    "clock_matters": "Counting from the operation instead of from division changes what is seen in some measures: the covers are "
    "divided at different times.",
    "clustered": "Some patients have two lids in the series: these are not independent, and every interval allows for it.",
    "converted": "In some lids the cover was not the one planned; the cohorts go by what was done.",
}


def caution_words(caution: Caution) -> str:
    """Say a warning: every fact of it, or in general where the facts may not be shown."""
    return " ".join(
        IN_GENERAL[caution.code] if fact.id == "in_general" else WORDS[fact.id](fact) for fact in caution.facts
    )


def _range_words(caution: CounselCaution) -> str:
    (label, cohort), (value, lids, low, high) = caution.labels, caution.numbers
    return f"{label}: the patient's {value:.4g} lies outside the range of the {lids:.0f} {cohort} lids ({low:.4g} to {high:.4g})."


COUNSEL_WORDS: dict[CounselCautionId, Callable[[CounselCaution], str]] = {
    "outside": _range_words,
    "unlike": lambda caution: (
        f"{_range_words(caution)} No local figure holds for such a patient: the sheet prints none."
    ),
    "too_few": lambda caution: f"Too few lids to say anything of: {', '.join(caution.labels)}.",
    "imbalance": lambda caution: (
        f"The cover was chosen because of the lid: the cohorts differed in {', '.join(caution.labels)}. "
        "The difference between the two columns is not the effect of the cover."
    ),
    "follow_up_differs": lambda caution: (
        f"{formats.capitalised(caution.labels[0])}: the covers were not followed alike; of lids due, the result is known "
        f"in {caution.numbers[0]:.0%} grafted and {caution.numbers[1]:.0%} advanced."
    ),
    "more_missing_than_known": lambda caution: f"More lids are missing than known in: {', '.join(caution.labels)}.",
}


def counsel_caution_words(caution: CounselCaution) -> str:
    """Say a warning beside the local figures."""
    return COUNSEL_WORDS[caution.id](caution)
