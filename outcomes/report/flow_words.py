"""The words for the steps of the flow of cases, and for why lids left at a step."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from outcomes.findings.results import FlowStep
    from outcomes.findings.study_facts import LossByCohort, Stage

STEPS = {
    "reconstructed": "reconstructed by the as-of date",
    "reconstructed_or_withdrawn": "reconstructed by the as-of date, or of a patient who withdrew",
    "not_withdrawn": "patient did not withdraw",
    "operated_from": "operated on or after {}",
    "operated_to": "operated on or before {}",
    "sites": "site: {}",
    "surgeons": "surgeon: {}",
    "diagnoses": "diagnosis: {}",
    "divided": "pedicle divided by the as-of date",
    "measured": "measured at least once after division",
    "reviewed": "reviewed at {}",
}
# Why lids left, with the number of lids of both cohorts before it.
LOSSES = {
    "other_cover": "{} lids with another cover are in neither cohort",
    "withdrew": "{} lids left out: the patient withdrew",
    "filtered": "{} lids left out",
    "undivided": "{} lids not divided",
    "never_measured": "{} lids never measured",
    "missing": "{} missing",
    "not_due": "{} not yet due",
    "not_applicable": "{} not applicable",
}
# The same where the number of each cohort stands beside it.
REASONS = {
    "": "not counted from here on",
    "withdrew": "left out: the patient withdrew",
    "filtered": "left out",
    "undivided": "not divided",
    "never_measured": "never measured",
    "missing": "due, not seen",
    "not_due": "not yet due",
    "not_applicable": "not applicable",
}


def step_words(step: FlowStep | Stage) -> str:
    """Say one step of the flow."""
    return STEPS[step.id].format(step.label)


def loss_words(step: FlowStep) -> str:
    """Say why lids left at a step, with their numbers; empty when none left, or when it is not said."""
    return ", ".join(_one(LOSSES[loss.reason], loss.lids).format(loss.lids) for loss in step.lost)


def _one(words: str, lids: int) -> str:
    return words.replace("lids", "lid", 1) if lids == 1 else words


def reason_words(loss: LossByCohort) -> str:
    """Say why lids of each cohort left."""
    return REASONS[loss.reason]
