"""Find the study codes of the rows of a foreign sheet."""

from __future__ import annotations

from collections.abc import Mapping as MappingOf
from typing import Any

from outcomes.capture.foreign.mapping import BY_CASE, BY_LINK, BY_PATIENT_AND_SIDE, LINK, Mapping
from outcomes.protocol import folded_code

_SIDES = {"right": "R", "left": "L"}


class CodeFinder:
    """Gives each row its patient and case; keeps what was found, so that a later row may leave out what is known.

    `links` are the study codes by hospital number; None where there is no link file, and new codes are then made as in a
    dry run.
    """

    def __init__(
        self, mapping: Mapping, links: MappingOf[str, str] | None, cases: MappingOf[Any, MappingOf[str, Any]]
    ) -> None:
        """Keep how codes are found, and the cases that the register holds."""
        self.mapping = mapping
        self.links = dict(links or {})
        self.numbers: dict[str, str] = {}
        self.patient_of: dict[str, str] = {}
        self.cases_of: dict[str, list[str]] = {}
        self.spelling: dict[tuple[str, str], str] = {}
        for values in cases.values():
            case, patient = str(values["case_id"]), str(values["patient_id"])
            self._keep(self._spelled("case", case), self._spelled("patient", patient))

    def find(self, cells: MappingOf[str, str], side: str) -> tuple[str, str]:
        """The codes of the patient and of the case that a row names, each empty where it names none."""
        patient = self._spelled("patient", cells.get("patient_id", ""))
        number = cells.get(LINK, "")
        if number and self.mapping.patient_code == BY_LINK:
            patient = patient or self._linked(number)
        if number and patient:
            self.numbers.setdefault(patient, number)
        case = self._spelled("case", cells.get("case_id", ""))
        if not case and patient and side and self.mapping.case_code == BY_PATIENT_AND_SIDE:
            case = f"{patient}-{_SIDES.get(side, side)}"
        if case and self.mapping.patient_code == BY_CASE:
            patient = patient or self.patient_of.get(case, case)
        self._keep(case, patient)
        return patient, case

    def _keep(self, case: str, patient: str) -> None:
        if case and patient:
            self.patient_of.setdefault(case, patient)
            known = self.cases_of.setdefault(patient, [])
            if case not in known:
                known.append(case)

    def settled(self, case: str, patient: str) -> tuple[str, str]:
        """The codes of a row once all rows are known: a patient's only case, and the patient of a case."""
        cases = self.cases_of.get(patient, [])
        case = case or (cases[0] if len(cases) == 1 else "")
        return case, patient or self.patient_of.get(case, "")

    def _spelled(self, kind: str, code: str) -> str:
        return self.spelling.setdefault((kind, folded_code(code)), code) if code else ""

    def _linked(self, number: str) -> str:
        if number not in self.links:
            taken = set(self.links.values())
            count = len(self.links) + 1
            while f"P{count:03}" in taken:
                count += 1
            self.links[number] = f"P{count:03}"
        return self.links[number]
