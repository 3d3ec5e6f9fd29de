"""`outcomes template`: write the workbook to fill in, or clinic sheets to fill in with a pen."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes.cli.confirm import patience
from outcomes.cli.options import DEFAULT_REGISTER, AsOf, RegisterPath, as_of_day
from outcomes.cli.output_paths import written
from outcomes.cli.plurals import counted
from outcomes.errors import WrongUsage

if TYPE_CHECKING:
    from outcomes.protocol import Protocol


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(template)


def template(
    path: Annotated[
        Path, typer.Argument(metavar="PATH", help="The workbook (.xlsx); with --case, the clinic sheets (.pdf).")
    ],
    register: RegisterPath = DEFAULT_REGISTER,
    protocol: Annotated[
        Path | None, typer.Option("--protocol", help="A protocol file; else the register's own, else the default.")
    ] = None,
    case: Annotated[
        list[str] | None,
        typer.Option("--case", metavar="CASE", help="A page for the next review of this case; repeatable."),
    ] = None,
    as_of: AsOf = None,
) -> None:
    """Write the empty workbook: four sheets to fill in, and one that defines every column; or, for cases, clinic sheets."""
    from outcomes.capture import write_template

    wanted = ".pdf" if case else ".xlsx"
    if path.suffix.lower() != wanted:
        raise WrongUsage(f"{path}: the name must end in {wanted}")
    if case:
        from outcomes.cli.clinic_sheets import write_case_sheets

        write_case_sheets(path, register, case, as_of_day(as_of))
        typer.echo(f"Wrote {path}: {counted(len(case), 'page')}. Enter each afterwards: outcomes add review CASE")
        return
    rules = protocol_of(register, protocol)
    with written(path):
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
