"""`outcomes freeze`: a data lock that every reporting command can read with --frozen NAME."""

from __future__ import annotations

from typing import Annotated

import typer

from outcomes.cli.confirm import Sealed, Who, now, passphrase, patience, source
from outcomes.cli.options import DEFAULT_REGISTER, RegisterPath


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(freeze)


def freeze(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Letters, digits, - and _.")],
    register: RegisterPath = DEFAULT_REGISTER,
    reason: Annotated[str, typer.Option("--reason", help="What it is for; kept with it.")] = "",
    who: Who = "",
    sealed: Sealed = False,
) -> None:
    """Lock the data as they stand: the same freeze and version give the same tables, byte for byte, today and in a year."""
    from outcomes.store import freeze as lock

    done = lock(
        register,
        name,
        source=source(who, reason),
        at=now(),
        passphrase=passphrase(needed=sealed, again=True),
        patience=patience(),
    )
    typer.echo(f"Froze the register as {done.name} in {done.place} (digest {done.digest12}).")
    typer.echo(f"Read it with: outcomes compare --frozen {done.name} --out DIR")
