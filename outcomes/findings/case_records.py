"""Each case of the register with its patient, reviews and events, as plain rows known by a given day."""

from __future__ import annotations

import difflib
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from outcomes.errors import OutcomesError
from outcomes.protocol import Protocol, Value

Values = Mapping[str, Value]
HeldRows = Mapping[str, Mapping[tuple[str, ...], Values]]


@dataclass(frozen=True)
class CaseRecord:
    """One reconstruction; `reviews` and `events` in order of their dates. `ended` is the event that ended follow-up."""

    case: Values
    patient: Values
    reviews: tuple[Values, ...]
    events: tuple[Values, ...]
    ended: Values | None

    @property
    def case_id(self) -> str:
        """The study code of the case."""
        return self.text("case_id")

    def text(self, name: str) -> str:
        """A value of the reconstruction as text; empty when it was not recorded."""
        return str(self.case.get(name, ""))

    def day(self, name: str) -> date | None:
        """A date of the reconstruction."""
        return day_of(self.case, name)

    @property
    def operated_on(self) -> date:
        """Day of the operation, which every case has."""
        day = self.day("operated_on")
        if day is None:
            raise ValueError(self.case_id)
        return day

    def first_event(self, kind: str) -> date | None:
        """The day of the first event of that kind."""
        return next((day_of(event, "happened_on") for event in self.events if event.get("kind") == kind), None)


def day_of(values: Values, name: str) -> date | None:
    """A date of a row, or None."""
    value = values.get(name)
    return value if isinstance(value, date) else None


def number_of(values: Values, name: str) -> float | None:
    """A number of a row, or None."""
    value = values.get(name)
    return float(value) if isinstance(value, int | float) else None


def case_records(held: HeldRows, protocol: Protocol, as_of: date) -> tuple[CaseRecord, ...]:
    """Every case operated on by that day, with what had happened by then, in order of case_id."""
    patients = {row.get("patient_id"): row for row in held["patients"].values()}
    reviews = _by_case(held["reviews"].values(), "reviewed_on", as_of)
    events = _by_case(held["events"].values(), "happened_on", as_of)
    cases = [row for row in held["reconstructions"].values() if (day_of(row, "operated_on") or as_of) <= as_of]
    ends = _ends(cases, events, protocol)
    records = [
        CaseRecord(
            _known_by(case, as_of),
            patients.get(case.get("patient_id"), {}),
            tuple(reviews[case.get("case_id")]),
            tuple(events[case.get("case_id")]),
            ends.get(case.get("patient_id")),
        )
        for case in cases
    ]
    return tuple(sorted(records, key=lambda record: record.case_id))


def _by_case(rows: Iterable[Values], name: str, as_of: date) -> defaultdict[Value, list[Values]]:
    by_case: defaultdict[Value, list[Values]] = defaultdict(list)
    for row in sorted(rows, key=lambda row: day_of(row, name) or date.max):
        if (day_of(row, name) or date.max) <= as_of:
            by_case[row.get("case_id")].append(row)
    return by_case


def _known_by(case: Values, as_of: date) -> Values:
    """The case without a division that lies ahead."""
    divided = day_of(case, "divided_on")
    later = divided is not None and divided > as_of
    return {name: value for name, value in case.items() if not (later and name == "divided_on")}


def _ends(cases: Iterable[Values], events: Mapping[Value, list[Values]], protocol: Protocol) -> dict[Value, Values]:
    """The first event that ended the follow-up of each patient, whichever lid it was recorded for."""
    ends: dict[Value, Values] = {}
    for case in cases:
        for event in events.get(case.get("case_id"), ()):
            if event.get("kind") in protocol.ends_follow_up:
                before = ends.setdefault(case.get("patient_id"), event)
                if (day_of(event, "happened_on") or date.max) < (day_of(before, "happened_on") or date.max):
                    ends[case.get("patient_id")] = event
    return ends


def record_of(records: Iterable[CaseRecord], case_id: str) -> CaseRecord:
    """The record of one case, whatever the capitals of its code; an unknown code is refused with near ones."""
    by_code = {record.case_id: record for record in records}
    return by_code[known_code([*by_code], case_id)]


def known_code(codes: list[str], typed: str) -> str:
    """The code as the register writes it, whatever its capitals; OutcomesError with near ones when there is none."""
    plain = {code.casefold(): code for code in codes}
    wanted = typed.strip().casefold()
    if wanted in plain:
        return plain[wanted]
    near = [plain[each] for each in difflib.get_close_matches(wanted, plain, n=3, cutoff=0.6)]
    hint = f"; did you mean {' or '.join(near)}?" if near else f"; codes look like {codes[0]}" if codes else ""
    raise OutcomesError(f'there is no case "{typed}" in the register{hint}')
