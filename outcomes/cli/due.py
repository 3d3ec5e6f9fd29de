"""`outcomes due`: pedicles to divide, reviews due, overdue and missed, confirmations outstanding."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes import __version__
from outcomes.cli.options import DEFAULT_REGISTER, AsOf, RegisterPath, Sites, Surgeons, as_of_day
from outcomes.cli.output_paths import new_file, written
from outcomes.cli.plurals import counted
from outcomes.errors import WrongUsage

if TYPE_CHECKING:
    from outcomes.findings.schedule import Schedule
    from outcomes.protocol import Protocol

FILES = (".csv", ".ics", ".pdf")


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(due)


def due(
    register: RegisterPath = DEFAULT_REGISTER,
    as_of: AsOf = None,
    within: Annotated[
        int, typer.Option("--within", metavar="DAYS", min=0, help="Reviews that come due within so many days.")
    ] = 14,
    surgeon: Surgeons = None,
    site: Sites = None,
    out: Annotated[
        list[Path] | None,
        typer.Option(
            "--out",
            metavar="FILE",
            help="Write it: .csv, .ics (calendar) or .pdf (a clinic sheet a case); repeatable.",
        ),
    ] = None,
) -> None:
    """List what is due: pedicles not yet divided, reviews due, overdue and missed, confirmations outstanding.

    Study codes only; for the clinic's own eyes.
    """
    from outcomes.cli.confirm import patience
    from outcomes.findings.schedule import schedule
    from outcomes.store import reading

    files = out or []
    for file in files:
        if file.suffix.lower() not in FILES:
            raise WrongUsage(f"--out {file}: the name must end in {' or '.join(FILES)}")
        new_file(file)
    day = as_of_day(as_of)
    only = (("surgeon", tuple(surgeon or ())), ("site", tuple(site or ())))
    with reading(register, patience()) as held:
        protocol = held.protocol
        listed = schedule(held.held(), protocol, day, within=within, only=only)
    _print(listed, protocol)
    for file in files:
        if file.suffix.lower() == ".pdf":
            _write_sheets(listed, register, file)
        else:
            _write(listed, protocol, file)


def _print(listed: Schedule, protocol: Protocol) -> None:
    from rich.console import Console

    from outcomes.report.schedule_tables import schedule_tables
    from outcomes.report.tables.writers.text import as_text

    console = Console(width=None if os.isatty(1) else 120)
    tables = schedule_tables(listed, protocol)
    for table in tables:
        console.print(as_text(table))
    summary = "Nothing is due" if not tables else "As it stands"
    typer.echo(f"{summary} on {listed.as_of.isoformat()}, {counted(listed.cases, 'case')} looked at.")


def _write_sheets(listed: Schedule, register: Path, file: Path) -> None:
    """A clinic sheet for each case with something to do now; a review that was missed is past."""
    from outcomes.cli.clinic_sheets import write_case_sheets

    of_cases = (
        *(each.case for each in listed.pedicles),
        *(each.case for each in listed.with_status("overdue", "due")),
        *(each.case for each in listed.confirmations),
    )
    cases = list(dict.fromkeys(each.case for each in of_cases))
    if not cases:
        typer.echo(f"No case is due, so {file} was not written.")
        return
    write_case_sheets(file, register, cases, listed.as_of)
    typer.echo(f"{counted(len(cases), 'clinic sheet')} in {file}.")


def _write(listed: Schedule, protocol: Protocol, file: Path) -> None:
    software = f"outcomes {__version__}"
    with written(file):
        if file.suffix.lower() == ".ics":
            from outcomes.report.calendar import write_calendar

            number = write_calendar(listed, protocol, file, software=software)
        else:
            from outcomes.report.schedule_tables import schedule_file
            from outcomes.report.tables.writers.csv import as_csv

            table = schedule_file(listed, protocol)
            stamp = f"as of {listed.as_of.isoformat()}; protocol {protocol.fingerprint}; {software}"
            file.write_text(as_csv(table, stamp=stamp), encoding="utf-8-sig", newline="")
            number = len(table.rows)
    typer.echo(f"{counted(number, 'entry', 'entries')} in {file}.")
