"""`outcomes template`: write the workbook to fill in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes.cli.confirm import patience
from outcomes.cli.options import DEFAULT_REGISTER, RegisterPath
from outcomes.errors import WrongUsage

if TYPE_CHECKING:
    from outcomes.protocol import Protocol


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(template)


def template(
    path: Annotated[Path, typer.Argument(metavar="PATH.xlsx", help="Where to write the workbook.")],
    register: RegisterPath = DEFAULT_REGISTER,
    protocol: Annotated[
        Path | None, typer.Option("--protocol", help="A protocol file; else the register's own, else the default.")
    ] = None,
) -> None:
    """Write the empty workbook: four sheets to fill in, and one that defines every column."""
    from outcomes.capture import write_template

    if path.suffix.lower() != ".xlsx":
        raise WrongUsage(f"{path}: the workbook's name must end in .xlsx")
    rules = protocol_of(register, protocol)
    write_template(path, rules)
    typer.echo(f"Wrote {path} by the protocol {rules.name!r}. Fill in its four sheets, then: outcomes load {path}")


def protocol_of(register: Path, protocol: Path | None) -> Protocol:
    """The protocol of a file, else of the register where there is one, else the default."""
    from outcomes.protocol import default_protocol, read_protocol

    if protocol:
        return read_protocol(protocol)
    if register.exists():
        from outcomes.store import reading

        with reading(register, patience()) as opened:
            return opened.protocol
    return default_protocol()
