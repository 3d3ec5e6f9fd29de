"""`outcomes amend`: correct one value, with a reason, and keep what stood before."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes.cli.confirm import Reason, Who, now, patience, source
from outcomes.cli.options import DEFAULT_REGISTER, AsOf, RegisterPath, as_of_day, day
from outcomes.errors import WrongUsage

if TYPE_CHECKING:
    from outcomes.protocol import Field, Protocol, Value

BLANK = "blank"
SHEETS_WITHOUT_A_DAY = ("reconstructions", "patients")
SHEETS_WITH_A_DAY = ("reviews", "events")


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(amend)


def amend(
    case: Annotated[str, typer.Argument(metavar="CASE", help="Study code of the case.")],
    field: Annotated[str, typer.Argument(metavar="FIELD", help="Field to correct, as the data dictionary names it.")],
    value: Annotated[str, typer.Argument(metavar="VALUE", help=f'What it should be; "{BLANK}" for not recorded.')],
    reason: Reason,
    review: Annotated[str | None, typer.Option("--review", metavar="DATE", help="Day of the review or event.")] = None,
    assessor: Annotated[str, typer.Option("--assessor", help="Which of several reviews that day.")] = "",
    register: RegisterPath = DEFAULT_REGISTER,
    as_of: AsOf = None,
    who: Who = "",
) -> None:
    """Correct one value of a case, its patient, or one of its reviews or events. What stood before is kept."""
    from outcomes.capture import check_amended
    from outcomes.store import Amendment, amend_value, reading

    with reading(register, patience()) as held:
        protocol, rows = held.protocol, held.held()
    on = day(review, "--review")
    meant = _checked(protocol, field, value, on, as_of_day(as_of))
    queries = check_amended(protocol, rows, case, (on, assessor), (field, meant), as_of=as_of_day(as_of))
    change = Amendment(case, field, meant, on, assessor, [(query.query_id, query.says) for query in queries])
    done = amend_value(register, change, source=source(who, reason), at=now(), patience=patience())
    typer.echo(
        f"{done.sheet} {' '.join(done.key)}: {field} was {_shown(done.was)}, is {_shown(done.value)} (change {done.change})."
    )


def _checked(protocol: Protocol, name: str, text: str, on: date | None, as_of: date) -> Value:
    field = _field(protocol, name, SHEETS_WITH_A_DAY if on else SHEETS_WITHOUT_A_DAY)
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
        hint = (
            "it belongs to a review or event: give its day with --review"
            if elsewhere and "reviews" not in sheets
            else "see the data dictionary"
        )
        raise WrongUsage(f'no field "{name}" in {" or ".join(sheets)}; {hint}')
    return fields[0]


def _shown(value: Value) -> str:
    return "not recorded" if value is None else str(value)
