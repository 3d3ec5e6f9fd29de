"""`outcomes export`: the register as plain files that need no special program in thirty years."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from outcomes.cli.options import DEFAULT_REGISTER, Frozen, RegisterPath, opened


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(export)


def export(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="The folder for the files; it is made.")],
    register: RegisterPath = DEFAULT_REGISTER,
    frozen: Frozen = "",
) -> None:
    """Write the rows as CSV with a data dictionary. Rows of single patients: for your own keeping, not for sharing."""
    from outcomes.store import export_plain

    with opened(register, frozen) as held:
        export_plain(held, out)
    typer.echo(f"Wrote the register to {out}. These are rows of single patients: keep them as you keep the register.")
