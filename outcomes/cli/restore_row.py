"""`outcomes restore-row`: bring back a row that was removed."""

from __future__ import annotations

import typer

from outcomes.cli.confirm import Reason, Who, now, patience, source
from outcomes.cli.options import DEFAULT_REGISTER, RegisterPath
from outcomes.cli.row_options import AssessorOption, Case, EventOption, ModeOption, ReviewOption, row_address


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("restore-row")(restore_row)


def restore_row(
    case: Case,
    reason: Reason,
    review: ReviewOption = None,
    event: EventOption = None,
    assessor: AssessorOption = "",
    mode: ModeOption = "",
    register: RegisterPath = DEFAULT_REGISTER,
    who: Who = "",
) -> None:
    """Bring back a case, review or event that was removed, as it stood."""
    from outcomes.store import code_as_held
    from outcomes.store import restore_row as bring_back

    case = code_as_held(register, case, patience())
    address = row_address(case, review, event, assessor, mode)
    key = bring_back(register, address, source=source(who, reason), at=now(), patience=patience())
    typer.echo(f"{address.sheet} {' '.join(filter(None, key))}: brought back as it stood.")
