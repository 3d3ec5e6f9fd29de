"""`outcomes withdraw`: a patient withdraws, and is left out of every later figure."""

from __future__ import annotations

from typing import Annotated

import typer

from outcomes.cli.confirm import Reason, Who, Yes, confirm, now, patience, source
from outcomes.cli.options import DEFAULT_REGISTER, RegisterPath
from outcomes.cli.plurals import counted


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(withdraw)


def withdraw(
    patient: Annotated[str, typer.Argument(metavar="PATIENT", help="Study code of the patient.")],
    reason: Reason,
    register: RegisterPath = DEFAULT_REGISTER,
    who: Who = "",
    yes: Yes = False,
) -> None:
    """Leave a patient out of every later figure; the flow still counts that somebody withdrew. The rows are kept."""
    from outcomes.store import code_as_held, withdraw_patient

    patient = code_as_held(register, patient, patience())
    confirm(f"{patient} will be left out of every later figure.", patient, yes=yes)
    cases = withdraw_patient(register, patient, source=source(who, reason), at=now(), patience=patience())
    typer.echo(f"{patient} withdrew: {counted(len(cases), 'case')} left out from now on.")
    typer.echo("The rows are still in the register. To remove them for good: outcomes erase")
