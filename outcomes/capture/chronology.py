"""Check the order of dates, and that each measure could have been taken on its date."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from outcomes.capture.entry import Entries, Entry
from outcomes.errors import Problem
from outcomes.protocol import Field, Protocol

DEATH = "death"
REMOTE_MODES = ("telephone", "letter")
SEEN_BY_RULER = "mm"


def check_order(entries: Entries, protocol: Protocol) -> list[Problem]:
    """Every date that lies on the wrong side of another, and every measure that could not have been taken then."""
    cases = entries.by_code("reconstructions", "case_id")
    patients = entries.by_code("patients", "patient_id")
    deaths = _deaths(entries, cases)
    after_division = tuple(field for field in protocol.observed if not field.before_division)
    problems = [problem for case in cases.values() for problem in _case(case, patients.get(case.text("patient_id")))]
    for review in entries.of("reviews"):
        case = cases.get(review.text("case_id"))
        problems.extend(_remote(review, protocol.observed))
        if case is not None:
            problems.extend(_after_operation(review, "reviewed_on", case))
            problems.extend(_division(review, case, after_division))
            problems.extend(_death(review, case, deaths))
    for event in entries.of("events"):
        case = cases.get(event.text("case_id"))
        if case is not None:
            problems.extend(_after_operation(event, "happened_on", case))
    return problems


def _case(case: Entry, patient: Entry | None) -> Iterator[Problem]:
    operated = case.day("operated_on")
    if operated is None:
        return
    for field in ("division_planned_on", "divided_on") if case.number else ():
        day = case.day(field)
        if day is not None and day <= operated:
            yield case.problem(
                field, "must lie after the operation {}; correct one of the two dates", operated.isoformat()
            )
    if patient is not None:
        yield from _birth_and_operation(case, patient, operated)


def _birth_and_operation(case: Entry, patient: Entry, operated: date) -> Iterator[Problem]:
    born = patient.values.get("birth_year")
    if not isinstance(born, int) or operated.year >= born:
        return
    if case.number:
        yield case.problem(
            "operated_on", "lies before the year of birth of the patient {}; correct one of the two", str(born)
        )
    elif patient.number:
        yield patient.problem(
            "birth_year",
            "lies after the operation of the patient's case {}; correct one of the two",
            operated.isoformat(),
        )


def _after_operation(entry: Entry, field: str, case: Entry) -> Iterator[Problem]:
    day, operated = entry.day(field), case.day("operated_on")
    if day is not None and operated is not None and day < operated:
        yield from _attributed(
            (entry, field), (case, "operated_on"), "lies before the operation of the case {}", operated.isoformat()
        )


def _attributed(
    row: tuple[Entry, str],
    case: tuple[Entry, str],
    what: str,
    detail: str,
    remedy: str = "correct one of the two dates",
) -> Iterator[Problem]:
    """Put the problem on the row that was read: the review or event, or else the case that no longer suits one held."""
    entry, field = row
    if entry.number:
        yield entry.problem(field, f"{what}; {remedy}", detail)
    elif case[0].number:
        kind, day = entry.sheet.removesuffix("s"), entry.text(field)
        whole = what.replace("{}", f"({detail})")
        yield case[0].problem(
            case[1], f"does not suit a {kind} that the register holds {{}}", f"of {day}, which then {whole}"
        )


def _division(review: Entry, case: Entry, after_division: tuple[Field, ...]) -> Iterator[Problem]:
    recorded = [field.id for field in after_division if field.id in review.values]
    day, divided = review.day("reviewed_on"), case.day("divided_on")
    if not recorded or day is None or "divided_on" in case.refused_fields or (divided is not None and day >= divided):
        return
    what = (
        "lies before the division {}, but has what is recorded only after it"
        if divided
        else "has what is recorded only after division {}, but the case has no divided_on"
    )
    detail = (f"{divided.isoformat()}; " if divided else "") + _listed(recorded)
    yield from _attributed(
        (review, "reviewed_on"),
        (case, "divided_on"),
        what,
        detail,
        "clear what was not measured then, or correct the dates",
    )


def _listed(names: list[str]) -> str:
    shown = 3
    return ", ".join(names[:shown]) + (f" and {len(names) - shown} more" if len(names) > shown else "")


def _remote(review: Entry, observed: tuple[Field, ...]) -> Iterator[Problem]:
    mode = review.text("mode")
    measured = [field.id for field in observed if field.unit == SEEN_BY_RULER and field.id in review.values]
    if mode in REMOTE_MODES and measured and review.number:
        yield review.problem(
            "mode",
            f"allows no measure in {SEEN_BY_RULER} {{}}; clear those, or correct the mode",
            _listed(measured),
        )


def _deaths(entries: Entries, cases: dict[str, Entry]) -> dict[str, tuple[date, Entry]]:
    """The earliest day of death of each patient, whichever lid it was recorded for."""
    deaths: dict[str, tuple[date, Entry]] = {}
    for event in entries.of("events"):
        day, case = event.day("happened_on"), cases.get(event.text("case_id"))
        if event.text("kind") != DEATH or day is None or case is None:
            continue
        patient = case.text("patient_id")
        if patient not in deaths or day < deaths[patient][0]:
            deaths[patient] = day, event
    return deaths


def _death(review: Entry, case: Entry, deaths: dict[str, tuple[date, Entry]]) -> Iterator[Problem]:
    day = review.day("reviewed_on")
    died, event = deaths.get(case.text("patient_id"), (None, None))
    if day is not None and died is not None and event is not None and day > died:
        yield from _attributed(
            (review, "reviewed_on"), (event, "happened_on"), "lies after the death of the patient {}", died.isoformat()
        )
