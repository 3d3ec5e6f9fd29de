"""`outcomes demo`: an invented clinic, through the same door as a user's own sheet."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from outcomes.errors import WrongUsage

CLOSED_ON = date(2026, 6, 30)
WORKBOOK = "invented_clinic.xlsx"


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(demo)


def demo(
    out: Annotated[
        Path, typer.Option("--out", metavar="DIR", help="The folder for the register and the report; it is made.")
    ] = Path("outcomes-demo"),
) -> None:
    """Build the register of an invented clinic, load its workbook and compare. All of its data are invented."""
    from outcomes.cli.compare import processors_to_compare, report_comparison
    from outcomes.cli.load import load_path, say_loaded
    from outcomes.findings import Selection
    from outcomes.protocol import default_protocol
    from outcomes.store import create_register

    register, workbook = out / "demo.duckdb", workbook_path()
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise WrongUsage(f"--out {out} cannot be made: {error.strerror or error}") from error
    typer.echo("An invented clinic: nobody and nothing in these data is real.")
    with processors_to_compare(drawing=True) as elsewhere:
        if not register.exists():
            create_register(register, default_protocol())
        say_loaded(workbook, *load_path(workbook, register, as_of=CLOSED_ON.isoformat(), who="demo"))
        report_comparison((register, ""), Selection(CLOSED_ON), out / "report", elsewhere)
    typer.echo(f"Register: {register} (closing date {CLOSED_ON}; use --as-of {CLOSED_ON} with it)")


def workbook_path() -> Path:
    """The invented clinic's workbook: beside the package in a checkout, inside it after a plain install."""
    package = Path(__file__).parents[1]
    for place in (package.parent / "demo" / WORKBOOK, package / "demo_data" / WORKBOOK):
        if place.is_file():
            return place
    raise WrongUsage("this installation carries no demo workbook; install the program again")
