"""`outcomes template`: write the workbook to fill in, or clinic sheets to fill in with a pen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes.cli.confirm import patience
from outcomes.cli.options import DEFAULT_REGISTER, AsOf, RegisterPath, as_of_day
from outcomes.cli.plurals import counted
from outcomes.errors import WrongUsage

if TYPE_CHECKING:
    from outcomes.protocol import Field, Protocol, Value
    from outcomes.report.documents.clinic_sheet import SheetQuestion


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(template)


def template(
    path: Annotated[
        Path, typer.Argument(metavar="PATH", help="The workbook (.xlsx); with --case, the clinic sheets (.pdf).")
    ],
    register: RegisterPath = DEFAULT_REGISTER,
    protocol: Annotated[
        Path | None, typer.Option("--protocol", help="A protocol file; else the register's own, else the default.")
    ] = None,
    case: Annotated[
        list[str] | None,
        typer.Option("--case", metavar="CASE", help="A page for the next review of this case; repeatable."),
    ] = None,
    as_of: AsOf = None,
) -> None:
    """Write the empty workbook: four sheets to fill in, and one that defines every column; or, for cases, clinic sheets."""
    from outcomes.capture import write_template

    wanted = ".pdf" if case else ".xlsx"
    if path.suffix.lower() != wanted:
        raise WrongUsage(f"{path}: the name must end in {wanted}")
    if case:
        _write_clinic_sheets(path, register, case, as_of_day(as_of))
        typer.echo(f"Wrote {path}: {counted(len(case), 'page')}. Enter each afterwards: outcomes add review CASE")
        return
    rules = protocol_of(register, protocol)
    write_template(path, rules)
    typer.echo(f"Wrote {path} by the protocol {rules.name!r}. Fill in its four sheets, then: outcomes load {path}")


def _write_clinic_sheets(path: Path, register: Path, cases: Sequence[str], as_of: date) -> None:
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


def protocol_of(register: Path, protocol: Path | None) -> Protocol:
    """The protocol of a file, else of the register where there is one, else the default."""
    from outcomes.protocol import default_protocol, read_protocol

    if protocol:
        return read_protocol(protocol)
    if register.exists():
        from outcomes.store import reading

        with reading(register, patience()) as opened:
            return opened.protocol
    return default_protocol()
