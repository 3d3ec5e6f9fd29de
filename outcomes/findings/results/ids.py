"""The ids that results carry: verdicts, outcomes, kinds of estimate, notes, warnings and levels of output."""

from __future__ import annotations

from typing import Literal

Verdict = Literal[
    "better with advanced",
    "better with graft",
    "may be better with advanced",
    "may be better with graft",
    "no difference that matters",
    "cannot tell",
    "too few to say",
]
BETTER: tuple[Verdict, ...] = ("better with advanced", "better with graft")
MAY_BE: tuple[Verdict, ...] = ("may be better with advanced", "may be better with graft")
DECIDED: tuple[Verdict, ...] = (*BETTER, *MAY_BE)


Outcome = Literal["main", "poor", "value"]


Family = Literal["planned", "further", "exploratory"]


Kind = Literal[
    "difference of means",
    "difference of proportions",
    "win probability",
    "difference of cumulative incidence",
    "difference of cumulative share",
    "difference of restricted mean months",
]


Method = Literal["linear model", "augmented overlap weights", "overlap weights"]


Reason = Literal["", "public", "no_overlap", "unseen", "masked"]


CheckId = Literal[
    "as_planned",
    "masked_only",
    "operation_clock",
    "revision_poor",
    "revision_as_seen",
    "without_first_twenty",
    "within_surgeon",
    "inverse_measured",
    "overlap_weighted",
]


UncheckedReason = Literal["none_masked", "all_masked", "few_masked", "no_overlap"]


NoteId = Literal[
    "not_recorded",
    "few_lids",
    "no_interval",
    "not_adjusted",
    "no_overlap",
    "unseen",
    "masked",
    "masked_elsewhere",
    "check_reverses",
    "within_important",
    "no_important_difference",
    "win_probability_disagrees",
    "public",
    "few_followed",
    "unknown_at_month",
    "few_at_risk",
    "lower_bound",
    "not_followed_for_mean",
    "nothing_happened",
]


CautionCode = Literal[
    "too_few",
    "no_overlap",
    "imbalance",
    "follow_up_differs",
    "missing_could_reverse",
    "clock_matters",
    "masking_matters",
    "single_assessor",
    "clustered",
    "converted",
    "public",
]


FactId = Literal[
    "no_lids",
    "few_lids_seen",
    "no_overlap",
    "surgeon_is_cover",
    "cohorts_differed",
    "reviewed_apart",
    "median_apart",
    "completeness_apart",
    "missing_could_reverse",
    "clock_matters",
    "masked_saw_less",
    "single_assessor",
    "clustered",
    "converted",
    "in_general",
    "suppressed",
]


NotAdjusted = Literal["", "one_cohort_empty", "too_few_lids", "nothing_recorded", "no_overlap"]


Clock = Literal["division", "operation"]


Level = Literal["own eyes", "journal", "public"]
