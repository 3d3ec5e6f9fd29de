"""Make the clinic sheets of cases: the questions of the prompts on paper, with the last values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from outcomes.cli.output_paths import written

if TYPE_CHECKING:
    from outcomes.protocol import Field, Protocol, Value
    from outcomes.report.documents.clinic_sheet import SheetQuestion


def write_case_sheets(path: Path, register: Path, cases: Sequence[str], as_of: date) -> None:
    """One page a case, its questions in the order of the prompts, with the last values."""
    from outcomes.capture.questions import EntryContext, is_asked, review_questions
    from outcomes.cli.add import known_case, last_values
    from outcomes.cli.hand_entry import opened_register
    from outcomes.report.documents.clinic_sheet import ClinicSheet, write_clinic_sheets

    opened = opened_register(register, as_of, "")
    main, further = review_questions(opened.protocol)
    sheets = []
    for each in cases:
        code = known_case(opened, each)
        held = opened.held.values["reconstructions"][(code,)]
        context = EntryContext(opened.protocol, as_of, held.get("divided_on"))
        last = last_values(opened, "reviews", code)
        asked, more = (
            tuple(
                _sheet_question(field, last.get(field.id, ""))
                for field in fields
                if field.id != "case_id" and is_asked(field, {"reviewed_on": as_of}, context)
            )
            for fields in (main, further)
        )
        sheets.append(ClinicSheet(code, _known_words(opened.protocol, held), asked, more))
    footer = f"Study codes only: no name, no hospital number. Register as of {as_of}; protocol {opened.protocol.fingerprint}."
    with written(path):
        write_clinic_sheets(path, sheets, footer=footer)


def _sheet_question(field: Field, last: str) -> SheetQuestion:
    from outcomes.report.documents.clinic_sheet import SheetQuestion

    choices = field.levels or field.allowed
    bare = all(word == str(number) for number, word in enumerate(choices))
    numbered = tuple(word if bare or not field.levels else f"{number} {word}" for number, word in enumerate(choices))
    takes = (
        ""
        if choices or field.kind == "code"
        else "year-month-day"
        if field.kind == "date"
        else field.says().removeprefix("a number ")
    )
    return SheetQuestion(field.label, takes, numbered, last.replace(" on ", ", "))


def _known_words(protocol: Protocol, case: Mapping[str, Value]) -> tuple[str, ...]:
    """The side, the cover and the days of operation and division."""
    labels = {field.id: field.label for field in protocol.sheet("reconstructions")}
    names = ("side", "cover", "operated_on", "divided_on")
    return tuple(f"{labels[name]}: {case.get(name) or 'not yet'}" for name in names)
