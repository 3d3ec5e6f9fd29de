"""The words for the notes of findings, and for what could not be adjusted for."""

from __future__ import annotations

from outcomes.findings.results import Adjustment, CheckId, LeftOut, Note, NoteId

NOTES: dict[NoteId, str] = {
    "not_recorded": "no {} lid was measured",
    "few_lids": "fewer than {} lids in a cohort",
    "no_interval": "the values are all equal, or the lids of a cohort are one patient's, so that no interval can be given",
    "not_adjusted": "not adjusted: nothing was recorded to adjust for",
    "no_overlap": "the covers do not overlap: lids with one cover were hardly ever like lids with the other",
    "unseen": "lids were measured more completely with one cover, and the difference does not survive that",
    "masked": "assessors who did not know the cover saw less in the same lids",
    "masked_elsewhere": "assessors who did not know the cover saw less of it at another review",
    "check_reverses": "the other way in a check: {}",
    "within_important": "by less than matters",
    "no_important_difference": "the protocol does not say which difference would matter",
    "win_probability_disagrees": "the probability of a better grade points the other way",
    "public": "some numbers are not shown in the public report: small counts",
    "few_followed": "fewer than {} {} lids were followed so long",
    "unknown_at_month": "what became of the lids that were free at their last review before {} months is not known",
    "few_at_risk": "of lids still free and reviewed there were only {}",
    "lower_bound": "found at reviews only, so that the shares are lower bounds",
    "not_followed_for_mean": "the cohorts were not reviewed long enough for a mean",
    "nothing_happened": "nothing happened, or to all alike, in one of the cohorts, so that the difference has no interval",
}
CHECKS: dict[CheckId, str] = {
    "as_planned": "By the cover planned",
    "masked_only": "Masked assessors only",
    "operation_clock": "Same time since operation",
    "revision_poor": "Revised lids count as poor",
    "revision_as_seen": "Revised lids as they were seen",
    "without_first_twenty": "Without the first 20 a cover",
    "within_surgeon": "Within surgeons",
    "inverse_measured": "Weighted for being measured",
    "overlap_weighted": "Overlap-weighted",
}
CHECK_LABELS: dict[str, str] = {name: words.lower() for name, words in CHECKS.items()}
COVERS = {"grafted": "Skin graft", "advanced": "Advanced skin"}
WHY_NOT_ADJUSTED = {
    "": "",
    "one_cohort_empty": "one cohort has no lids",
    "too_few_lids": "too few lids for a model of the cover",
    "nothing_recorded": "no characteristic was recorded that differs",
    "no_overlap": "the covers do not overlap: lids with one cover were hardly ever like lids with the other",
}
LEFT_OUT = {
    "not_recorded": "not recorded, or the same in all",
    "too_few_lids": "too few lids for so many",
    "one_surgeon_a_cover": "each surgeon did one cover only",
    "one_surgeon_did_both": "only one surgeon did both covers",
}


# The same where public output leaves out the number or the cohort.
NOTES_WITHOUT_NUMBERS: dict[NoteId, str] = {
    "not_recorded": "no lid of one cohort was measured",
    "few_lids": "too few lids in a cohort",
    "few_followed": "too few lids were followed so long",
    "unknown_at_month": "what became of the lids that were free at their last review is not known",
    "few_at_risk": "too few lids still free were reviewed",
}


def note_words(notes: tuple[Note, ...]) -> str:
    """Say the notes of a finding, one after the other; empty when there are none."""
    return "; ".join(_words(note) for note in notes)


def _words(note: Note) -> str:
    if note.number is None and not note.label:
        return NOTES_WITHOUT_NUMBERS.get(note.id, NOTES[note.id])
    given = [f"{note.number:g}"] if note.number is not None else []
    labels = [CHECK_LABELS.get(note.label, note.label)] if note.label else []
    return NOTES[note.id].format(*given, *labels)


def why_not_adjusted(adjustment: Adjustment) -> str:
    """Say why nothing could be adjusted for in the whole series; empty where it could."""
    return WHY_NOT_ADJUSTED[adjustment.why_not]


def left_out_words(left_out: LeftOut) -> str:
    """Say which characteristic did not enter the model, and why."""
    return f"{left_out.label} ({LEFT_OUT[left_out.reason]})"
