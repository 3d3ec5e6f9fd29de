"""`outcomes amend`: correct one value, with a reason, and keep what stood before."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes.cli.confirm import Reason, Who, now, patience, source
from outcomes.cli.options import DEFAULT_REGISTER, AsOf, RegisterPath, as_of_day
from outcomes.cli.row_options import AssessorOption, Case, EventOption, ModeOption, ReviewOption, row_address
from outcomes.errors import WrongUsage

if TYPE_CHECKING:
    from outcomes.protocol import Field, Protocol, Value

BLANK = "blank"


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(amend)


def amend(
    case: Case,
    field: Annotated[str, typer.Argument(metavar="FIELD", help="Field to correct, as the data dictionary names it.")],
    value: Annotated[str, typer.Argument(metavar="VALUE", help=f'What it should be; "{BLANK}" for not recorded.')],
    reason: Reason,
    review: ReviewOption = None,
    event: EventOption = None,
    assessor: AssessorOption = "",
    mode: ModeOption = "",
    register: RegisterPath = DEFAULT_REGISTER,
    as_of: AsOf = None,
    who: Who = "",
) -> None:
    """Correct one value of a case, its patient, or one of its reviews or events: a date, or the case of a review, too.

    What stood before is kept.
    """
    from outcomes.capture import check_amended
    from outcomes.store import Amendment, amend_value, code_as_held, reading

    case = code_as_held(register, case, patience())
    value = code_as_held(register, value, patience()) if field == "case_id" else value
    address = row_address(case, review, event, assessor, mode)
    with reading(register, patience()) as opened:
        protocol, rows = opened.protocol, opened.held()
    meant = _checked(protocol, field, value, address.sheets, as_of_day(as_of))
    queries = check_amended(protocol, rows, address, (field, meant), as_of=as_of_day(as_of))
    change = Amendment(
        case,
        field,
        meant,
        address.day,
        assessor,
        [(query.query_id, query.says) for query in queries],
        mode,
        address.kind,
    )
    done = amend_value(register, change, source=source(who, reason), at=now(), patience=patience())
    typer.echo(
        f"{done.sheet} {' '.join(done.key)}: {field} was {_shown(done.was)}, is {_shown(done.value)} (change {done.change})."
    )


def _checked(protocol: Protocol, name: str, text: str, sheets: tuple[str, ...], as_of: date) -> Value:
    field = _field(protocol, name, sheets)
    if text == BLANK:
        if field.required:
            raise WrongUsage(f"{name} must be recorded; it cannot be made blank")
        return None
    read = field.read(text, as_of=as_of)
    if read.problem:
        raise WrongUsage(f"{name} {read.problem}")
    return read.value


def _field(protocol: Protocol, name: str, sheets: tuple[str, ...]) -> Field:
    fields = [field for sheet in sheets for field in protocol.sheet(sheet) if field.id == name]
    if not fields:
        elsewhere = any(field.id == name for field in protocol.fields)
        named = protocol.synonyms.fields_headed(name)
        meant = [field.id for sheet in sheets for field in protocol.sheet(sheet) if field.id in named]
        if elsewhere and "reviews" not in sheets:
            hint = "it belongs to a review or event: give its day with --review, or --event with its kind and day"
        else:
            hint = f"did you mean {' or '.join(meant)}?" if meant else "see the data dictionary"
        raise WrongUsage(f'no field "{name}" in {" or ".join(sheets)}; {hint}')
    return fields[0]


def _shown(value: Value) -> str:
    return "not recorded" if value is None else str(value)
