"""`outcomes remove`: take out a wrong row, with a reason; the history keeps it."""

from __future__ import annotations

import typer

from outcomes.cli.confirm import Reason, Who, Yes, confirm, now, patience, source
from outcomes.cli.options import DEFAULT_REGISTER, RegisterPath
from outcomes.cli.row_options import AssessorOption, Case, EventOption, ModeOption, ReviewOption, row_address


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(remove)


def remove(
    case: Case,
    reason: Reason,
    review: ReviewOption = None,
    event: EventOption = None,
    assessor: AssessorOption = "",
    mode: ModeOption = "",
    register: RegisterPath = DEFAULT_REGISTER,
    who: Who = "",
    yes: Yes = False,
) -> None:
    """Take out a wrong review or event, or a wrong case with all of its reviews and events. The history keeps it.

    A sheet that still holds the row does not bring it back; only outcomes restore-row does.
    """
    from outcomes.store import code_as_held, remove_row

    case = code_as_held(register, case, patience())
    address = row_address(case, review, event, assessor, mode)
    if address.day is None:
        confirm(f"{case} will be taken out with all of its reviews and events.", case, yes=yes)
    key = remove_row(register, address, source=source(who, reason), at=now(), patience=patience())
    typer.echo(f"{address.sheet} {' '.join(filter(None, key))}: removed. The history keeps it.")
    typer.echo("To bring it back: outcomes restore-row")
