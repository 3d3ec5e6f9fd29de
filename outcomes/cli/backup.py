"""`outcomes backup`: one verified file with the register, its history and its freezes."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from outcomes.cli.confirm import Sealed, now, passphrase, patience
from outcomes.cli.options import DEFAULT_REGISTER, RegisterPath
from outcomes.cli.plurals import counted


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(backup)


def backup(
    path: Annotated[Path, typer.Argument(metavar="PATH", help="Where to put the backup; nothing may be there yet.")],
    register: RegisterPath = DEFAULT_REGISTER,
    sealed: Sealed = False,
) -> None:
    """Write one verified backup file, while others may go on reading. The link file is not in it."""
    from outcomes.store import back_up as write

    done = write(register, path, at=now(), passphrase=passphrase(needed=sealed, again=True), patience=patience())
    freezes = f", {counted(len(done.freezes), 'freeze')}" if done.freezes else ""
    typer.echo(
        f"Backed up {counted(done.cases, 'case')}, {counted(done.changes, 'change')}{freezes} to {path} and verified it "
        f"(digest {done.digest[:12]})."
    )
    typer.echo(
        "Keep it on another machine; it holds health data"
        + ("." if sealed else " and is not encrypted (--sealed encrypts).")
    )
