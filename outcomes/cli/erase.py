"""`outcomes erase`: a patient's rows and their history are removed for good."""

from __future__ import annotations

from typing import Annotated

import typer

from outcomes.cli.confirm import PASSPHRASE, Reason, Who, Yes, confirm, now, passphrase, patience, source
from outcomes.cli.options import DEFAULT_REGISTER, RegisterPath
from outcomes.cli.plurals import counted


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(erase)


def erase(
    patients: Annotated[
        list[str],
        typer.Argument(metavar="PATIENT", help="Study code of the patient, or of a case of the patient; or several."),
    ],
    reason: Reason,
    register: RegisterPath = DEFAULT_REGISTER,
    who: Who = "",
    yes: Yes = False,
    sealed: Annotated[
        bool,
        typer.Option(
            "--sealed", help=f"Some freezes are encrypted; their passphrase is asked for, or taken from {PASSPHRASE}."
        ),
    ] = False,
) -> None:
    """Remove a patient's rows and history from the register and its freezes. This cannot be undone.

    What stays is that something was erased, when and why. Older backups and the sheets that were loaded are out of reach: delete them.
    """
    from outcomes.store import code_as_held, erase_patients, patients_of_cases

    patients = [code_as_held(register, code, patience()) for code in patients]
    owners = patients_of_cases(register, patients, patience())
    for case, patient in owners.items():
        typer.echo(f"{case} is a case of the patient {patient}.")
    patients = list(dict.fromkeys(owners.get(code, code) for code in patients))
    confirm(f"{', '.join(patients)}: rows and history will be removed for good.", "erase", yes=yes)
    done = erase_patients(
        register,
        patients,
        source=source(who, reason),
        at=now(),
        passphrase=passphrase(needed=sealed),
        patience=patience(),
    )
    typer.echo(f"Erased {counted(done.cases, 'case')} from the register (change {done.change}).")
    for name in done.freezes:
        typer.echo(f"  also from the freeze {name}, which now says so")
    for name in done.copies:
        typer.echo(f"  the safety copy {name} was deleted")
    typer.echo(
        "Out of reach, for you to delete: older backups, the sheets that held the patient, and the link (outcomes link remove)."
    )
