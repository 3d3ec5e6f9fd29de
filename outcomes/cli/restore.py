"""`outcomes restore`: bring a register back from a backup, with its history."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from outcomes.cli.confirm import PASSPHRASE, passphrase, patience
from outcomes.cli.options import DEFAULT_REGISTER, RegisterPath
from outcomes.cli.plurals import counted


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(restore)


def restore(
    path: Annotated[Path, typer.Argument(metavar="PATH", help="The backup.")],
    register: RegisterPath = DEFAULT_REGISTER,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace the register that is there.")] = False,
    sealed: Annotated[
        bool,
        typer.Option(
            "--sealed", help=f"The backup is encrypted; its passphrase is asked for, or taken from {PASSPHRASE}."
        ),
    ] = False,
) -> None:
    """Check a backup wholly, then put its register, history and freezes back. Never overwrites without being told."""
    from outcomes.store import restore as bring_back

    done = bring_back(path, register, overwrite=overwrite, passphrase=passphrase(needed=sealed), patience=patience())
    typer.echo(
        f"Restored {counted(done.cases, 'case')} with {counted(done.changes, 'change')} to {register}, "
        f"as backed up {done.made_at} (digest {done.digest[:12]})."
    )
    if done.earlier:
        typer.echo(f"What was there before is kept as {done.earlier} beside it.")
