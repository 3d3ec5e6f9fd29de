"""`outcomes new`: make an empty register."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from outcomes.cli.options import DEFAULT_REGISTER, RegisterPath


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(new)


def new(
    register: RegisterPath = DEFAULT_REGISTER,
    protocol: Annotated[
        Path | None, typer.Option("--protocol", help="The clinic's own protocol file, laid over the default one.")
    ] = None,
) -> None:
    """Make an empty register; it keeps the protocol it was made with. Refuses to touch a file that is there."""
    from outcomes.protocol import default_protocol, read_protocol
    from outcomes.store import create_register

    rules = read_protocol(protocol) if protocol else default_protocol()
    create_register(register, rules)
    typer.echo(f"Made the register {register} with the protocol {rules.name!r} (fingerprint {rules.fingerprint}).")
    typer.echo(
        "It keeps study codes only. Keep it on an encrypted disk. Next: outcomes template PATH.xlsx, then outcomes load PATH.xlsx"
    )
